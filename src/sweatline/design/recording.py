"""From answers to records: what every command shows and what `--json` prints come from here."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import sweatline
from sweatline.design.records import (
    BalanceRecord,
    CandidateRecord,
    CutRecord,
    LostRecord,
    MatchRecord,
    MeteringRecord,
    RefrigerantRecord,
    RefrigerantsRecord,
    VerdictRecord,
)
from sweatline.job.summary import summary_of
from sweatline.safety.cautions import cautions_of

if TYPE_CHECKING:
    from sweatline.design.match import Candidate, Lost
    from sweatline.design.questions import BalanceAnswer, MeteringAnswer
    from sweatline.design.verdicts import Verdict
    from sweatline.job.model import Job

__all__ = [
    "UNITS",
    "balance_record",
    "finite",
    "head",
    "match_record",
    "metering_record",
    "refrigerants_record",
    "verdict_record",
]

# SI unit of each kind of quantity that a verdict compares.
UNITS: Final[Mapping[str, str]] = {
    "gauge_pressure": "Pa",
    "pressure_difference": "Pa",
    "temperature": "K",
    "temperature_difference": "K",
    "power": "W",
    "fraction": "1",
    "mass": "kg",
    "length": "m",
    "mass_flow": "kg/s",
    "concentration": "kg/m3",
    "voltage": "V",
    "frequency": "Hz",
    "none": "",
}


def finite(value: float | None) -> float | None:
    """Value if it is a number; JSON has no infinity."""
    return float(value) if value is not None and math.isfinite(value) else None


def head(command: str) -> dict[str, str]:
    """What every record begins with."""
    return {"command": command, "version": sweatline.__version__}


def verdict_record(v: Verdict) -> VerdictRecord:
    """One verdict, with what is behind its doubt."""
    return VerdictRecord(
        key=v.key,
        fault=v.fault,
        state=v.state,
        number=finite(v.number),
        limit=finite(v.limit),
        unit=UNITS[v.kind],
        kind=v.kind,
        probability=v.probability,
        source=v.source,
        sentence=v.sentence,
        safety=v.safety,
        final=v.final,
        doubt=v.doubt,
    )


def balance_record(answer: BalanceAnswer, *, charge_given: bool) -> BalanceRecord:
    """Record of what one machine settles at."""
    build = answer.build
    return BalanceRecord(
        **head("balance"),
        job=summary_of(build.job),
        cautions=cautions_of([build.refrigerant.name], work={"planning"}),
        parts=build.parts,
        charged_to="charge" if charge_given else "superheat",
        steady=answer.balance,
        bands=dict(answer.bands),
        place_bands_kg=dict(answer.places),
        draws=answer.draws,
        unsolved=answer.unsolved,
        verdicts=tuple(verdict_record(v) for v in answer.verdicts),
        matters=answer.shares.get("water_kg_per_s", ()),
        shares=answer.shares,
    )


def _candidate(rank: int, c: Candidate) -> CandidateRecord:
    return CandidateRecord(
        rank=rank,
        parts=c.build.parts,
        steady=c.balance,
        chance_no_fault=c.chance,
        sure_water_kg_per_s=c.sure_water,
        stopped=c.stopped,
        word=c.word,
        verdicts=tuple(verdict_record(v) for v in c.verdicts),
        bands=dict(c.bands),
        draws=c.draws,
        unsolved=c.unsolved,
        matters=c.matters,
    )


def match_record(job: Job, found: Sequence[Candidate | Lost], *, complete: bool) -> MatchRecord:
    """Record of the combinations that are finished."""
    from sweatline.design.match import Lost, candidates, ranked

    return MatchRecord(
        **head("match"),
        job=summary_of(job),
        cautions=cautions_of(job.refrigerants, work={"planning"}),
        combinations=len(candidates(job)),
        finished=len(found),
        complete=complete,
        ranked=tuple(_candidate(i, c) for i, c in enumerate(ranked(list(found)), 1)),
        lost=tuple(
            LostRecord(
                compressor=c.compressor,
                refrigerant=c.refrigerant,
                capillary=c.capillary,
                reason=c.reason,
            )
            for c in found
            if isinstance(c, Lost)
        ),
    )


def metering_record(answer: MeteringAnswer) -> MeteringRecord:
    """Record of the capillary length for every bore."""
    build = answer.build
    fitted = {c.name: c.fitted for c in build.job.capillaries}
    cuts = []
    for name, cut, shelf in answer.cuts:
        passes = cut.length > 0.0
        cuts.append(
            CutRecord(
                stock=name,
                fitted=fitted[name],
                bore_m=cut.bore,
                on_the_shelf_m=shelf,
                length_m=cut.length if passes else None,
                start_length_m=cut.start_length if passes else None,
                shortest_m=cut.shortest if passes else None,
                flow_change_per_10_mm=finite(cut.flow_per_10mm),
                flow_change_per_20_um_bore=finite(cut.flow_per_bore_step),
                length_change_per_20_um_bore_m=finite(cut.length_per_bore_step),
                trim_step_m=finite(cut.trim_step),
                choked=bool(cut.choked),
                liquid_velocity_m_per_s=finite(cut.velocity),
                enough=shelf >= cut.start_length if passes and shelf is not None else None,
                notes=cut.notes,
            )
        )
    return MeteringRecord(
        **head("metering"),
        job=summary_of(build.job),
        cautions=cautions_of([build.refrigerant.name], work={"planning"}),
        compressor=build.compressor.name,
        refrigerant=build.refrigerant.name,
        steady=answer.balance,
        bands=dict(answer.bands),
        draws=answer.draws,
        cuts=tuple(cuts),
    )


def refrigerants_record() -> RefrigerantsRecord:
    """Record of all refrigerants with safety data."""
    from importlib.resources import files

    from sweatline.refrigerant.safety_data import known_names, safety_data

    # Looked for by name: importing the reader of tables would bring the compiler along.
    tables = files("sweatline.refrigerant") / "tables"
    found: list[RefrigerantRecord] = []
    for name in known_names():
        d = safety_data(name)
        found.append(
            RefrigerantRecord(
                name=name,
                family=d.family,
                safety_class=d.safety_class,
                tabulated=(tables / f"{name}.npz").is_file(),
                boiling_point_K=d.boiling_point,
                lower_flammable_limit_kg_per_m3=d.lfl,
                concentration_limit_kg_per_m3=d.rcl,
                gwp_ar4=d.gwp_ar4,
                gwp_ar5=d.gwp_ar5,
                gwp_ar6=d.gwp_ar6,
                odp=d.odp,
                oils=d.oils,
                oils_limited=d.oils_limited,
                charge_as=d.charge_as,
                status={key: p.status for key, p in d.provenance.items()},
            )
        )
    return RefrigerantsRecord(**head("refrigerants"), refrigerants=tuple(found))
