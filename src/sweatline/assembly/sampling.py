"""What uncertainty does to one machine: quasi-random draws, all solved."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sweatline.errors import SolveError

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.machine.balance import SteadyState, Target
    from sweatline.machine.circuit import MachineParameters

__all__ = [
    "COLDER",
    "DRAW_TOLERANCE",
    "Trial",
    "colder_balance",
    "normal_draws",
    "solved_of",
    "trials",
]

# The cold end of the room's range at which flooding back is looked for.
COLDER = 4.0  # K

# A draw is one of many: its residual may be a hundred times that of a result shown by itself.
DRAW_TOLERANCE = 1e-6

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One draw: where it stands, and what the machine does there (None: no balance)."""

    z: FloatArray  # standard deviations, in the order of the build's uncertain numbers
    machine: MachineParameters
    balance: SteadyState | None
    colder: SteadyState | None  # the same charge in the cold end of the room's range
    looked_colder: bool  # whether that was looked for


def normal_draws(dimensions: int, count: int, seed: int = 20) -> FloatArray:
    """Quasi-random standard normal draws, (n, dimensions), n the next power of two from `count`.

    Scrambled Sobol points are balanced (the same number in each half, quarter, eighth of every
    axis) only in sets of a power of two, so that is how many there are.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    exponent = max(math.ceil(math.log2(count)), 0)
    u = qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed)).random_base2(exponent)
    z: FloatArray = ndtri(np.clip(u, 1e-6, 1.0 - 1e-6))
    return z


def trials(
    build: Build,
    nominal: SteadyState,
    target: Target,
    *,
    count: int = 32,
    look_colder: bool = False,
    cold: SteadyState | None = None,
    seed: int = 20,
    progress: Callable[[], None] | None = None,
) -> list[Trial]:
    """Solve a machine at draws of everything uncertain.

    Parameters
    ----------
    target : Target
        What closes the circuit at every draw.
    count : int
        Of draws, taken up to the next power of two.
    look_colder : bool
        Solve every draw in the cold end of the room's range too, at its own charge.
    cold : SteadyState, optional
        The nominal machine there (:func:`colder_balance`), to start from.
    """
    from sweatline.machine.balance import fixed_charge, solve

    names = [u.name for u in build.uncertain]
    table = build.refrigerant.table
    found = []
    for z in normal_draws(len(names), count, seed):
        machine, line = build.drawn(dict(zip(names, (float(v) for v in z), strict=True)))
        balance = None
        there = None
        try:
            balance = solve(table, line, machine, target, near=nominal, tolerance=DRAW_TOLERANCE)
            if look_colder:
                near, guess = balance, None
                if cold is not None:
                    # The draw moves the cold state about as it moved the warm one.
                    shift = np.array(balance.unknowns) - np.array(nominal.unknowns)
                    near, guess = cold, np.array(cold.unknowns) + shift
                there = solve(
                    table,
                    line,
                    _in_colder_room(build, machine, COLDER),
                    fixed_charge(balance.charge),
                    near=near,
                    guess=guess,
                    tolerance=DRAW_TOLERANCE,
                )
        except SolveError:
            pass  # counted: a draw without a balance is a fault of its own
        found.append(
            Trial(z=z, machine=machine, balance=balance, colder=there, looked_colder=look_colder)
        )
        if progress is not None:
            progress()
    return found


def _in_colder_room(build: Build, machine: MachineParameters, colder: float) -> MachineParameters:
    from sweatline.air.moist import relative_humidity
    from sweatline.machine.room_map import in_room

    pressure = build.job.place.atmospheric_pressure
    air = machine.air
    rh = relative_humidity(air.temperature, air.humidity, pressure)
    return in_room(machine, air.temperature - colder, rh, pressure)


def colder_balance(build: Build, balance: SteadyState, colder: float) -> SteadyState | None:
    """The same machine and charge in a room `colder` kelvin below; None: no balance there."""
    from sweatline.machine.balance import fixed_charge, solve

    moved = _in_colder_room(build, build.machine, colder)
    try:
        return solve(
            build.refrigerant.table, build.line, moved, fixed_charge(balance.charge), near=balance
        )
    except SolveError:
        return None


def solved_of(runs: Sequence[Trial]) -> list[SteadyState]:
    """Steady states of the draws that have one."""
    return [t.balance for t in runs if t.balance is not None]
