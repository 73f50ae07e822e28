"""What is known of charging a machine before anything is read: the charge prior.

Sampled machines are carried along their charge, and what they show there is what readings will be
held against. Readings that settle are put into the same form here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.charging.dosing import LOGARITHMIC, READINGS, ChargePrior
from sweatline.charging.settling import Character, Outlook
from sweatline.errors import SolveError
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.refrigerant.table import (
    Table,
    saturation,
    saturation_slopes,
    saturation_transport,
)
from sweatline.uncertainty.sensitivity import normal_samples

FloatArray = NDArray[np.float64]

# Of the charge that fills a machine; close where superheat and subcooling come and go.
_SHARES: Final = np.array(
    [0.45, 0.55, 0.64, 0.72, 0.79, 0.85, 0.90, 0.94, 0.97, 1.0, 1.03, 1.06, 1.10, 1.15, 1.22, 1.35]
)
_FEWEST: Final = 24  # samples

# Channels that the dosing weighs, each with an instrument and a systematic error of its own.
INSTRUMENTS: Final = (
    "suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas", "watts",
)  # fmt: skip
# How every channel that is followed settles.
CHARACTERS: Final[Mapping[str, Character]] = {
    c.name: Character(noise=c.noise, span=c.span, tolerance=c.tolerance)
    for c in CHANNELS.values()
    if c.settles
}


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


def settled_readings(
    table: Table, outlooks: Mapping[str, Outlook], *, errors: Mapping[str, float] | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Foretold settled readings in the order and form of the dosing, and their errors.

    Parameters
    ----------
    errors : mapping of str to float, optional
        Standard deviation of each channel's instrument. [Pa, K, W] By default that of its channel.

    Returns
    -------
    values : (7,) array
        NaN where nothing was read.
    fresh : (7,) array
        Standard deviations of what has not settled yet.
    systematic : (7, 6) array
        What one standard deviation of each instrument's own error does to every value, in the
        order of `INSTRUMENTS`.
    """
    middle = {name: o.settled for name, o in outlooks.items()}
    width = {name: (o.high - o.low) / 3.29 for name, o in outlooks.items()}
    nan = float("nan")
    ps, ps_sd = middle["suction gauge"], width["suction gauge"]
    pd, pd_sd = middle["head gauge"], width["head gauge"]
    watts = middle.get("watts", nan)
    dew, bubble = saturation(table, ps)[1], saturation(table, pd)[0]
    by_ps, by_pd = saturation_slopes(table, ps)[1], saturation_slopes(table, pd)[0]
    values = np.array(
        [
            np.log(ps),
            np.log(pd),
            max(middle["suction gas"] - dew, 0.0),
            np.maximum(bubble - middle.get("liquid line", nan), 0.0),
            np.log(watts),
            middle.get("discharge gas", nan),
            np.nan,
        ]
    )
    fresh = np.array(
        [
            ps_sd / ps,
            pd_sd / pd,
            np.hypot(width["suction gas"], by_ps * ps_sd),
            np.hypot(width.get("liquid line", 0.0), by_pd * pd_sd),
            width.get("watts", 0.0) / watts,
            width.get("discharge gas", 0.0),
            0.0,
        ]
    )
    sd = {name: CHANNELS[name].sd for name in INSTRUMENTS}
    sd["watts"] *= watts
    sd.update(errors or {})
    systematic = np.zeros((len(READINGS), len(INSTRUMENTS)))
    systematic[0, 0] = sd["suction gauge"] / ps
    systematic[1, 1] = sd["head gauge"] / pd
    # A gauge that reads high makes the superheat look small and the subcooling large.
    systematic[2, (0, 2)] = -by_ps * sd["suction gauge"], sd["suction gas"]
    systematic[3, (1, 3)] = by_pd * sd["head gauge"], sd["liquid line"]
    systematic[5, 4] = sd["discharge gas"]
    systematic[4, 5] = sd["watts"] / watts
    return values, fresh, systematic
