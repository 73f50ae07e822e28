"""The evidence page as Markdown."""

from collections.abc import Iterable, Mapping, Sequence

from tests.evidence import BASES, Section
from tools.evidence import marks, parity, strips
from tools.evidence.values import HEADINGS, STATUSES, Record, Value, by_basis, worst
from tools.evidence.words import (
    capital,
    deviation,
    percent,
    sentence,
    tolerance,
    total,
    verdict,
    with_unit,
)

PICTURES = "pictures/evidence"

HEAD = """\
# Evidence

Made by `make evidence` from the tests in `tests/published`; do not edit. The same page, easier to read, is [evidence.html](evidence.html). Every value that a model is held against is here, with its source and our deviation. Nothing is left out because it looks bad; what is *not met* is a finding and stays on the page.
"""  # noqa: E501 - a paragraph of Markdown is one line

LEGEND = """\
*Status* says how sure the printed number is: **PUBLISHED** was read in the source named or in a public copy of it, **MEMORY 0.9** was recalled with that confidence, **common practice** is what the trade goes by, and **COMPUTED** came out of another program or an earlier run of this one: it guards against change and says nothing about nature. *Basis* says what kind of thing it is, from nearest to nature to farthest. *Fitted to it* says that a number of ours was chosen to agree with this value among others: agreement shows how well a form fits, not that it predicts. A value marked *aim* is recorded without failing the tests. The *worst* value is the one farthest off when deviations are counted in tolerances.
"""  # noqa: E501

# Bases of which the heading does not say enough.
EXPLAINED = ("measured", "fitted", "similar")

COLUMNS = (
    "no.",
    "source",
    "status",
    "basis",
    "quantity",
    "printed",
    "ours",
    "deviation",
    "tolerance",
    "verdict",
    "reason for the tolerance",
)


