"""What a charging needs before anything is read: the build, its best values, its charge prior.

Sampled machines are carried along their charge, and what they show there is what readings will be
held against. Sampling takes seconds, so it is kept; see :mod:`sweatline.assembly.kept`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build, build_for
from sweatline.assembly.kept import cached, kept_name
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.charging.dosing import LOGARITHMIC, READINGS, ChargePrior
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import judge, judged
from sweatline.diagnosis.atlas import atlas_of
from sweatline.diagnosis.weighing import Weighing
from sweatline.errors import SolveError
from sweatline.job.model import Job
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.refrigerant.table import Table, saturation, saturation_transport
from sweatline.uncertainty.sensitivity import normal_samples

FloatArray = NDArray[np.float64]

# Of the charge that fills a machine; close where superheat and subcooling come and go.
_SHARES: Final = np.array(
    [0.45, 0.55, 0.64, 0.72, 0.79, 0.85, 0.90, 0.94, 0.97, 1.0, 1.03, 1.06, 1.10, 1.15, 1.22, 1.35]
)
_FEWEST: Final = 24  # samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A machine about to be charged, and what is known of it before anything is read."""

    build: Build
    full: SteadyState  # charged right, by the job's best values
    barred: str  # why it must not be charged at all; empty when it may be
    foreseen: tuple[Verdict, ...]  # what will be wrong with it when it is charged right
    prior: ChargePrior | None  # None where it is barred
    weighing: Weighing | None  # of what may be wrong with it; None where it is barred


def prepare(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """Everything that is worked out once, before the first reading.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    return prepare_build(build, well_charged(build), draws=draws, progress=progress)


def well_charged(build: Build) -> SteadyState:
    """The machine charged right, by the job's best values.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    return build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)


def prepare_build(
    build: Build,
    full: SteadyState,
    *,
    simulated: bool = False,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """The same of parts already put together.

    Parameters
    ----------
    full : SteadyState
        Of `well_charged`.
    simulated : bool
        The machine is a simulated one, which may be charged whatever it would do to a real one.

    Raises
    ------
    SolveError
        Hardly any of the machines that this one may be has a balance.
    """
    found = judge(build, full, None, (), judged(build, ()))
    failing = tuple(v for v in found if v.state == "fails")
    barred = "" if simulated else next((f"{v.fault}: {v.sentence}" for v in failing if v.final), "")
    prior, weighing = None, None
    if not barred:

        def made() -> Mapping[str, FloatArray]:
            return asdict(charge_prior(build, full, draws=draws, progress=progress))

        prior = ChargePrior(**cached(cache_key(build, draws), made))
        weighing = Weighing(atlas_of(build), charged=False)
    return Prepared(
        build=build, full=full, barred=barred, foreseen=failing, prior=prior, weighing=weighing
    )


def charge_prior(
    build: Build,
    full: SteadyState,
    *,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> ChargePrior:
    """What sampled machines show at shares of the charge that fills each.

    Raises
    ------
    SolveError
        Hardly any of the sampled machines has a balance.
    """
    table = build.refrigerant.table
    target = filled(superheat=build.job.targets.superheat)
    middle = int(np.flatnonzero(_SHARES == 1.0)[0])
    readings, best = [], []
    for z in normal_samples(len(build.parameters), draws):
        if progress is not None:
            progress()
        machine, line = build.moved(build.by_key(z))
        try:
            first = solve(table, line, machine, target, near=full, tolerance=TRIAL_TOLERANCE)
        except SolveError:
            continue
        curve = np.full((_SHARES.size, len(READINGS)), np.nan)
        curve[middle] = _curve_point(table, first)
        # From the full machine outwards, so that each state is next to one already known.
        for way in (range(middle - 1, -1, -1), range(middle + 1, _SHARES.size)):
            near, at, rate = first, 1.0, np.zeros(4)
            for i in way:
                step = float(_SHARES[i] - at)
                start = np.array(near.unknowns)
                try:
                    found = solve(
                        table,
                        line,
                        machine,
                        fixed_charge(float(_SHARES[i]) * first.charge),
                        near=near,
                        guess=start + step * rate,
                        tolerance=TRIAL_TOLERANCE,
                    )
                except SolveError:
                    break
                rate = (np.array(found.unknowns) - start) / step
                curve[i] = _curve_point(table, found)
                near, at = found, float(_SHARES[i])
        readings.append(curve)
        best.append(first.charge)
    if len(best) < _FEWEST:
        raise SolveError(
            condition="of the machines that this one may be, hardly any fills its evaporator",
            tried=(f"{draws} sampled machines",),
        )
    return ChargePrior(shares=_SHARES.copy(), readings=np.array(readings), best=np.array(best))


def _curve_point(table: Table, b: SteadyState) -> list[float]:
    """Readings of a balance; superheat and subcooling go on below zero as what is missing."""
    _tb, _td, _hl, hv, *_ = saturation(table, b.suction_pressure)
    superheat = b.superheat
    if b.suction_quality < 1.0:
        evaporation = hv - saturation(table, b.suction_pressure)[2]
        capacity = saturation_transport(table, b.suction_pressure)[5]
        superheat = (b.suction_quality - 1.0) * evaporation / capacity
    subcooling = b.subcooling
    if b.liquid_quality > 0.0:
        _tb, _td, hl, hv, *_ = saturation(table, b.liquid_pressure)
        capacity = saturation_transport(table, b.liquid_pressure)[4]
        subcooling = -b.liquid_quality * (hv - hl) / capacity
    derived = {
        "superheat": superheat,
        "subcooling": subcooling,
        "coldest surface": b.coil_temperature,
    }
    found = [
        float(derived[name] if name in derived else getattr(b, CHANNELS[name].state))
        for name in READINGS
    ]
    for j in LOGARITHMIC:
        found[j] = float(np.log(found[j]))
    return found


def cache_key(build: Build, draws: int) -> str:
    """Name of what is known of one machine: another for any other job, parts or program."""
    return kept_name(build, draws)
