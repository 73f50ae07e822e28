"""A charge curve in words and as rows: where to stop, what happens as the charge goes in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sweatline.answers import Quantity, quantities_of
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.machine.balance import SteadyState
from sweatline.report.sentences import between
from sweatline.units import Scale

STATES: Final = {q.name: q for q in quantities_of(SteadyState)}
"""Quantities of a steady state by name."""

CURVE: Final = (
    ("charge", "charge"),
    ("suction_pressure", "suction"),
    ("discharge_pressure", "head"),
    ("superheat", "super-\nheat"),
    ("subcooling", "sub-\ncooling"),
    ("coil_temperature", "coil"),
    ("total_power", "watts"),
    ("total_current", "amps"),
    ("water", "water"),
)
"""Columns of the table: quantity of a steady state, title."""


def headline_of_curve(answer: ChargeAnswer, scale: Scale) -> str:
    """Where to stop."""
    superheat = scale.show(answer.stop.superheat, "temperature difference", 2)
    return f"Stop at {_seen(answer, 'charge', scale)}, with {superheat} of superheat."


def stop_line(answer: ChargeAnswer, scale: Scale) -> str:
    """What gauges and meters show there, and what to go by."""
    suction, head, subcooling, watts, amps = (
        _seen(answer, name, scale)
        for name in (
            "suction_pressure", "discharge_pressure", "subcooling", "total_power", "total_current",
        )
    )  # fmt: skip
    return (
        f"There: suction {suction}, head {head}, subcooling {subcooling}, {watts} and {amps} "
        "with the fan. Go by superheat, not by the scale alone: the mass depends on volumes nobody "
        "measured."
    )


def _seen(answer: ChargeAnswer, name: str, scale: Scale) -> str:
    q: Quantity = STATES[name]
    found = answer.stop_bands.get(q.key)
    value = scale.show(q.of(answer.stop), q.kind, q.digits)
    return value + between(found, q.kind, scale, q.digits)


def thinned(curve: Sequence[SteadyState], stop: SteadyState, most: int) -> list[SteadyState]:
    """Rows of a table: about as many as are wanted, always with the one to stop at."""
    every = max(1, -(-len(curve) // most))
    last = len(curve) - 1
    return [
        b for i, b in enumerate(curve) if i % every == 0 or i == last or b.charge == stop.charge
    ]


def event_lines(answer: ChargeAnswer, scale: Scale) -> list[tuple[str, str]]:
    """What happens as the charge goes in: charge, and what."""
    return [
        (
            scale.show(e.charge, "mass"),
            f"{e.what}{between(e.band, 'mass', scale)} "
            f"(suction {scale.show(e.suction_pressure, 'pressure')}, "
            f"head {scale.show(e.discharge_pressure, 'pressure')})",
        )
        for e in answer.events
    ]