def cell(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|").replace("\n", " ")


def table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Lines of a table."""
    lines = ["| " + " | ".join(columns) + " |", "|---" * len(columns) + "|"]
    lines += ["| " + " | ".join(cell(c) for c in row) + " |" for row in rows]
    return lines


def counts(record: Record) -> list[tuple[str, ...]]:
    """How many values of each basis and status there are, how many are met, and the worst."""
    rows = []
    for basis, models in by_basis(record.values).items():
        values = [v for group in models.values() for v in group]
        met = sum(v.met for v in values)
        split = ", ".join(
            f"{n} {word}" for word in STATUSES if (n := sum(v.word == word for v in values))
        )
        far = worst(values)
        rows.append(
            (
                basis,
                BASES[basis],
                split,
                f"{met} of {len(values)} ({percent(met, len(values))})",
                f"{capital(far.model)}: {far.quantity}, {deviation(far)}, {tolerance(far)} allowed",
            )
        )
    return rows


def count_columns() -> tuple[str, ...]:
    """Header of `counts`."""
    return ("basis", "what it is", "values", "within tolerance", "worst")


FARTHEST = 10
FARTHEST_TEXT = f"The {FARTHEST} values from outside that are farthest off, in tolerances."
FARTHEST_COLUMNS = ("model", "quantity", "basis", "printed", "ours", "off by", "allowed")


def farthest(record: Record) -> list[tuple[str, ...]]:
    """The values farthest off, but for computed ones."""
    outside = [v for values in record.models.values() for v in values if v.status != "COMPUTED"]
    return [
        (
            capital(v.model),
            v.quantity,
            v.basis,
            with_unit(v.printed, v.unit, 4),
            with_unit(v.ours, v.unit, 4),
            deviation(v),
            tolerance(v),
        )
        for v in sorted(outside, key=lambda v: -abs(v.share))[:FARTHEST]
    ]


def outcomes(values: Sequence[Value]) -> list[str]:
    """Sentences on one model, one for each basis."""
    return [
        f"{basis}: {sentence(group)}"
        for basis, models in by_basis(values).items()
        for group in models.values()
    ]


def row(number_: int, value: Value) -> tuple[str, ...]:
    """One value as cells."""
    outcome = verdict(value)
    return (
        str(number_),
        value.source,
        value.status,
        value.basis + ", fitted to it" * value.in_sample,
        value.quantity,
        with_unit(value.printed, value.unit, 6),
        with_unit(value.ours, value.unit),
        deviation(value),
        tolerance(value),
        outcome if value.met else outcome.replace("not met", "**not met**"),
        value.reason,
    )


def picture(stem: str, text: str) -> str:
    """A picture of the page."""
    return f"![{text}]({PICTURES}/{stem}.svg)"


def section_lines(section: Section) -> list[str]:
    """A section of another form."""
    lines = [f"## {section.title}", ""]
    for paragraph in section.text:
        lines += [paragraph, ""]
    if section.columns:
        lines += [*table(section.columns, section.rows), ""]
    if section.series:
        stem = marks.slug(section.title)
        lines += [picture(stem, f"{section.y} over {section.x}"), ""]
    return lines


def without_plot(values: Sequence[Value], panels: Sequence[parity.Panel]) -> str:
    """Why values of a model stand in no parity plot, if any do not."""
    shown = sum(len(panel.values) for panel in panels)
    if shown == len(values):
        return ""
    some = "These values" if shown == 0 else f"{len(values) - shown} of these values"
    return (
        f"{some} stand in no plot of ours against printed: fewer than {parity.LEAST} sizes "
        "in one unit, or differences that should be 0."
    )


def by_model(record: Record) -> dict[str, list[parity.Panel]]:
    """Parity plots of each model."""
    found: dict[str, list[parity.Panel]] = {model: [] for model in record.models}
    for panel in parity.panels(record):
        found[panel.model].append(panel)
    return found


def summary(record: Record) -> list[str]:
    """The sentences, measured data first."""
    lines = ["## In short", "", total(record), ""]
    for basis, models in by_basis(record.values).items():
        lines += [f"### {HEADINGS[basis]}", ""]
        if basis in EXPLAINED:
            lines += [f"{capital(BASES[basis])}.", ""]
        outcomes = ((capital(model), sentence(values)) for model, values in models.items())
        lines += [*table(("model", "outcome"), outcomes), ""]
    return lines


def page(record: Record) -> str:
    """The whole page."""
    lines = [HEAD, *summary(record)]
    lines += ["## What the values are", "", LEGEND]
    lines += [*table(count_columns(), counts(record)), ""]
    lines += ["## Farthest off", "", FARTHEST_TEXT, ""]
    lines += [*table(FARTHEST_COLUMNS, farthest(record)), ""]
    lines += ["## All deviations", ""]
    for name in strips.STRIPS:
        lines.append(picture(f"strip-{name}", f"{strips.STRIP_TITLES[name]}: deviation"))
    lines.append("")
    for section in record.sections:
        lines += section_lines(section)
    panels = by_model(record)
    for model, values in record.models.items():
        lines += [f"## {capital(model)}", ""]
        lines += [*(f"- *{told.replace(':', '*:', 1)}" for told in outcomes(values)), ""]
        for panel in panels[model]:
            against = "computed" if panel.computed else "printed"
            lines.append(picture(panel.stem, f"ours against {against}, {panel.unit or 'no unit'}"))
        if panels[model]:
            lines.append("")
        if reason := without_plot(values, panels[model]):
            lines += [reason, ""]
        lines += table(COLUMNS, (row(i, v) for i, v in enumerate(values, start=1)))
        lines.append("")
    return "\n".join(lines)


def shown(record: Record) -> Mapping[str, str]:
    """What each picture of the page shows, by its name."""
    found = {f"strip-{name}": strips.shown(record, name) for name in strips.STRIPS}
    found |= {panel.stem: panel.shown for panel in parity.panels(record)}
    found |= {marks.slug(s.title): strips.section_shown(s) for s in record.sections if s.series}
    return found
