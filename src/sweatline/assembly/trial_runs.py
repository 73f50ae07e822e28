"""Trial runs of a build: samples of everything uncertain, each put together and solved.

Ranges over many states of one machine, along its charge and from room to room: each trial run is
one machine that is taken through all of the states, as the machine on the floor would be. That
costs no more than linearising every state about its best values, and holds where a line does not:
where superheat or subcooling reaches zero, a linearised range can be half as wide again or miss
half of what the trial runs show.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import relative_humidity
from sweatline.answers import Quantity, Range, range_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.build import Build
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, Target, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.room_map import in_room
from sweatline.uncertainty.sensitivity import (
    FEWEST_SAMPLES,
    Share,
    first_order,
    largest,
    normal_samples,
)

# The cold end of the room's range at which flooding back is looked for.
COLDER = 4.0  # K

# A trial run is one of many: its residual may be a hundred times that of a result shown by itself.
TRIAL_TOLERANCE = 1e-6

_MOST_SHARES = 5  # told of one quantity

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One trial run: where its sample stands, and what the machine does there.

    Parameters
    ----------
    z : (n,) array
        Of each of the build's parameters, in their order. [standard deviations]
    machine : MachineParameters
        With its parameters moved by `z`.
    balance : SteadyState, optional
        None where the machine has no balance.
    colder : SteadyState, optional
        With the same charge in the cold end of the room's range.
    looked_colder : bool
        Whether that was looked for.
    """

    z: FloatArray
    machine: MachineParameters
    balance: SteadyState | None
    colder: SteadyState | None
    looked_colder: bool


def trials(
    build: Build,
    nominal: SteadyState,
    target: Target,
    *,
    count: int = 32,
    look_colder: bool = False,
    cold: SteadyState | None = None,
) -> list[Trial]:
    """Solve a machine at samples of everything uncertain.

    Parameters
    ----------
    nominal : SteadyState
        Of the best values, to start from.
    target : Target
        What closes the circuit in every trial run.
    count : int
        Of trial runs, taken up to the next power of two.
    look_colder : bool
        Solve each in the cold end of the room's range too, at its own charge.
    cold : SteadyState, optional
        The nominal machine there (:func:`colder_balance`), to start from.
    """
    run = partial(solve, build.refrigerant.table, tolerance=TRIAL_TOLERANCE)
    found = []
    for z in normal_samples(len(build.parameters), count):
        machine, line = build.moved(build.by_key(z))
        balance = None
        there = None
        try:
            balance = run(line, machine, target, near=nominal)
            if look_colder:
                near, guess = balance, None
                if cold is not None:
                    # The sample moves the cold state about as it moved the warm one.
                    shift = np.array(balance.unknowns) - np.array(nominal.unknowns)
                    near, guess = cold, np.array(cold.unknowns) + shift
                colder = _in_colder_room(build, machine, COLDER)
                there = run(line, colder, fixed_charge(balance.charge), near=near, guess=guess)
        except SolveError:
            pass  # counted: a trial run without a balance is a fault of its own
        found.append(
            Trial(z=z, machine=machine, balance=balance, colder=there, looked_colder=look_colder)
        )
    return found


def _in_colder_room(build: Build, machine: MachineParameters, colder: float) -> MachineParameters:
    pressure = build.job.place.atmospheric_pressure
    air = machine.air
    rh = relative_humidity(air.temperature, air.humidity, pressure)
    return in_room(machine, air.temperature - colder, rh, pressure)


def colder_balance(build: Build, balance: SteadyState, colder: float) -> SteadyState | None:
    """The same machine and charge in a room `colder` kelvin below; None: no balance there."""
    moved = _in_colder_room(build, build.machine, colder)
    try:
        return solve(
            build.refrigerant.table, build.line, moved, fixed_charge(balance.charge), near=balance
        )
    except SolveError:
        return None


def solved_of(runs: Sequence[Trial]) -> list[SteadyState]:
    """Steady states of the trial runs that have one."""
    return [t.balance for t in runs if t.balance is not None]


