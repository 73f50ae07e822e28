"""The record of a calibration, and of what it does to one rebuild."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from sweatline.assembly.calibration_records import (
    CalibrationRecord,
    NumberFitRecord,
    ReadingFitRecord,
    RebuildRecord,
)
from sweatline.design.recording import finite, head
from sweatline.job.summary import summary_of
from sweatline.safety.cautions import cautions_of

if TYPE_CHECKING:
    from sweatline.answers import Range
    from sweatline.assembly.build import Build
    from sweatline.assembly.calibration import Calibration, NumberFit
    from sweatline.job.model import Job

__all__ = ["calibration_record"]

_UNITS: Final[Mapping[str, str]] = {
    "suction_pressure": "Pa",
    "head_pressure": "Pa",
    "power": "W",
    "current": "A",
    "water": "kg/s",
}


def _number(n: NumberFit) -> NumberFitRecord:
    return NumberFitRecord(
        name=n.name,
        origin=n.origin,
        before=n.before,
        before_sd=n.before_sd,
        after=n.after,
        after_sd=n.after_sd,
        moved=n.moved,
        left=n.left,
        stays=n.stays,
    )


def calibration_record(
    job: Job,
    found: Calibration,
    *,
    rebuild: tuple[Build, Mapping[str, Range], Mapping[str, Range], int] | None = None,
) -> CalibrationRecord:
    """Record of a calibration.

    Parameters
    ----------
    job : Job
        The calibrated one.
    rebuild : tuple, optional
        A rebuild, its bands without and with the calibration, and the draws behind them.
    """
    slope, added = found.charge_terms
    return CalibrationRecord(
        **head("calibrate"),
        job=summary_of(job),
        cautions=cautions_of([found.refrigerant], work={"planning"}),
        compressor=found.compressor,
        refrigerant=found.refrigerant,
        capillary=found.capillary,
        readings=tuple(
            ReadingFitRecord(
                run=r.run,
                key=r.key,
                unit=_UNITS.get(r.key, "K"),
                measured=r.measured,
                sd=r.sd,
                origin=r.origin,
                before=r.before,
                after=finite(r.after),
                expected=finite(r.expected),
                expected_sd=finite(r.expected_sd),
                off=finite(r.surprise),
                set_aside=r.set_aside,
            )
            for r in found.readings
        ),
        numbers=tuple(_number(n) for n in found.numbers),
        rooms=tuple(_number(n) for n in found.rooms),
        ties=found.ties,
        independent=found.things,
        coil_contents_multiplier=slope.after,
        coil_contents_multiplier_sd=slope.after_sd,
        liquid_left_out_m3=added.after,
        liquid_left_out_sd_m3=added.after_sd,
        settled=found.settled,
        notes=found.notes,
        rebuild=RebuildRecord(
            parts=rebuild[0].parts,
            before=dict(rebuild[1]),
            after=dict(rebuild[2]),
            draws=rebuild[3],
        )
        if rebuild is not None
        else None,
    )
