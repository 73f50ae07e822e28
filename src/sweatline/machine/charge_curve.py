"""What a machine shows from nearly empty to overfull, by continuation in charge."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Annotated

import numpy as np

from sweatline.air.saturation_line import SaturationLine
from sweatline.answers import Answer, Hidden, Q, Range
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.refrigerant.table import Table


def sweep_charge(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    around: SteadyState,
    *,
    low: float = 0.35,
    high: float = 1.6,
    step: float = 0.025,
    progress: Callable[[float], None] | None = None,
) -> Iterator[SteadyState]:
    """Balances at fixed charges, from the one `around` outwards, each as it is found.

    Parameters
    ----------
    around : SteadyState
        A solved state whose charge is the unit of `low`, `high` and `step`.
    low, high : float
        Ends of the sweep. [-]
    step : float
        Largest step. [-]

    Yields
    ------
    SteadyState
        First the fillings above `around` in rising order, then those below in falling order. A
        direction ends early where the machine has no balance any more.
    """
    centre = around.charge
    total = (high - low) / step
    done = 0
    for direction, end in ((1.0, high), (-1.0, low)):
        share = 1.0
        size = step
        last = np.array(around.unknowns)
        latest = around
        before: tuple[float, np.ndarray] | None = None
        while direction * (end - share) > 1e-9:
            goal = share + direction * min(size, abs(end - share))
            guess = last
            if before is not None and abs(share - before[0]) > 1e-12:
                guess = last + (last - before[1]) * (goal - share) / (share - before[0])
            try:
                found = solve(
                    table, line, machine, fixed_charge(goal * centre), near=latest, guess=guess
                )
            except SolveError:
                size *= 0.4
                if size < 0.002:
                    break
                continue
            before = (share, last)
            share, last, latest = goal, np.array(found.unknowns), found
            size = min(step, size * 1.5)
            done += 1
            if progress is not None:
                progress(min(done / total, 1.0))
            yield found


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeEvent(Answer):
    """Something a person sees happen as charge goes in."""

    charge: Annotated[float, Q("mass")]
    band: Annotated[
        Range | None, Q("mass", "", "Of that charge; null when not every trial run shows it.")
    ] = None
    what: str
    suction_pressure: Annotated[float, Q("pressure")]
    discharge_pressure: Annotated[float, Q("pressure")]
    # What passes zero there.
    level: Annotated[Callable[[SteadyState], float], Hidden()] = field(repr=False, compare=False)


def events(
    curve: list[SteadyState], *, superheat: float, high_limit: float | None = None
) -> list[ChargeEvent]:
    """What happens as the charge rises, in the order a person sees it.

    Parameters
    ----------
    curve : list of SteadyState
        In rising order of charge.
    superheat : float
        At which the evaporator counts as filled. [K]
    high_limit : float, optional
        Head pressure that must not be passed. [Pa]
    """
    watched: list[tuple[str, str, Callable[[SteadyState], float]]] = [
        (
            "the whole coil comes above freezing",
            "the coil goes below freezing",
            lambda b: b.coil_temperature - 273.15,
        ),
        (
            "liquid stands before the capillary: subcooling begins",
            "flash gas reaches the capillary",
            lambda b: -b.liquid_quality,
        ),
        (
            "target superheat reached",
            "superheat rises above its target again",
            lambda b: superheat - b.superheat if b.suction_quality >= 1.0 else superheat,
        ),
        (
            "floodback begins",
            "the suction line is dry again",
            lambda b: 1.0 - b.suction_quality,
        ),
    ]
    if high_limit is not None:
        watched.append(
            (
                "head pressure passes the limit of the high side",
                "head pressure comes back below its limit",
                lambda b: b.discharge_pressure - high_limit,
            )
        )
    found = []
    for rising, falling, f in watched:
        for a, b in pairwise(curve):
            fa, fb = f(a), f(b)
            if fa == fb or (fa < 0.0) == (fb < 0.0):
                continue
            w = fa / (fa - fb)
            found.append(
                ChargeEvent(
                    charge=a.charge + w * (b.charge - a.charge),
                    what=rising if fb > fa else falling,
                    suction_pressure=a.suction_pressure
                    + w * (b.suction_pressure - a.suction_pressure),
                    discharge_pressure=a.discharge_pressure
                    + w * (b.discharge_pressure - a.discharge_pressure),
                    level=f,
                )
            )
    return sorted(found, key=lambda e: e.charge)