def shares_of(
    build: Build, runs: Sequence[Trial], quantities: Sequence[Quantity]
) -> dict[str, tuple[Share, ...]]:
    """Largest shares of the parameters for each quantity, by its JSON key.

    Empty when the trial runs are too few.
    """
    good = [t for t in runs if t.balance is not None]
    if len(good) < FEWEST_SAMPLES:
        return {}
    z = np.array([t.z for t in good])
    found = {}
    for quantity in quantities:
        y = np.array([quantity.of(t.balance) for t in good])
        if np.ptp(y) > 1e-4 * abs(float(y.mean())):  # what closes the circuit has no spread
            found[quantity.key] = largest(build.parameters, first_order(z, y), _MOST_SHARES)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One state that every trial run is taken to, and what the best values give there.

    Parameters
    ----------
    charge : float, optional
        [kg] None: what each trial run was charged with in the job's room.
    room : tuple of float, optional
        Temperature and relative humidity. [K], [0..1] None: the job's room as sampled.
    """

    balance: SteadyState
    charge: float | None = None
    room: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialStates:
    """Trial runs in a row of states.

    Parameters
    ----------
    first : tuple of SteadyState
        Each trial run as it was charged in the job's room.
    balances : tuple of tuple
        A row for each of them, None where there is no balance.
    count : int
        Of trial runs, those without a first balance included.
    """

    first: tuple[SteadyState, ...]
    balances: tuple[tuple[SteadyState | None, ...], ...]
    count: int

    def solved(self, state: int) -> list[SteadyState]:
        """Balances in one of the states."""
        return [b for row in self.balances if (b := row[state]) is not None]


def trial_states(
    build: Build,
    nominal: SteadyState,
    target: Target,
    states: Sequence[State],
    *,
    count: int = 32,
    progress: Callable[[float], None] | None = None,
) -> TrialStates:
    """Charge every trial run in the job's room as `target` says, and take it through the states.

    Parameters
    ----------
    nominal : SteadyState
        What the best values give with `target`.
    states : sequence of State
        In an order in which neighbours are like each other.
    count : int
        Of trial runs, taken up to the next power of two.
    progress : callable, optional
        Called with the share that is done.
    """
    run = partial(solve, build.refrigerant.table, tolerance=TRIAL_TOLERANCE)
    pressure = build.job.place.atmospheric_pressure
    firsts, rows = [], []
    samples = normal_samples(len(build.parameters), count)
    for done, z in enumerate(samples, 1):
        if progress is not None:
            progress(done / len(samples))
        machine, line = build.moved(build.by_key(z))
        try:
            first = run(line, machine, target, near=nominal)
        except SolveError:
            continue
        # Where a trial run was solved by the best values, and how far from them it lies there.
        solved = [np.array(nominal.unknowns)]
        shifts = [np.array(first.unknowns) - solved[0]]
        row: list[SteadyState | None] = []
        for state in states:
            there = machine if state.room is None else in_room(machine, *state.room, pressure)
            charge = state.charge if state.charge is not None else first.charge
            middle = np.array(state.balance.unknowns)
            near = int(np.argmin([np.abs(middle - other).max() for other in solved]))
            try:
                aim, guess = fixed_charge(charge), middle + shifts[near]
                found = run(line, there, aim, near=state.balance, guess=guess)
            except SolveError:
                row.append(None)
                continue
            solved.append(middle)
            shifts.append(np.array(found.unknowns) - middle)
            row.append(found)
        firsts.append(first)
        rows.append(tuple(row))
    return TrialStates(first=tuple(firsts), balances=tuple(rows), count=len(samples))


def _crossing(at: Sequence[float], values: Sequence[float]) -> float | None:
    """First place at which values along a line change sign, by straight pieces. [of `at`]"""
    for (x0, y0), (x1, y1) in pairwise(zip(at, values, strict=True)):
        if (y0 < 0.0) != (y1 < 0.0):
            return x0 + (x1 - x0) * y0 / (y0 - y1)
    return None


def range_of_crossing(
    found: TrialStates,
    picked: Sequence[int],
    at: Sequence[float],
    nominal: float,
    level: Callable[[SteadyState], float],
    middle: Sequence[SteadyState],
) -> Range | None:
    """Range of where a quantity passes zero along some of the states.

    The states lie far apart, so a place between two of them is rough; how far the same straight
    pieces put the best values from where they are known to pass is taken off every trial run.

    Parameters
    ----------
    picked : sequence of int
        Positions of the states in a row, in the order of `at`.
    at : sequence of float
        Where each state lies, for instance its charge.
    nominal : float
        Where the best values pass zero.
    middle : sequence of SteadyState
        The best values in these states.

    Returns
    -------
    Range or None
        None when fewer than three quarters of the trial runs pass at all: the range would leave
        out those that do not.
    """
    rough = _crossing(at, [level(b) for b in middle])
    if rough is None:
        return None
    passed = []
    for row in found.balances:
        pairs = [(x, b) for x, k in zip(at, picked, strict=True) if (b := row[k]) is not None]
        place = _crossing([x for x, _ in pairs], [level(b) for _, b in pairs])
        if place is not None:
            passed.append(place - rough + nominal)
    if len(passed) < max(FEWEST, 0.75 * found.count):
        return None
    return range_of(passed)


def few_of(count: int, most: int) -> list[int]:
    """Positions of at most `most` of `count` things, evenly spread, with both ends."""
    if count <= most:
        return list(range(count))
    step = (count - 1) / (most - 1)
    return sorted({math.floor(i * step + 0.5) for i in range(most)})
