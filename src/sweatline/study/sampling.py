"""What uncertainty does to one machine: quasi-random draws, all solved."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sweatline.errors import SolveError

if TYPE_CHECKING:
    from sweatline.machine.balance import Balance, Target
    from sweatline.study.rig import Rig

# The cold end of the room's range at which flooding back is looked for.
COLDER = 4.0  # K

# A draw is one of many: its residual may be a hundred times that of a result shown by itself.
_DRAW_TOLERANCE = 1e-6

__all__ = [
    "COLDER",
    "Band",
    "Share",
    "Trial",
    "band",
    "colder_balance",
    "normal_draws",
    "shares",
    "trials",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One draw: where it stands, and what the machine does there (None: no balance)."""

    z: FloatArray  # standard deviations, in the order of the rig's uncertain numbers
    balance: Balance | None
    colder: Balance | None  # the same charge in the cold end of the room's range


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Median and the range that holds nine tenths."""

    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How much of a result's variance one uncertain number carries."""

    name: str
    share: float  # 0..1
    origin: str
    note: str


def normal_draws(dimensions: int, count: int, seed: int = 20) -> FloatArray:
    """Quasi-random standard normal draws (scrambled Sobol), (count, dimensions)."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    exponent = max(math.ceil(math.log2(count)), 1)
    u = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed)).random_base2(
        exponent
    )[:count]
    z: FloatArray = ndtri(np.clip(u, 1e-6, 1.0 - 1e-6))
    return z


def trials(
    rig: Rig,
    nominal: Balance,
    target: Target,
    *,
    count: int = 32,
    cold: Balance | None = None,
    seed: int = 20,
    progress: Callable[[], None] | None = None,
) -> list[Trial]:
    """Solve a machine at `count` draws of everything uncertain.

    Parameters
    ----------
    target : Target
        What closes the circuit at every draw.
    cold : Balance, optional
        The nominal machine in the cold end of the room's range (:func:`colder_balance`). Every
        draw is then solved there too, at its own charge.
    """
    from sweatline.air.moist import relative_humidity
    from sweatline.machine.balance import fixed_charge, solve
    from sweatline.machine.room_map import in_room

    names = [u.name for u in rig.uncertain]
    draws = normal_draws(len(names), count, seed)
    pressure = rig.job.place.atmospheric_pressure
    table = rig.refrigerant.table
    found = []
    for z in draws:
        machine, line = rig.drawn(dict(zip(names, (float(v) for v in z), strict=True)))
        balance = None
        there = None
        try:
            balance = solve(table, line, machine, target, near=nominal, tolerance=_DRAW_TOLERANCE)
            if cold is not None:
                t = machine.air.temperature
                rh = relative_humidity(t, machine.air.humidity, pressure)
                # The draw moves the cold state about as it moved the warm one.
                shift = np.array(balance.unknowns) - np.array(nominal.unknowns)
                there = solve(
                    table,
                    line,
                    in_room(machine, t - COLDER, rh, pressure),
                    fixed_charge(balance.charge),
                    near=cold,
                    guess=np.array(cold.unknowns) + shift,
                    tolerance=_DRAW_TOLERANCE,
                )
        except SolveError:
            pass  # counted: a draw without a balance is a fault of its own
        found.append(Trial(z=z, balance=balance, colder=there))
        if progress is not None:
            progress()
    return found


def colder_balance(rig: Rig, balance: Balance, colder: float) -> Balance | None:
    """The same machine and charge in a room `colder` kelvin below; None: no balance there."""
    from sweatline.air.moist import relative_humidity
    from sweatline.machine.balance import fixed_charge, solve
    from sweatline.machine.room_map import in_room

    pressure = rig.job.place.atmospheric_pressure
    air = rig.machine.air
    rh = relative_humidity(air.temperature, air.humidity, pressure)
    moved = in_room(rig.machine, air.temperature - colder, rh, pressure)
    try:
        return solve(
            rig.refrigerant.table, rig.line, moved, fixed_charge(balance.charge), near=balance
        )
    except SolveError:
        return None


def band(values: list[float]) -> Band:
    """Nine tenths of the values, and their median."""
    low, median, high = np.quantile(np.asarray(values), [0.05, 0.5, 0.95])
    return Band(low=float(low), median=float(median), high=float(high))


def shares(
    rig: Rig, nominal: Balance, target: Target, of: Callable[[Balance], float]
) -> list[Share]:
    """Variance shares of the uncertain numbers, largest first.

    Each number is moved one standard deviation up and down with the rest at their best values;
    the share is the square of half the difference. Exact for a linear response.
    """
    from sweatline.machine.balance import solve

    table = rig.refrigerant.table
    squares = []
    for number in rig.uncertain:
        ends = []
        for z in (-1.0, 1.0):
            machine, line = rig.drawn({number.name: z})
            try:
                ends.append(of(solve(table, line, machine, target, near=nominal)))
            except SolveError:
                ends.append(of(nominal))
        squares.append((0.5 * (ends[1] - ends[0])) ** 2)
    total = math.fsum(squares)
    if total <= 0.0:
        return []
    order = sorted(range(len(squares)), key=lambda i: -squares[i])
    return [
        Share(
            name=rig.uncertain[i].name,
            share=squares[i] / total,
            origin=str(rig.uncertain[i].origin),
            note=rig.uncertain[i].note,
        )
        for i in order
    ]
