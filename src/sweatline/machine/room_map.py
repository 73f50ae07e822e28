"""Water, watts and coil temperature of one charged machine over temperature and humidity."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import SaturationLine
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, fixed_charge, solve
from sweatline.machine.circuit import SERIES, MachineParameters
from sweatline.refrigerant.table import Table

FloatArray = NDArray[np.float64]


def in_room(
    machine: MachineParameters,
    temperature: float,
    relative_humidity: float,
    pressure: float,
    *,
    outdoors: tuple[float, float] | None = None,
) -> MachineParameters:
    """The same machine in another room; every fan keeps its volume flow.

    Parameters
    ----------
    machine : MachineParameters
        Any; with separate streams the room is where the evaporator breathes.
    temperature : float
        Of the room. [K]
    relative_humidity : float
        Of the room, 0 to 1. [-]
    pressure : float
        Atmospheric. [Pa]
    outdoors : tuple of float, optional
        Temperature [K] and relative humidity [0..1] where the condenser breathes and the
        compressor stands, for separate streams; by default they stay what they were.
    """
    air = machine.air
    w = humidity_ratio(temperature, relative_humidity, pressure)
    moved = air._replace(
        temperature=temperature,
        humidity=w,
        flow=_kept_volume(air.flow, air.temperature, air.humidity, temperature, w, pressure),
    )
    if air.arrangement == SERIES:
        moved = moved._replace(
            condenser_temperature=temperature, condenser_humidity=w, ambient=temperature
        )
    elif outdoors is not None:
        t_out = outdoors[0]
        w_out = humidity_ratio(t_out, outdoors[1], pressure)
        moved = moved._replace(
            condenser_temperature=t_out,
            condenser_humidity=w_out,
            condenser_flow=_kept_volume(
                air.condenser_flow,
                air.condenser_temperature,
                air.condenser_humidity,
                t_out,
                w_out,
                pressure,
            ),
            ambient=t_out,
        )
    return machine._replace(air=moved)


def _kept_volume(
    flow: float, t_old: float, w_old: float, t_new: float, w_new: float, pressure: float
) -> float:
    """Mass flow of a fan that keeps its volume flow. [kg/s]"""
    volume = flow * specific_volume(t_old, w_old, pressure)
    return float(volume / specific_volume(t_new, w_new, pressure))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomMap:
    """Balances on a grid of rooms; None where there is none, with the reason."""

    temperatures: FloatArray  # (m,) K
    humidities: FloatArray  # (n,) 0..1
    balances: tuple[tuple[SteadyState | None, ...], ...]  # (m, n)
    reasons: tuple[tuple[str, ...], ...]  # (m, n), empty where there is a balance

    def field(self, of: Callable[[SteadyState], float]) -> FloatArray:
        """Any quantity on the grid, NaN where there is no balance. (m, n)"""
        return np.array(
            [[float("nan") if b is None else of(b) for b in row] for row in self.balances]
        )


def map_rooms(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    known: SteadyState,
    temperatures: Sequence[float],
    humidities: Sequence[float],
    pressure: float,
    *,
    progress: Callable[[float], None] | None = None,
    into: list[list[SteadyState | None]] | None = None,
) -> RoomMap:
    """Solve a machine of fixed charge in every room of a grid.

    Parameters
    ----------
    known : SteadyState
        A solved state of this machine; its charge is kept.
    temperatures, humidities : sequences
        (m,) [K] and (n,) [0..1], rising.
    pressure : float
        Atmospheric. [Pa]
    into : nested list, optional
        Filled as balances are found, so that an interrupted map keeps what it has.
    """
    m, n = len(temperatures), len(humidities)
    grid: list[list[SteadyState | None]] = into if into is not None else []
    grid[:] = [[None] * n for _ in range(m)]
    reasons = [[""] * n for _ in range(m)]
    target = fixed_charge(known.charge)
    # Start in the room nearest to the known one and spread to neighbours.
    t0, w0 = machine.air.temperature, machine.air.humidity
    rh = [[humidity_ratio(t, r, pressure) for r in humidities] for t in temperatures]
    order = sorted(
        ((i, j) for i in range(m) for j in range(n)),
        key=lambda ij: abs(temperatures[ij[0]] - t0) / 5.0 + abs(rh[ij[0]][ij[1]] - w0) / 0.003,
    )
    for count, (i, j) in enumerate(order):
        neighbours = [
            (abs(a - i) + abs(b - j), b_ab)
            for a in range(max(i - 1, 0), min(i + 2, m))
            for b in range(max(j - 1, 0), min(j + 2, n))
            if (b_ab := grid[a][b]) is not None
        ]
        start = min(neighbours, key=lambda x: x[0])[1] if neighbours else known
        moved = in_room(machine, temperatures[i], humidities[j], pressure)
        try:
            grid[i][j] = solve(table, line, moved, target, near=start)
        except SolveError as error:
            reasons[i][j] = error.condition
        if progress is not None:
            progress((count + 1) / (m * n))
    return RoomMap(
        temperatures=np.asarray(temperatures, dtype=float),
        humidities=np.asarray(humidities, dtype=float),
        balances=tuple(tuple(row) for row in grid),
        reasons=tuple(tuple(row) for row in reasons),
    )
