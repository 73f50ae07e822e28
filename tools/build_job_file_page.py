"""The page of the job file: every key it may hold, and what stands in for it.

Everything comes from the declarations of the keys. `tools/build_site.py` puts it into the site.
"""

from itertools import groupby

from sweatline.job.explanation import Entry, glossary
from sweatline.job.keys import Assumed, OneOf
from sweatline.job.values import Quantity
from sweatline.job.vocabulary import REFRIGERANTS
from sweatline.units import SI_SCALE, show

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
- `"about 4 ft"` is a rough value, worth three times less than the tool reads and no better than a
  twentieth of itself, or 2 K.
- A line that nobody can fill in is left out, or says `"not known"`. Its default takes its place,
  with a wide uncertainty; `sweatline check JOB` shows which ones and what to measure first,
  `sweatline balance` which of them matter for one choice of parts.
- Mistakes are told all at once, each with its line and what would be right.

- `[compressor.rating]` is one rating point, or stands as `[[compressor.rating]]` once for each
  point copied from a data sheet. A named rating condition then says return gas and liquid, and
  each point its evaporating and condensing temperature. The points are for one refrigerant.
- `[original]` is the machine as it was sold. With `[original.compressor]` it is worked out as it
  ran, and its plate and the readings under `[[ran_well]]`, one table for each time, calibrate what
  stays in the rebuild: `sweatline calibrate JOB`.

Keys marked **needed** have no default; in an optional table they are needed when the table stands.
A `-` under *if left out* means that nothing is assumed: the judgement or the way of working it out
that needs the number falls away.
"""


def kind_of(entry: Entry) -> str:
    """Kind of quantity of a key; empty for words and counts."""
    value = entry.key.value
    return value.kind if isinstance(value, Quantity) else ""


def otherwise(entry: Entry) -> str:
    """What is assumed when a key is left out."""
    if entry.needed:
        return "**needed**"
    key = entry.key
    if key.otherwise:
        return key.otherwise
    if isinstance(key.default, OneOf):
        options = key.default.options.items()
        return "; ".join(f"{word}: {assumption(entry, one)}" for word, one in options)
    return assumption(entry, key.default) if isinstance(key.default, Assumed) else "-"


def assumption(entry: Entry, default: Assumed) -> str:
    """A default with its uncertainty and its reason."""
    text, value = str(default.value), entry.key.value
    if not text:
        return "-"
    if isinstance(value, Quantity):
        text = show(default.value, value.kind, "SI")
        spread = SI_SCALE.spread(default.sd, default.value, value.kind)
        text += f" ± {spread}" if spread else ""
    return f"{text} ({default.note})" if default.note else text


def cell(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|").replace("\n", " ")


def page() -> str:
    """The whole page."""
    lines = [HEAD]
    for header, entries in groupby(glossary(), key=lambda entry: entry.table):
        lines.append(f"## {f'`{header}`' if header else 'At the top of the file'}\n")
        lines.append("| key | meaning | kind | written | if left out | trusted as |")
        lines.append("|---|---|---|---|---|---|")
        for entry in entries:
            cells = (
                f"`{entry.name}`",
                entry.key.meaning,
                kind_of(entry),
                f"`{entry.key.written}`",
                otherwise(entry),
                entry.key.uncertainty,
            )
            lines.append("| " + " | ".join(cell(c) for c in cells) + " |")
        lines.append("")
    mixture = 'and mixtures of propane, isobutane and propylene by mass, as "R-290/R-600a 60/40"'
    lines.append(f"## Refrigerants\n\n{', '.join(REFRIGERANTS)}; {mixture}.\n")
    return "\n".join(lines)
