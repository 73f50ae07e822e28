"""A job told back: every number, where it came from, how well known, and what to measure first.

Here are also the summary of the job that stands in every answer about it, and every key a job file
may hold, as a list for documentation and as a JSON schema for editors.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, Literal

from sweatline.answers import Answer, Hidden, Q
from sweatline.answers.fields import SI_UNITS
from sweatline.job.keys import Field, Key, Matters, Table, fields_of, keys_of
from sweatline.job.model import CapillaryStock, Coil, Compressor, Fan, Job
from sweatline.job.values import Quantity, Range
from sweatline.job.vocabulary import CONVENTIONS
from sweatline.uncertainty.parameter import Measured
from sweatline.units import Kind, Scale


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSummary:
    """The job an answer is about."""

    title: str
    path: str
    """File it was read from."""
    digest_sha256: str
    """Of the file's bytes, hexadecimal."""
    unit_system: Literal["US", "SI"]
    """Unit system of the text output; JSON is in SI always."""
    atmospheric_pressure: Annotated[float, Q("absolute pressure", doc="Zero of every gauge.")]
    altitude: Annotated[float, Q("altitude")]
    room_temperature: Annotated[float, Q("temperature")]
    room_relative_humidity: Annotated[float, Q("relative humidity", doc="0 to 1.")]
    target_superheat: Annotated[
        float, Q("temperature difference", doc="Wanted at the evaporator's outlet.")
    ]
    calibration_readings: int
    """Readings of the machine as it ran that the answer rests on; 0 when there are none."""


def summary_of(job: Job) -> JobSummary:
    """The job an answer is about."""
    return JobSummary(
        title=job.title,
        path=job.path,
        digest_sha256=job.digest,
        unit_system=job.unit_system,
        atmospheric_pressure=job.place.atmospheric_pressure,
        altitude=job.place.altitude,
        room_temperature=job.room.temperature.value,
        room_relative_humidity=job.room.relative_humidity.value,
        target_superheat=job.targets.superheat,
        calibration_readings=job.posterior.readings if job.posterior is not None else 0,
    )


# An error of one standard deviation that moves an answer by less is not worth a measurement.
_WORTH: Final = 2.0  # per cent
_MOST: Final = 5  # things to measure first


