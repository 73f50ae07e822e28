"""The page of the job file: every key it may hold, and what stands in for it.

Meanings come from the glossary of the reader; defaults from reading two jobs that hold nothing but
what must be there. `tools/build_site.py` puts it into the site.
"""

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from pydantic import BaseModel

from sweatline.job.glossary import Key, glossary
from sweatline.job.mistakes import section_of
from sweatline.job.model import Job
from sweatline.job.names import REFRIGERANTS
from sweatline.job.reading import read_job_text
from sweatline.job.rules import Quantity
from sweatline.job.schema import LISTS, JobFile
from sweatline.uncertainty.measured import Measured
from sweatline.units import Kind, show, show_spread

HEAD = """\
# Job file

A job file is a text file in TOML that says what is on the bench. `examples/seed-store.toml` shows
a full one, `examples/boat-shed.toml` one with only what was at hand, `examples/timber-store.toml`
one with readings from when the machine ran well.

- Every quantity stands in quotation marks with its unit, as it was read off the tool or the plate:
  `"27 psig"`, `"1.9 bar(g)"`, `"29 inHg vacuum"`, `"9 1/2 oz"`, `"0.042 in"`, `"62 °F"`. US and
  metric units may be mixed; `units` only chooses what results are shown in.
- A pressure says whether it is gauge or absolute: `psig` or `psia`, `bar(g)` or `bar(a)`.
- `"4.9 ± 0.1 cc"` states one standard deviation. Without it the column *trusted as* applies.
- A line that nobody can fill in is left out. Its default takes its place, with a wide uncertainty;
  `sweatline check JOB` shows which ones, `sweatline balance` which of them matter.
- Mistakes are told all at once, each with its line and what would be right.

- `[original]` is the machine as it was sold. With `[original.compressor]` it is worked out as it
  ran, and its plate and the readings under `[[ran_well]]`, one table for each time, calibrate what
  stays in the rebuild: `sweatline calibrate JOB`.

Keys marked **needed** have no default; in an optional table they are needed when the table stands.
A `-` under *if left out* means that nothing is assumed: the judgement or the way of working it out
that needs the number falls away.
"""

COIL = """\
tube_outer_diameter = "9.52 mm"
rows = 2
tubes_per_row = 10
transverse_pitch = "25.4 mm"
longitudinal_pitch = "22 mm"
finned_length = "260 mm"
fin_pitch = "1.8 mm"
"""

ORIGINAL = "R-22"
PLATE = f"""\
[original]
refrigerant = "{ORIGINAL}"
water_removal = "15 L/day"
"""

BARE = f"""\
kind = "dehumidifier"
units = "UNITS"
refrigerants = ["R-134a"]
[room]
temperature = "20 °C"
humidity = "60 %RH"
[supply]
voltage = "230 V"
frequency = "50 Hz"
{PLATE}[evaporator]
{COIL}[condenser]
{COIL}[[compressor]]
name = "one"
kind = "reciprocating"
displacement = "7 cm3"
[[compressor]]
name = "two"
kind = "rotary"
displacement = "7 cm3"
[[capillary]]
name = "reel"
bore = "1.2 mm"
"""

# Keys whose value in the job goes by another name than in the file.
OTHER_NAME = {
    ("room", "humidity"): "relative_humidity",
    ("place", "pressure"): "atmospheric_pressure",
    ("original", "rating_humidity"): "rating_relative_humidity",
    ("fan", "airflow"): "volume_flow",
}

# Defaults that follow from other lines of the job: the reason is told, not one job's number.
DEPENDS = {
    ("fan", "airflow"),
    ("fan", "power"),
    ("evaporator", "tube_wall"),
    ("condenser", "tube_wall"),
    ("limits", "high_side_pressure"),
    ("limits", "low_side_pressure"),
    ("place", "pressure"),
    ("compressor", "rated_frequency"),
}

# What no bare job can show.
BY_HAND = {
    ("", "title"): '"Untitled job"',
    ("capillary", "fitted"): "false",
    ("compressor", "displacement"): "worked out from the rating or the map; one of the three is "
    "needed",
    ("compressor.rating", "conditions"): "as the temperatures below; one or the other is needed",
    ("original.compressor", "displacement"): "as for a compressor on the bench",
    ("original.compressor", "name"): "original compressor",
    ("original.compressor", "kind"): "needed unless the name is that of a compressor on the bench",
    ("original.compressor.rating", "conditions"): "as the temperatures below",
    ("original.capillary", "name"): "original capillary",
    (
        "original.capillary",
        "bore",
    ): "that of the capillary named; without this table the fitted one",
    ("original.capillary", "length"): "as above",
    ("ran_well", "name"): "reading 1, reading 2 ...",
    ("ran_well", "charge"): "the charge on the plate, or else unknown and worked out",
}


