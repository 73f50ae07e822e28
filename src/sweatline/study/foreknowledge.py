"""What is known of charging a machine before anything is read: its readings along the charge.

Drawn machines are carried along their charge, and what they show there is what readings will be
held against. Readings that settle are put into the same form here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.bench.dosing import Foreknowledge
from sweatline.bench.settling import Character
from sweatline.errors import SolveError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sweatline.bench.settling import Outlook
    from sweatline.machine.balance import Balance
    from sweatline.refrigerant.table import Table
    from sweatline.study.rig import Rig

__all__ = [
    "CHARACTERS",
    "GAUGE_SD",
    "THERMOMETER_SD",
    "WATTS_SD",
    "foreknow",
    "settled_readings",
]

FloatArray = NDArray[np.float64]

# Standard deviations of what a careful person reads: gauges of class 1.6 on their usual scales,
# clamp thermometers, a plug-in watt-meter (common practice).
GAUGE_SD: Final = {"suction": 4e3, "head": 10e3}  # Pa
THERMOMETER_SD: Final = 0.5  # K
WATTS_SD: Final = 0.01  # relative
_POINTS: Final = 15


def foreknow(
    rig: Rig, full: Balance, *, draws: int = 128, progress: Callable[[], None] | None = None
) -> Foreknowledge:
    """What drawn machines show from four tenths to one and a half of the best charge."""
    from sweatline.machine.balance import filled, fixed_charge
    from sweatline.study.spread import Waypoint, walks

    target = filled(superheat=rig.job.targets.superheat)
    shares = np.linspace(0.4, 1.5, _POINTS)
    way: dict[int, Waypoint] = {}
    order = sorted(range(_POINTS), key=lambda i: abs(shares[i] - 1.0))
    for i in order:
        near = full
        if way:
            near = way[min(way, key=lambda j: abs(j - i))].balance
        charge = float(shares[i] * full.charge)
        try:
            found = rig.solve(fixed_charge(charge), near=near)
        except SolveError:
            continue
        way[i] = Waypoint(balance=found, charge=charge, room=None)
    # From the full machine outwards, so that each state is next to one already known.
    stops = [way[i] for i in sorted(way)]
    found_walks = walks(rig, full, target, stops, count=draws, progress=progress)
    readings = np.array([[_channels(b) for b in row] for row in found_walks.balances])
    return Foreknowledge(
        charges=np.array([s.charge for s in stops]),
        readings=readings,
        best=np.array([b.charge for b in found_walks.first]),
    )


def _channels(b: Balance | None) -> list[float]:
    if b is None:
        return [np.nan] * 5
    logs = np.log([b.suction_pressure, b.discharge_pressure, b.total_power])
    return [float(logs[0]), float(logs[1]), b.superheat, b.subcooling, float(logs[2])]


CHARACTERS: Final = {
    "suction gauge": Character(noise=1.5e3, span=4e4, tolerance=3e3),
    "head gauge": Character(noise=4e3, span=1e5, tolerance=8e3),
    "suction gas": Character(noise=0.15, span=5.0, tolerance=0.5),
    "liquid line": Character(noise=0.15, span=4.0, tolerance=0.5),
    "watts": Character(noise=1.0, span=20.0, tolerance=2.0),
}


def settled_readings(
    table: Table, outlooks: Mapping[str, Outlook]
) -> tuple[FloatArray, FloatArray]:
    """Foretold settled readings in the order and form of the dosing, and their errors."""
    from sweatline.refrigerant.table import saturation

    o = {k: (v.settled, (v.high - v.low) / 3.29) for k, v in outlooks.items()}
    nothing = (float("nan"), 0.0)
    ps, ps_sd = o["suction gauge"]
    pd, pd_sd = o["head gauge"]
    suction, suction_sd = o["suction gas"]
    liquid, liquid_sd = o.get("liquid line", nothing)
    watts, watts_sd = o.get("watts", nothing)
    ps_sd = float(np.hypot(ps_sd, GAUGE_SD["suction"]))
    pd_sd = float(np.hypot(pd_sd, GAUGE_SD["head"]))
    dew = saturation(table, ps)[1]
    bubble = saturation(table, pd)[0]
    by_ps = saturation(table, ps + ps_sd)[1] - dew
    by_pd = saturation(table, pd + pd_sd)[0] - bubble
    values = np.array(
        [
            np.log(ps),
            np.log(pd),
            max(suction - dew, 0.0),
            np.maximum(bubble - liquid, 0.0),
            np.log(watts),
        ]
    )
    errors = np.array(
        [
            ps_sd / ps,
            pd_sd / pd,
            np.sqrt(suction_sd**2 + THERMOMETER_SD**2 + by_ps**2),
            np.sqrt(liquid_sd**2 + THERMOMETER_SD**2 + by_pd**2),
            np.hypot(watts_sd / watts, WATTS_SD),
        ]
    )
    return values, errors