@dataclass(frozen=True, slots=True, kw_only=True)
class Item(Answer):
    """One number or word of a job."""

    part: str
    """Part of the machine."""
    label: str
    """What it is."""
    key: str
    """Path of its key in the job file; empty for what follows from others."""
    value: bool | int | float | str | list[float]
    """In SI, pressures absolute; a range is a list of two; or a word, a count, true or false."""
    sd: float | None
    """Standard uncertainty in the same unit; null where there is none."""
    unit: str
    """SI unit of the value; empty for words, counts and shares."""
    origin: str
    """measured, nameplate, inferred or default; stated for what is taken as exact; derived for
    what follows from others."""
    note: str
    """Why this value, or with which instrument."""
    written: str
    """What stands in the job file, empty when nothing does."""
    kind: Annotated[Kind | None, Hidden()] = None
    matters: Annotated[Matters | None, Hidden()] = None
    place: Annotated[str, Hidden()] = ""  # the part without the name that a person gave it
    table: Annotated[str, Hidden()] = ""  # of the file in which its key stands

    def shown(self, scale: Scale) -> str:
        """Value with its unit, as a person reads it."""
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if self.kind is None:
            return str(self.value) or "not stated"
        values = self.value if isinstance(self.value, list) else [self.value]
        texts = [scale.show(float(v), self.kind) for v in values]
        return " to ".join(texts)

    def spread(self, scale: Scale) -> str:
        """Standard uncertainty as a person reads it; empty when there is none."""
        if self.sd is None or self.kind is None or not isinstance(self.value, float):
            return ""
        return scale.spread(self.sd, self.value, self.kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureFirst(Answer):
    """A number whose uncertainty moves an answer most."""

    part: str
    label: str
    key: str
    """Path of its key in the job file."""
    moves: str
    """Answer that moves most."""
    percent: float
    """By how much one standard deviation of the number moves it, roughly. [%]"""
    how: str
    """How to measure it better."""
    item: Annotated[Item, Hidden()]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownCompressor(Answer):
    """What is inferred of a compressor from what is written of it."""

    name: str
    source: str
    """What it is known by."""
    refrigerant: str
    """With which, at what follows: its rating point, the middle of its table or map, or else a
    usual rating condition."""
    evaporating_temperature: Annotated[float, Q("temperature", "evaporating")]
    condensing_temperature: Annotated[float, Q("temperature", "condensing")]
    displacement: Annotated[float, Q("volume", "displacement")]
    clearance: float
    """Share of the displacement that re-expands."""
    volumetric_efficiency: float
    """Gas drawn in, as it comes to the stub, over the displacement."""
    cooling: Annotated[float, Q("cooling capacity", "capacity")]
    power: Annotated[float, Q("power", "power")]
    fixed_loss: Annotated[float, Q("power", "fixed loss", "Watts that do not go with the load.")]
    isentropic_efficiency: float
    """Share of the watts that becomes isentropic work."""
    capacity_miss: float | None
    """Root mean square relative deviation from the table or map; null where there is none."""
    watts_miss: float | None
    """Likewise."""
    throughput_miss: float | None
    """Likewise, from flows that are printed."""
    doubts: tuple[str, ...]
    """What contradicts itself, a sentence each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Answer):
    """`sweatline check --json`: what was read from a job file."""

    job: JobSummary
    measure_first: tuple[MeasureFirst, ...]
    """What is worth measuring before anything else, the most telling first."""
    items: tuple[Item, ...]
    assumed: tuple[str, ...]
    """Keys of what nobody wrote and the program assumed."""
    compressors: tuple[KnownCompressor, ...] = ()
    """What is inferred of each compressor on the bench."""

    def of_origin(self, *origins: str) -> tuple[Item, ...]:
        """Items that come from there."""
        return tuple(item for item in self.items if item.origin in origins)


def check(job: Job, compressors: tuple[KnownCompressor, ...] = ()) -> Check:
    """What was read from a job file, what is assumed, and what to measure first.

    What is inferred of the compressors is handed in: it takes the models of a room above.

    What to measure first is ranked without solving the machine: the uncertainty of a number times
    what an error of it does in a usual machine (:class:`~sweatline.job.keys.Matters`). The ranking
    for one choice of parts is that of `sweatline balance`.
    """
    items = explain(job)
    return Check(
        job=summary_of(job),
        measure_first=tuple(_measure_first(job, items)),
        items=items,
        assumed=tuple(item.key for item in items if item.origin == "default"),
        compressors=compressors,
    )


def _measure_first(job: Job, items: tuple[Item, ...]) -> Iterator[MeasureFirst]:
    found: dict[tuple[str, str], MeasureFirst] = {}
    for item in items:
        value, sd, matters = item.value, item.sd, item.matters
        if matters is None or not sd or not isinstance(value, float) or not value:
            continue
        if job.ran_well and matters.taught:
            continue  # readings of the machine as it ran say more than another measurement
        if item.table == "original":
            continue  # it is no longer in the machine
        share = sd if item.kind == "temperature" else 100.0 * sd / abs(value)
        one = MeasureFirst(
            part=item.part,
            label=item.label,
            key=item.key,
            moves=matters.answer,
            percent=matters.percent * share,
            how=matters.how,
            item=item,
        )
        # Of several tubes or compressors the least certain stands for all.
        kind = (item.table, item.label)
        if kind not in found or found[kind].percent < one.percent:
            found[kind] = one
    ranked = sorted(found.values(), key=lambda one: -one.percent)
    yield from [one for one in ranked if one.percent >= _WORTH][:_MOST]


def explain(job: Job) -> tuple[Item, ...]:
    """Every number and word of a job, grouped by part, with what follows from them at once.

    Parameters
    ----------
    job : Job
        Job as read.

    Returns
    -------
    tuple of Item
        In the order of the model; then coil areas and volumes, and the air's speed at the
        evaporator's face.
    """
    return tuple(_Teller(job).job())


_PLACES: Final = {"ran_well": "ran well", "ran_a_day": "ran a day"}


class _Teller:
    """Turns the fields of one job into items."""

    def __init__(self, job: Job) -> None:
        self.of = job
        self.written = dict(job.written)
        self.assumed = dict(job.assumed)

    def job(self) -> Iterator[Item]:
        for field in fields_of(Job):
            thing, table = getattr(self.of, field.name), field.table
            if table is None:
                if field.keys[0].label:
                    yield self.item(field, field.keys[0], ", ".join(thing), field.name, "")
            elif table.aside and not self.says(table.name):
                continue
            elif not table.many:
                yield from self.placed(thing, table.name, table.name, table.name, table.name)
            else:
                for n, one in enumerate(thing, 1):
                    place = _PLACES.get(table.name, f"{table.name} {n}")
                    part, path = f"{place}: {one.name}", f"{table.name}[{n}]"
                    yield from self.placed(one, part, path, place, table.name)

    def says(self, table: str) -> bool:
        """Whether anything of a table is written in the file."""
        return any(path.startswith(f"{table}.") for path in self.written)

    def placed(self, thing: Any, part: str, path: str, place: str, table: str) -> Iterator[Item]:
        """Items of one part of the job, with the place where it stands."""
        for item in self.part(thing, part, path):
            yield replace(item, place=item.place or place, table=table)

    def part(self, thing: Any, part: str, path: str) -> Iterator[Item]:
        for field in fields_of(type(thing)):
            value = getattr(thing, field.name)
            if field.table is not None and field.table.many:
                name = f"{path}.{field.table.name}"
                if len(value) == 1:
                    yield from self.part(value[0], part, name)
                    continue
                for n, one in enumerate(value, 1):
                    point = f"{part}, {field.table.name} point {n}"
                    for item in self.part(one, point, f"{name}[{n}]"):
                        yield replace(item, matters=None)  # one of many decides little
            elif field.table is not None:
                yield from self.inner(value, field, part, f"{path}.{field.table.name}")
            elif value is not None and field.keys[0].label:
                yield self.item(field, field.keys[0], value, part, f"{path}.")
            elif field.name == "displacement":
                nothing = self.item(field, field.keys[0], "not stated", part, f"{path}.")
                told = thing.ratings or thing.map is not None
                note = f"worked out from the {'rating or the map' if told else 'plate'}"
                yield replace(nothing, origin="inferred", note=note)
        if isinstance(thing, Coil):
            yield from _coil(part, thing)
        if isinstance(thing, Fan):
            yield _air_speed(self.of)

    def inner(self, thing: Any, field: Field, part: str, path: str) -> Iterator[Item]:
        """A map of a compressor, or a part that the original ran with."""
        if thing is None:
            return
        if not isinstance(thing, Compressor | CapillaryStock):
            yield from self.part(thing, part, path)
        elif thing not in (*self.of.compressors, *self.of.capillaries):
            part = f"{field.name} of the original"
            for item in self.part(thing, part, path):
                yield replace(item, place=part)

    def item(self, field: Field, key: Key, value: Any, part: str, dot: str) -> Item:
        """Item of one field: the path of its key, and what was written there or assumed."""
        path = dot + key.name
        kind: Kind | None = "temperature" if isinstance(key.value, Range) else None
        if isinstance(key.value, Quantity):
            kind = key.value.kind
        origin, note, sd = "stated", "", None
        if isinstance(value, Measured):
            origin, note, sd, value = value.origin, value.note, value.sd, float(value.value)
        elif path in self.assumed:
            origin, note = "default", self.assumed[path]
        if isinstance(value, tuple):
            value = list(value)
        if field.name == "convention" and value in CONVENTIONS:
            note = CONVENTIONS[value].words(self.of.unit_system)
        if isinstance(value, str):
            kind = None
        ways = (dot + way.name for way in field.keys)
        return Item(
            part=part,
            label=key.label,
            key=path,
            value=value,
            sd=sd,
            unit=SI_UNITS[kind] if kind is not None else "",
            origin=origin,
            note=note,
            written=next((self.written[way] for way in ways if way in self.written), ""),
            kind=kind,
            matters=key.matters,
        )


def _derived(part: str, label: str, value: float, share: float, kind: Kind, note: str) -> Item:
    """A quantity that follows from others, known to a share of itself."""
    return Item(
        part=part,
        label=label,
        key="",
        value=value,
        sd=share * abs(value),
        unit=SI_UNITS[kind],
        origin="derived",
        note=note,
        written="",
        kind=kind,
    )


def _share(*knowns: Measured) -> float:
    """Relative standard uncertainty of a product of independent quantities."""
    return math.sqrt(sum((k.sd / k.value) ** 2 for k in knowns if k.value))


def _coil(part: str, coil: Coil) -> Iterator[Item]:
    tubes = coil.rows * coil.tubes_per_row
    length = tubes * coil.finned_length.value
    height = coil.tubes_per_row * coil.transverse_pitch.value
    depth = coil.rows * coil.longitudinal_pitch.value
    outer, wall = coil.tube_outer_diameter.value, coil.tube_wall.value
    bore = outer - 2.0 * wall
    fins = coil.finned_length.value / coil.fin_pitch.value
    holes = tubes * math.pi / 4.0 * outer**2
    area = fins * 2.0 * (height * depth - holes)
    area += math.pi * outer * length * (1.0 - coil.fin_thickness.value / coil.fin_pitch.value)
    bore_sd = math.hypot(coil.tube_outer_diameter.sd, 2.0 * coil.tube_wall.sd) / bore
    face_sd = _share(coil.transverse_pitch, coil.finned_length)
    note = "finned length by height"
    yield _derived(part, "face area", coil.face_area, face_sd, "area", note)
    note = f"{tubes} tubes, without the bends"
    yield _derived(part, "tube length", length, _share(coil.finned_length), "length", note)
    volume = math.pi / 4.0 * bore**2 * length
    volume_sd = math.hypot(2.0 * bore_sd, _share(coil.finned_length))
    note = "without the bends"
    yield _derived(part, "volume inside the tubes", volume, volume_sd, "volume", note)
    area_sd = _share(coil.fin_pitch, coil.transverse_pitch, coil.longitudinal_pitch)
    note = f"{round(fins)} fins, both sides, and the bare tube between"
    yield _derived(part, "outside area", area, area_sd, "area", note)


def _air_speed(job: Job) -> Item:
    coil, flow = job.evaporator, job.fan.volume_flow
    share = _share(flow, coil.finned_length, coil.transverse_pitch)
    speed = flow.value / coil.face_area
    label = "speed at the evaporator's face"
    return _derived("fan", label, speed, share, "speed", "airflow by face area")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One key of a job file in the table where it stands.

    Parameters
    ----------
    table : str
        Header under which it stands, empty at the top of the file.
    key : Key
        Its declaration.
    needed : bool
        Nothing can stand in for it.
    """

    table: str
    key: Key
    needed: bool

    @property
    def name(self) -> str:
        """The key as it is written."""
        return self.key.name


def _entries(part: type, table: Table | None, path: tuple[str, ...]) -> Iterator[Entry]:
    header = ".".join(path)
    if header:
        many = table is not None and table.many and not table.alone
        header = f"[[{header}]]" if many else f"[{header}]"
    inner: list[tuple[type, Table]] = []
    for field, key, needed in keys_of(part, table).values():
        if key is not None:
            yield Entry(table=header, key=key, needed=needed)
        elif field.part is not None and field.table is not None:
            inner.append((field.part, field.table))
    for one, below in inner:
        yield from _entries(one, below, (*path, below.name))


def glossary() -> tuple[Entry, ...]:
    """Every key of a job file, table by table."""
    return tuple(_entries(Job, None, ()))


def job_schema() -> dict[str, Any]:
    """JSON schema of a job file, for editors that complete and check TOML by one.

    Quantities are strings with a unit; what units a kind takes is told in the description, and
    only the reader checks it.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "sweatline job file",
        **_table_schema(Job, None),
    }


def _table_schema(part: type, table: Table | None) -> dict[str, Any]:
    keys = keys_of(part, table)
    properties: dict[str, Any] = {}
    for name, (field, key, _needed) in keys.items():
        if key is not None:
            properties[name] = key.schema
        elif field.part is not None and field.table is not None:
            inner = _table_schema(field.part, field.table)
            many = {"type": "array", "minItems": 1, "items": inner}
            either = {"anyOf": [inner, many]} if field.table.alone else many
            properties[name] = either if field.table.many else inner
    found = {"type": "object", "additionalProperties": False, "properties": properties}
    required = [name for name, (*_, needed) in keys.items() if needed]
    return {**found, "required": required} if required else found
