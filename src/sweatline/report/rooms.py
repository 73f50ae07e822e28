"""Other rooms in words: where the coil freezes, how soon frost blocks it, what keeps it open."""

from __future__ import annotations

from collections.abc import Sequence

from sweatline.constants import ZERO_CELSIUS
from sweatline.design.frost import FrostAnswer
from sweatline.design.room_map import RoomAnswer
from sweatline.machine.frost import FrostStep
from sweatline.report.sentences import between
from sweatline.units import Scale


def headline_of_rooms(answer: RoomAnswer, scale: Scale) -> str:
    """In which of the rooms the coil freezes."""
    if answer.frost_line:
        line = sorted(f.room_temperature for f in answer.frost_line)
        unit, (a, b) = scale.column([line[0], line[-1]], "temperature")
        return (
            f"The coil freezes in rooms below {a} {unit}."
            if a == b
            else f"The coil freezes in rooms below {a} to {b} {unit}, by humidity."
        )
    if any(t is not None and freezes(t) for row in answer.coil_temperature for t in row):
        return "The coil freezes in the rooms marked *; the frost line does not cross the map."
    return "The coil stays above freezing in all of these rooms."


def freezes(temperature: float) -> bool:
    """Whether water freezes on a surface. [K]"""
    return temperature < ZERO_CELSIUS


def frost_lines(answer: RoomAnswer, scale: Scale) -> list[tuple[str, str]]:
    """The frost line: humidity, and the room temperature below which the coil freezes."""
    return [
        (
            f"at {scale.show(f.relative_humidity, 'relative humidity', 2)}",
            f"the coil freezes below {scale.show(f.room_temperature, 'temperature')}"
            + between(f.band, "temperature", scale),
        )
        for f in answer.frost_line
    ]


def without_balance(answer: RoomAnswer, scale: Scale) -> list[tuple[str, str]]:
    """Rooms in which the machine has no balance: how many, then why and which."""
    rooms: dict[str, list[str]] = {}
    for t, row in zip(answer.temperatures, answer.reasons, strict=True):
        for rh, reason in zip(answer.relative_humidities, row, strict=True):
            if reason:
                room = f"{scale.show(t, 'temperature')} {scale.show(rh, 'relative humidity', 2)}"
                rooms.setdefault(reason, []).append(room)
    return [
        (f"{len(where)}", f"{reason}: {', '.join(where[:6])}{', ...' if len(where) > 6 else ''}")
        for reason, where in rooms.items()
    ]


def headline_of_frost(answer: FrostAnswer, scale: Scale) -> str:
    """Whether and how soon frost blocks the coil."""
    light, likely, dense = (None if t is None else scale.show(t, "time", 2) for t in answer.blocked)
    if answer.ended == "bare":
        return "Nothing freezes in this room."
    if likely is None:
        longest = scale.show(answer.steps[-1].time, "time")
        how = "the frost no longer grows" if answer.ended == "settled" else "it still runs"
        return f"The airflow is not halved: after {longest} {how}."
    return (
        f"The airflow is halved after {likely}; after {light or 'a longer time'} if the frost is "
        f"light, {dense or 'a longer time'} if it is dense."
    )


def frost_room_line(answer: FrostAnswer, scale: Scale) -> str:
    """With which charge and in which room it runs."""
    return (
        f"Charge {scale.show(answer.charge, 'mass')}; running in a room of "
        f"{scale.show(answer.room_temperature, 'temperature')}, "
        f"{scale.show(answer.room_relative_humidity, 'relative humidity', 2)}."
    )


def thinned_steps(steps: Sequence[FrostStep], most: int = 12) -> list[FrostStep]:
    """Rows of a table of a run with frost, the last one always among them."""
    every = max(1, -(-len(steps) // most))
    return [s for i, s in enumerate(steps) if i % every == 0 or i == len(steps) - 1]


def melting(answer: FrostAnswer, scale: Scale) -> list[tuple[str, str]]:
    """What melts the ice; nothing when there is none."""
    need = answer.defrost
    if need is None:
        return []
    rest = (
        f"{scale.show(need.rest, 'time')} with the compressor off and the fan on"
        if need.rest is not None
        else "not in a room as cold as this: it needs heat"
    )
    return [
        (
            scale.show(need.energy, "energy"),
            f"to melt {scale.show(need.ice, 'mass')} of ice, "
            f"{scale.show(need.metal, 'energy')} of it for the metal of the coil",
        ),
        ("rest", rest),
        (
            "hot gas",
            f"{scale.show(need.hot_gas, 'time')} at least, with all of the compressor's heat "
            "in the coil",
        ),
    ]


def keeping_open(answer: FrostAnswer, scale: Scale) -> list[str]:
    """What keeps the coil open: a timer, and whether a thermostat can do it."""
    cycle = answer.cycle
    if cycle is None:
        return []
    run = scale.show(cycle.run, "time")
    if cycle.rest is None or cycle.running_share is None:
        timer = (
            f"Run {run} at most, until the airflow is down to four fifths, then melt the ice with "
            "hot gas or a heater."
        )
    else:
        timer = (
            f"Timer: run {run}, until the airflow is down to four fifths, then rest "
            f"{scale.show(cycle.rest, 'time')} with the fan on; it runs "
            f"{100.0 * cycle.running_share:.0f} % of the time."
        )
    start = scale.show(cycle.start_at, "temperature")
    if cycle.stop_at is not None:
        return [
            timer,
            f"Thermostat on a tube in the middle of the coil: stop at "
            f"{scale.show(cycle.stop_at, 'temperature')}, start again at {start}.",
        ]
    return [
        timer,
        "A thermostat on the coil hardly notices this frost, because evaporating falls too "
        f"little; let it end the rest, at {start}, and a timer begin it.",
    ]
