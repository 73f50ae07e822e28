"""How much charge? What gauges and thermometers do from empty to overfull, and where to stop."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from sweatline.answers import Answer, Q, Range
from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import along_the_charge
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled
from sweatline.machine.charge_curve import ChargeEvent, events, sweep_charge
from sweatline.safety.cautions import Work

Ended = Literal[
    "no balance with more charge than the most shown",
    "no balance with less charge than the least shown",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRanges(Answer):
    """What gauges may show at one charge."""

    charge: Annotated[float, Q("mass")]
    bands: Mapping[str, Range]
    """Likely ranges (9 in 10); keys as in the curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeAnswer(BuildAnswer, JobHead):
    """`sweatline charge-curve --json`: from nearly empty to overfull."""

    WORK: ClassVar[Work] = "charging"
    stop: SteadyState
    """Where to stop: superheat at the target."""
    stop_bands: Mapping[str, Range]
    """Likely ranges (9 in 10) of what is read there; keys as in `stop`."""
    curve: tuple[SteadyState, ...]
    """Rising charge."""
    ranges: tuple[ChargeRanges, ...]
    """At some of the charges of the curve."""
    events: tuple[ChargeEvent, ...]
    draws: int
    """Trial runs behind the ranges; 0 without them."""
    complete: bool
    """False when it was interrupted or ended early."""
    ended: tuple[Ended, ...]
    """Why a direction ended early."""

    @property
    def interrupted(self) -> bool:
        """Whether a person ended it."""
        return not self.complete and not self.ended


def charge_curve(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    low: float = 0.35,
    high: float = 1.6,
    step: float = 0.025,
    cells: int = 24,
    draws: int = 32,
    progress: Callable[[float], None] | None = None,
) -> ChargeAnswer:
    """Sweep the charge of one choice of parts. An interrupt keeps what has been found.

    Ranges are calculated at some of the charges, for the machine of every trial run. The curve has
    three times the usual cells: with few, the coldest surface steps as dry-out moves between them.

    Parameters
    ----------
    low, high, step : float
        Least and most charge and the largest step, over the charge to stop at. [-]
    """
    parts = {"compressor": compressor, "capillary": capillary}
    plain = build_for(job, refrigerant=refrigerant, length=length, **parts)
    # The tube is that of the other answers; only the coils are looked at more finely.
    fine = build_for(job, refrigerant=refrigerant, length=plain.length, cells=cells, **parts)
    build = replace(fine, cut=plain.cut, designed=None)
    target = filled(superheat=job.targets.superheat)
    stop = build.solve(target, near=plain.designed)
    curve = [stop]
    interrupted = False
    try:
        for b in sweep_charge(
            build.refrigerant.table,
            build.line,
            build.machine,
            stop,
            low=low,
            high=high,
            step=step,
            progress=part_of_progress(progress, 0.0, 0.4 if draws else 1.0),
        ):
            curve.append(b)
    except KeyboardInterrupt:
        interrupted = True
    curve.sort(key=lambda b: b.charge)
    ended: list[Ended] = []
    if not interrupted and curve[-1].charge < (high - 2 * step) * stop.charge:
        ended.append("no balance with more charge than the most shown")
    if not interrupted and curve[0].charge > (low + 2 * step) * stop.charge:
        ended.append("no balance with less charge than the least shown")
    limit = job.limits.high_side_pressure
    found = events(
        curve,
        superheat=job.targets.superheat,
        high_limit=limit.value if limit is not None else None,
    )
    spread = None
    if draws and not interrupted:
        spread = along_the_charge(
            plain, target, stop, curve, found, draws, part_of_progress(progress, 0.4, 1.0)
        )
    if spread is not None:
        found = [replace(e, band=b) for e, b in zip(found, spread.events, strict=True)]
    return ChargeAnswer(
        build=build,
        stop=stop,
        stop_bands=spread.stop if spread is not None else {},
        curve=tuple(curve),
        ranges=tuple(ChargeRanges(charge=b.charge, bands=r) for b, r in spread.ranges)
        if spread is not None
        else (),
        events=tuple(found),
        draws=spread.draws if spread is not None else 0,
        complete=not interrupted and not ended,
        ended=tuple(ended),
    )