def sections(section: type[BaseModel], table: str = "") -> Iterator[tuple[str, type[BaseModel]]]:
    """Every section of the schema with its path."""
    yield table, section
    for name, field in section.model_fields.items():
        inner = section_of(field.annotation)
        if inner is not None:
            yield from sections(inner, f"{table}.{name}" if table else name)


def quantity(section: type[BaseModel], name: str) -> Quantity | None:
    """The rule of a key that holds a physical quantity."""
    for rule in section.model_fields[name].metadata:
        if isinstance(rule, Quantity):
            return rule
    return None


def amount(known: Measured, kind: Kind) -> str:
    """A default with its uncertainty."""
    text = show(known.value, kind, "SI")
    spread = show_spread(known.sd, known.value, kind, "SI")
    return f"{text} ± {spread}" if spread else text


def parts_of(job: Job, table: str) -> list[Any]:
    """Parts of a job that a table of the file describes."""
    if table == "compressor":
        return list(job.compressors)
    if table == "capillary":
        return list(job.capillaries)
    return [getattr(job, table)] if hasattr(job, table) else []


def assumption(job: Job, table: str, name: str, kind: Kind | None) -> str:
    """What a bare job assumes for a key, and why; empty when it assumes nothing."""
    table = table.removeprefix("original.")  # its parts get the defaults of those on the bench
    attribute = OTHER_NAME.get((table, name), name)
    path = f"{table}[1].{name}" if table in LISTS else f"{table}.{name}"
    reason = dict(job.assumed).get(path, "")
    told = []
    for part in parts_of(job, table):
        value = getattr(part, attribute) if hasattr(part, attribute) else None
        if isinstance(value, Measured):
            if value.origin not in ("default", "inferred"):
                continue
            assert kind is not None
            text, note = amount(value, kind), value.note
        elif not reason or value in (None, ""):
            continue
        else:
            text, note = plain(value, kind), reason
        if (table, name) in DEPENDS:
            text = (note or reason).replace(f"the original {ORIGINAL}", "the original refrigerant")
        elif note:
            text += f" ({note})"
        if text not in told:
            told.append(text)
    if not told and (table, name) in DEPENDS:
        return reason
    return "; ".join(told)


def plain(value: object, kind: Kind | None) -> str:
    """A word or a number without uncertainty as the job holds it."""
    if isinstance(value, float) and kind is not None:
        return show(value, kind, "SI")
    return str(value)


def otherwise(key: Key, table: str, kind: Kind | None, jobs: tuple[Job, Job, Job]) -> str:
    """What is assumed when a key is left out."""
    if key.needed:
        return "**needed**"
    if (table, key.name) in BY_HAND:
        return BY_HAND[table, key.name]
    metric, trade, bare = (assumption(job, table, key.name, kind) for job in jobs)
    if metric != trade:
        return f"{metric}, in an SI job; {trade}, in a US job"
    if metric != bare and bare:
        return f"{metric}; without plate data {bare}"
    return metric or "-"


def cell(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|").replace("\n", " ")


def page() -> str:
    """The whole page."""
    by_path = dict(sections(JobFile))
    jobs = (
        read_job_text(BARE.replace("UNITS", "SI")),
        read_job_text(BARE.replace("UNITS", "US")),
        read_job_text(BARE.replace("UNITS", "SI").replace(PLATE, "")),
    )
    lines = [HEAD]
    for table_header, keys in groupby(glossary(), key=lambda k: k.table):
        lines.append(f"## {f'`{table_header}`' if table_header else 'At the top of the file'}\n")
        lines.append("| key | meaning | kind | written | if left out | trusted as |")
        lines.append("|---|---|---|---|---|---|")
        table = table_header.strip("[]")
        for key in keys:
            rule = quantity(by_path[table], key.name)
            kind = rule.kind if rule is not None else None
            cells = (
                f"`{key.name}`",
                key.meaning,
                kind or "",
                f"`{key.written}`",
                otherwise(key, table, kind, jobs),
                key.uncertainty,
            )
            lines.append("| " + " | ".join(cell(c) for c in cells) + " |")
        lines.append("")
    lines.append(f"## Refrigerants\n\n{', '.join(REFRIGERANTS)}.\n")
    return "\n".join(lines)
