"""What stands in a log: readings, additions of refrigerant, notes, events, and what corrects them.

All numbers are SI, pressures absolute; beside them stands what the person typed. How well an
instrument reads is a standard deviation. A dial's class is its greatest error in per cent of its
range (EN 837-1, MEMORY high); nothing says where within it an error lies, so its standard deviation
is that over the root of three. The step of a display adds its own over the root of twelve.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q
from sweatline.errors import JobError
from sweatline.log.channels import ACKNOWLEDGED, CHANNELS, INSTRUMENT_CHANGED, RULED_OUT
from sweatline.log.lines import changed_instrument, plain_name, what_is_ruled_out
from sweatline.units import Kind as Quantity
from sweatline.units import parse

Kind = Literal["reading", "addition", "note", "event", "withdrawal"]
Phase = Literal["", "liquid", "vapour"]

_CLASSES: Final = (0.01, 10.0)
_WORDS_ONLY: Final = ("", ACKNOWLEDGED, INSTRUMENT_CHANGED, RULED_OUT)
_ERRORS: Final[tuple[Quantity, ...]] = (
    "pressure difference",
    "absolute pressure",  # of a vacuum gauge, in micron
    "temperature difference",
    "mass",
    "power",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """What reads a quantity, and how well."""

    name: str
    absolute: float = 0.0  # standard uncertainty, SI of what it reads
    relative: float = 0.0
    note: str = ""
    # Standard uncertainty from one reading to the next; None when nobody said it.
    repeats: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Answer):
    """One row of a log. The store gives `id` and `written_at`.

    A row that `corrects` an earlier one stands in its place; a withdrawal takes it away. The
    earlier row stays in the file.
    """

    kind: Kind
    happened_at: Annotated[float, Q("time", doc="Since 1970-01-01, UTC.")]
    text: str
    """As typed."""
    key: str = ""
    """Chosen by the writer, so that a repeated try is not a second entry."""
    channel: str = ""
    """What was read, or which event; empty for the others."""
    quantity: str = ""
    """Kind of quantity."""
    value: Annotated[float | None, Q("ratio", doc="SI, pressures absolute.", unit="SI")] = None
    sd: Annotated[float | None, Q("ratio", doc="Where the person stated it.", unit="SI")] = None
    unit: str = ""
    """That it was typed in."""
    instrument: str = ""
    atmosphere: Annotated[float | None, Q("absolute pressure", doc="Zero of the gauges then.")] = (
        None
    )
    refrigerant: str = ""
    phase: Phase = ""
    corrects: int | None = None
    """Number of the row whose place it takes."""
    id: int = 0
    """Number of the row."""
    written_at: Annotated[float, Q("time")] = 0.0

    @property
    def event(self) -> str:
        """Which event it is; empty for any other entry."""
        return self.channel if self.kind == "event" else ""

    @property
    def done(self) -> bool:
        """Whether something was done to the machine.

        To have read a caution, to have looked, or to read with another instrument does nothing
        to it.
        """
        return self.kind == "addition" or self.event not in _WORDS_ONLY

    @property
    def renewed(self) -> str:
        """The reading that another instrument takes from now on; empty for any other entry."""
        return changed_instrument(self.text)[0] if self.event == INSTRUMENT_CHANGED else ""

    @property
    def ruled_out(self) -> str:
        """What was looked at and is in order; empty for any other entry."""
        return what_is_ruled_out(self.text) if self.event == RULED_OUT else ""

    @property
    def number(self) -> float:
        """Its value; 0 for an entry without one. [SI]"""
        return float(self.value or 0.0)


def ruled_out_after(before: frozenset[str], entry: Entry) -> frozenset[str]:
    """What was looked at and is in order, once an entry is taken in too.

    An opened circuit has new joints, and air in it; another instrument was not compared.
    """
    if entry.ruled_out:
        return before | {entry.ruled_out}
    if entry.event == "opened":
        return before - {"leak", "air"}
    return before - {entry.renewed}


def active_entries(
    entries: Iterable[Entry], *, order: Literal["happened", "written"] = "happened"
) -> list[Entry]:
    """The entries that hold: corrected ones in their latest form, withdrawn ones left out.

    In the order in which things happened, what happened together in the order written; or all in
    the order written, a correction in the place of what it corrects.
    """
    latest: dict[int, Entry] = {}
    first: dict[int, int] = {}  # of a row, the row that it goes back to
    for entry in sorted(entries, key=lambda e: e.id):
        origin = entry.id
        if entry.corrects is not None:
            origin = first.get(entry.corrects, entry.corrects)
        first[entry.id] = origin
        latest[origin] = entry
    held = [e for e in latest.values() if e.kind != "withdrawal"]
    if order == "written":
        return sorted(held, key=lambda e: first[e.id])
    return sorted(held, key=lambda e: (e.happened_at, first[e.id]))


def described(
    name: str,
    *,
    accuracy: str | None = None,
    span: str | None = None,
    error: str | None = None,
    step: str | None = None,
    repeats: str | None = None,
) -> Instrument:
    """An instrument from what is printed on it.

    Parameters
    ----------
    accuracy, span : str, optional
        Class of a dial, and its range as ``-1 to 10 bar``.
    error : str, optional
        Standard deviation with its unit, or in per cent of the reading.
    step : str, optional
        Smallest step of its display, with its unit.
    repeats : str, optional
        Standard deviation from one reading to the next, with its unit.

    Raises
    ------
    JobError
        Nothing was said, a class without its range, or no such quantity.
    """
    name = plain_name(name) if plain_name(name) in CHANNELS else name
    if (accuracy is None) != (span is None):
        raise JobError(what="a class says nothing without its range", allowed="give both")
    dial = None if accuracy is None else f"{accuracy}, {span}"
    said = {"class": dial, "error": error, "step": step, "repeats": repeats}
    told = [f"{word} {text}" for word, text in said.items() if text is not None]
    if not told:
        raise JobError(
            what=f"nothing was said about {name}",
            allowed="give its class and range, its error, its step, or how well it repeats",
        )
    parts: list[float] = []
    relative = 0.0
    if accuracy is not None and span is not None:
        parts.append(_class(accuracy) / 100.0 * _span(span) / math.sqrt(3.0))
    if error is not None and error.strip().endswith("%"):
        relative = _percent(error)
    elif error is not None:
        parts.append(_some(error, "error"))
    if step is not None:
        parts.append(_some(step, "step") / math.sqrt(12.0))
    return Instrument(
        name=name,
        absolute=math.hypot(*parts),
        relative=relative,
        note="; ".join(told),
        repeats=None if repeats is None else _some(repeats, "repeats"),
    )


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return math.nan


def _class(text: str) -> float:
    found = _number(text)
    if not _CLASSES[0] <= found <= _CLASSES[1]:
        raise JobError(
            what="not a class of a gauge", read=text, allowed="as 1, 1.6 or 2.5", field="class"
        )
    return found


def _percent(text: str) -> float:
    found = _number(text.strip().rstrip("%")) / 100.0
    if not 0.0 < found < 0.5:
        raise JobError(
            what="not a share of the reading", read=text, allowed='as "1 %"', field="error"
        )
    return found


def _some(text: str, field: str) -> float:
    """A difference of any quantity that is read here. [SI]"""
    first: JobError | None = None
    for kind in _ERRORS:
        try:
            found = parse(text, kind).value
        except JobError as error:
            first = first or error
            continue
        if found > 0.0:
            return found
    raise JobError(
        what="not an error of pressure, temperature, mass or power",
        read=text,
        allowed='as "4 kPa", "0.5 K", "1 g" or "2 W"',
        field=field,
    ) from first


def _span(text: str) -> float:
    """Width of a gauge's range. [Pa]"""
    low, word, high = text.partition(" to ")
    if not word:
        low, high = "0", text
    unit = high.lstrip("-+0123456789., ")
    if not low.strip("-+0123456789., "):
        low = f"{low.strip()} {unit}"
    ends = [parse(end.strip(), "pressure difference").value for end in (low, high)]
    if ends[1] <= ends[0]:
        raise JobError(
            what="not the range of a gauge", read=text, allowed='as "-1 to 10 bar"', field="range"
        )
    return ends[1] - ends[0]


def sd_of(
    entry: Entry, instruments: Mapping[str, Instrument], atmosphere: float
) -> tuple[float, str]:
    """Standard deviation of a reading and where it comes from. [SI]

    What was stated with the reading counts first, then the instrument it names or, where it names
    none, the one that bears the reading's own name, then the default of its channel.
    """
    channel = CHANNELS[entry.channel]
    value = entry.number
    low, high = channel.believable
    if entry.sd is not None and low <= entry.sd <= high:
        return entry.sd, "stated with the reading"
    one = instruments.get(entry.instrument or entry.channel)
    if one is not None:
        shown = abs(value - atmosphere) if "pressure" in entry.quantity else abs(value)
        relative = 0.0 if entry.quantity == "temperature" else one.relative * shown
        sd = math.hypot(one.absolute, relative)
        if low <= sd <= high:
            return sd, one.note or one.name
    return (channel.sd * abs(value) if channel.relative else channel.sd), "assumed"


def scale_step(instruments: Mapping[str, Instrument]) -> float:
    """Standard deviation of what one reading of the scale says; 0 when it is not known. [kg]"""
    one = instruments.get("scale")
    return one.absolute if one is not None and one.absolute < 0.1 else 0.0
