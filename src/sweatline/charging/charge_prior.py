"""What is known of charging a machine before anything is read: its readings along the charge.

Drawn machines are carried along their charge, and what they show there is what readings will be
held against. Readings that settle are put into the same form here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.charging.dosing import CHANNELS, ChargePrior
from sweatline.charging.settling import Character
from sweatline.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sweatline.assembly.build import Build
    from sweatline.charging.settling import Outlook
    from sweatline.machine.balance import SteadyState
    from sweatline.refrigerant.table import Table

__all__ = [
    "CHARACTERS",
    "GAUGE_SD",
    "THERMOMETER_SD",
    "WATTS_SD",
    "charge_prior",
    "settled_readings",
]

FloatArray = NDArray[np.float64]

# Standard deviations of what a careful person reads: gauges of class 1.6 on their usual scales,
# clamp thermometers, a plug-in watt-meter (common practice).
GAUGE_SD: Final = {"suction": 4e3, "head": 10e3}  # Pa
THERMOMETER_SD: Final = 0.5  # K
WATTS_SD: Final = 0.01  # relative
# Of the charge that fills a machine; close where superheat and subcooling come and go.
_SHARES: Final = np.array(
    [0.45, 0.55, 0.64, 0.72, 0.79, 0.85, 0.90, 0.94, 0.97, 1.0, 1.03, 1.06, 1.10, 1.15, 1.22, 1.35]
)
_FEWEST: Final = 24  # draws


def charge_prior(
    build: Build, full: SteadyState, *, draws: int = 128, progress: Callable[[], None] | None = None
) -> ChargePrior:
    """What drawn machines show at shares of the charge that fills each.

    Raises
    ------
    SolveError
        Hardly any of the drawn machines has a balance.
    """
    from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
    from sweatline.machine.balance import filled, fixed_charge, solve
    from sweatline.uncertainty.sampling import normal_samples

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
        curve = np.full((_SHARES.size, len(CHANNELS)), np.nan)
        curve[middle] = _channels(table, first)
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
                curve[i] = _channels(table, found)
                near, at = found, float(_SHARES[i])
        readings.append(curve)
        best.append(first.charge)
    if len(best) < _FEWEST:
        raise SolveError(
            condition="of the machines that this one may be, hardly any fills its evaporator",
            tried=(f"{draws} drawn machines",),
        )
    return ChargePrior(shares=_SHARES.copy(), readings=np.array(readings), best=np.array(best))


def _channels(table: Table, b: SteadyState) -> list[float]:
    """Readings of a balance; superheat and subcooling go on below zero as what is missing."""
    from sweatline.refrigerant.table import saturation, saturation_transport

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
    logs = np.log([b.suction_pressure, b.discharge_pressure, b.total_power])
    return [
        float(logs[0]),
        float(logs[1]),
        superheat,
        subcooling,
        float(logs[2]),
        b.discharge_temperature,
        b.coil_temperature,
    ]


CHARACTERS: Final = {
    "suction gauge": Character(noise=1.5e3, span=4e4, tolerance=3e3),
    "head gauge": Character(noise=4e3, span=1e5, tolerance=8e3),
    "suction gas": Character(noise=0.15, span=5.0, tolerance=0.5),
    "liquid line": Character(noise=0.15, span=4.0, tolerance=0.5),
    "discharge gas": Character(noise=0.3, span=12.0, tolerance=1.5),
    "watts": Character(noise=1.0, span=20.0, tolerance=2.0),
}


def settled_readings(
    table: Table, outlooks: Mapping[str, Outlook], *, errors: Mapping[str, float] | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Foretold settled readings in the order and form of the dosing, and their errors.

    Parameters
    ----------
    errors : mapping of str to float, optional
        Standard deviation of each channel's instrument. [Pa, K, W] By default those of this module.

    Returns
    -------
    values : (7,) array
        NaN where nothing was read.
    fresh : (7,) array
        Standard deviations of what has not settled yet.
    standing : (7, 6) array
        What one standard deviation of each instrument's own error does to every value: suction
        gauge, head gauge, the thermometers on suction gas, liquid line and discharge gas,
        watt-meter.
    """
    from sweatline.refrigerant.table import saturation, saturation_slopes

    o = {k: (v.settled, (v.high - v.low) / 3.29) for k, v in outlooks.items()}
    nothing = (float("nan"), 0.0)
    ps, ps_sd = o["suction gauge"]
    pd, pd_sd = o["head gauge"]
    suction, suction_sd = o["suction gas"]
    liquid, liquid_sd = o.get("liquid line", nothing)
    watts, watts_sd = o.get("watts", nothing)
    discharge, discharge_sd = o.get("discharge gas", nothing)
    dew = saturation(table, ps)[1]
    bubble = saturation(table, pd)[0]
    by_ps = saturation_slopes(table, ps)[1]
    by_pd = saturation_slopes(table, pd)[0]
    values = np.array(
        [
            np.log(ps),
            np.log(pd),
            max(suction - dew, 0.0),
            np.maximum(bubble - liquid, 0.0),
            np.log(watts),
            discharge,
            np.nan,
        ]
    )
    fresh = np.array(
        [
            ps_sd / ps,
            pd_sd / pd,
            np.hypot(suction_sd, by_ps * ps_sd),
            np.hypot(liquid_sd, by_pd * pd_sd),
            watts_sd / watts,
            discharge_sd,
            0.0,
        ]
    )
    sd = {} if errors is None else errors
    low = sd.get("suction gauge", GAUGE_SD["suction"])
    high = sd.get("head gauge", GAUGE_SD["head"])
    standing = np.zeros((len(CHANNELS), 6))
    standing[0, 0] = low / ps
    standing[1, 1] = high / pd
    # A gauge that reads high makes the superheat look small and the subcooling large.
    standing[2, (0, 2)] = -by_ps * low, sd.get("suction gas", THERMOMETER_SD)
    standing[3, (1, 3)] = by_pd * high, sd.get("liquid line", THERMOMETER_SD)
    standing[5, 4] = sd.get("discharge gas", THERMOMETER_SD)
    standing[4, 5] = sd["watts"] / watts if "watts" in sd else WATTS_SD
    return values, fresh, standing
