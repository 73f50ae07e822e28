"""Trial runs of a build: samples of everything uncertain, each put together and solved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import relative_humidity
from sweatline.answers import Quantity
from sweatline.assembly.build import Build
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, Target, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.room_map import in_room
from sweatline.uncertainty.sampling import normal_samples
from sweatline.uncertainty.sensitivity import FEWEST, Share, first_order, largest

# The cold end of the room's range at which flooding back is looked for.
COLDER = 4.0  # K

# A trial run is one of many: its residual may be a hundred times that of a result shown by itself.
TRIAL_TOLERANCE = 1e-6

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
    seed: int = 20,
    progress: Callable[[], None] | None = None,
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
    seed : int
        Of the samples.
    progress : callable, optional
        Called after each trial run.
    """
    table = build.refrigerant.table
    found = []
    for z in normal_samples(len(build.parameters), count, seed):
        machine, line = build.moved(build.by_key(z))
        balance = None
        there = None
        try:
            balance = solve(table, line, machine, target, near=nominal, tolerance=TRIAL_TOLERANCE)
            if look_colder:
                near, guess = balance, None
                if cold is not None:
                    # The sample moves the cold state about as it moved the warm one.
                    shift = np.array(balance.unknowns) - np.array(nominal.unknowns)
                    near, guess = cold, np.array(cold.unknowns) + shift
                there = solve(
                    table,
                    line,
                    _in_colder_room(build, machine, COLDER),
                    fixed_charge(balance.charge),
                    near=near,
                    guess=guess,
                    tolerance=TRIAL_TOLERANCE,
                )
        except SolveError:
            pass  # counted: a trial run without a balance is a fault of its own
        found.append(
            Trial(z=z, machine=machine, balance=balance, colder=there, looked_colder=look_colder)
        )
        if progress is not None:
            progress()
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
    build: Build, runs: Sequence[Trial], quantities: Sequence[Quantity], *, most: int = 5
) -> dict[str, tuple[Share, ...]]:
    """Largest shares of the parameters for each quantity, by its JSON key.

    Empty when the trial runs are too few.
    """
    good = [t for t in runs if t.balance is not None]
    if len(good) < FEWEST:
        return {}
    z = np.array([t.z for t in good])
    found = {}
    for quantity in quantities:
        y = np.array([quantity.of(t.balance) for t in good])
        if np.ptp(y) > 1e-4 * abs(float(y.mean())):  # what closes the circuit has no spread
            found[quantity.key] = largest(build.parameters, first_order(z, y), most)
    return found
