"""What the machine now does, in words: the verdict, its reason, then the numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Final

from sweatline.answers import Range
from sweatline.answers.fields import members_of
from sweatline.report.sentences import parts_line, sentence
from sweatline.report.told import LIKELY, Told
from sweatline.units import WATER_DENSITY, Kind
from sweatline.units.kinds import HOUR

if TYPE_CHECKING:
    from sweatline.bench.proof.heat import HeatBalance
    from sweatline.bench.proof.proof import Judged, ProofAnswer
    from sweatline.bench.proof.proved_machine import RatedRoom
    from sweatline.bench.proof.steadiness import Steadiness
    from sweatline.units import Scale

_OUTCOMES: Final = {
    "passes": "It does what this build should do",
    "fails": "It does not do what this build should do",
    "look": "Look again before you call it proved",
    "does not count": "These readings do not count yet",
}
_AGAINST: Final[Mapping[str, str]] = {
    "cooling": "cooling, refrigerant against air",
    "heat to the air": "heat, watts against air",
    "water": "water, bucket against air",
    "airflow": "airflow, job against balance",
}


def proof_told(a: ProofAnswer, scale: Scale, details: bool) -> Iterator[Told]:
    """The verdict, what was measured, against the build, heat balance, other rooms."""
    yield Told(
        sentences=(headline_of_proof(a, scale), sentence(a.reason)),
        rows=tuple(_own(a, scale)),
        after=f"In brackets: {LIKELY}.",
    )
    yield Told(
        title="Read, against what this build should show",
        sentences=(f"{parts_line(a.parts, scale)}.",) if details else (),
        rows=tuple((one.what, _judged(one, scale)) for one in a.judged),
    )
    heat = tuple(_heat(a.heat, scale))
    if heat:
        yield Told(title="Heat balance", rows=heat)
    yield Told(title="Steady enough to count", sentences=(steady_told(a.steadiness, scale),),
               rows=tuple(_still(a.steadiness, scale)) if details else ())  # fmt: skip
    if a.rooms:
        yield Told(
            title="In the rooms of the test procedures",
            sentences=("As this machine is now, by the model. This is no certified rating.",),
            rows=tuple(rated_told(a, scale)),
        )


def headline_of_proof(a: ProofAnswer, scale: Scale) -> str:
    """The answer in one sentence."""
    text = _OUTCOMES[a.verdict]
    told = []
    if a.water is not None:
        told.append(f"water {scale.show(a.water.middle, 'water removal', 2)}")
    if a.water_per_energy is not None:
        told.append(scale.show(a.water_per_energy.middle, "water per energy", 2))
    elif a.power is not None:
        told.append(f"{'for' if told else 'it takes'} {scale.show(a.power.middle, 'power')}")
    return f"{text}: {', '.join(told)}." if told else f"{text}."


def proof_next(a: ProofAnswer, _scale: Scale) -> str:
    """What is still to be read."""
    if a.verdict == "does not count":
        return "Let it run, read again, and change nothing meanwhile."
    if a.water is None:
        return "Put a bucket under it and look twice, or weigh what ran off."
    return ""


def judged_told(one: Judged, scale: Scale) -> tuple[str, str, str]:
    """A reading, what it should be, and on which side of that it lies."""
    digits = 2 if one.kind in ("water removal", "water per energy") else 3
    return (
        scale.show(one.read_SI.middle, one.kind, digits),
        scale.range(one.expected_SI, one.kind, digits),
        "" if one.verdict == "inside" else one.verdict.upper(),
    )


def _judged(one: Judged, scale: Scale) -> str:
    read, expected, side = judged_told(one, scale)
    return f"{read}; expected {expected}" + (f", {side}" if side else "")


def _own(a: ProofAnswer, scale: Scale) -> Iterator[tuple[str, str]]:
    room = f"{scale.show(a.room_temperature, 'temperature')}, "
    yield "room", room + scale.show(a.room_humidity, "relative humidity", 2)
    rows: list[tuple[str, Range | None, Kind, int]] = [
        ("superheat, evaporator outlet", a.superheat, "temperature difference", 2),
        ("superheat at the compressor", a.superheat_at_compressor, "temperature difference", 2),
        ("subcooling", a.subcooling, "temperature difference", 2),
        ("water in an hour", _in_an_hour(a.water), "volume", 2),
        ("water in a day", a.water, "water removal", 2),
        ("watts", a.power, "power", 3),
        ("water per energy", a.water_per_energy, "water per energy", 2),
    ]
    for label, found, kind, digits in rows:
        if found is not None:
            band = scale.range(found, kind, digits)
            yield label, f"{scale.show(found.middle, kind, digits)} ({band})"


def _in_an_hour(water: Range | None) -> Range | None:
    """Volume of an hour. [m3]"""
    if water is None:
        return None
    low, middle, high = (
        HOUR / WATER_DENSITY * rate for rate in (water.low, water.middle, water.high)
    )
    return Range(low=low, middle=middle, high=high)


def _heat(heat: HeatBalance, scale: Scale) -> Iterator[tuple[str, str]]:
    for member in members_of(type(heat)):
        found = getattr(heat, member.name)
        if member.q is not None and isinstance(found, Range):
            kind, digits = member.q.kind, member.q.digits
            band = scale.range(found, kind, digits)
            yield member.q.label, f"{scale.show(found.middle, kind, digits)} ({band})"
    for gap in heat.gaps:
        word = "closes within the errors" if gap.closes else "DOES NOT CLOSE"
        yield (
            _AGAINST[gap.what],
            (
                f"{100 * gap.gap.middle:+.0f} % ({100 * gap.gap.low:+.0f} to "
                f"{100 * gap.gap.high:+.0f} %): {word}"
            ),
        )


def steady_told(s: Steadiness, scale: Scale) -> str:
    over = f", over {scale.show(s.duration, 'time', 2)}" if s.duration > 0.0 else ""
    return f"{sentence(s.verdict).rstrip('.')}{over}: {s.reason}."


def _still(s: Steadiness, scale: Scale) -> Iterator[tuple[str, str]]:
    differences: dict[Kind, Kind] = {
        "temperature": "temperature difference", "pressure": "pressure difference",
    }  # fmt: skip
    for row in s.readings:
        kind = differences.get(row.kind, row.kind)
        change, limit = (scale.show(v, kind, 2) for v in (row.change_SI, row.limit_SI))
        word = "stands still" if row.still else "MOVES"
        yield row.channel, f"{word}: {change} in ten minutes, at most {limit}"


def rated_told(a: ProofAnswer, scale: Scale) -> Iterator[tuple[str, str]]:
    """The machine in each room of a test procedure: the room, and what it does there."""
    return ((_room(room, scale), _rated(room, scale)) for room in a.rooms)


def _room(room: RatedRoom, scale: Scale) -> str:
    t = scale.show(room.temperature, "temperature")
    return f"{t}, {scale.show(room.relative_humidity, 'relative humidity', 2)}"


def _rated(room: RatedRoom, scale: Scale) -> str:
    water = scale.show(room.water.middle, "water removal", 2)
    per_energy = scale.show(room.water_per_energy.middle, "water per energy", 2)
    ice = "; the coil freezes there, frost takes some of it" if room.freezes else ""
    return (
        f"{water} ({scale.range(room.water, 'water removal', 2)}), {per_energy} "
        f"({scale.range(room.water_per_energy, 'water per energy', 2)}); {room.name}{ice}"
    )
