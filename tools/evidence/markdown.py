"""The evidence page as Markdown."""

from collections.abc import Iterable, Sequence

from tests.evidence import BASES
from tools.evidence import parity, six
from tools.evidence.values import HEADINGS, STATUSES, Record, Value, by_basis, worst
from tools.evidence.words import (
    capital,
    deviation,
    farthest_off,
    fitted,
    met,
    percent,
    plain,
    sentence,
    tolerance,
    total,
    with_unit,
)

HEAD = """\
# Evidence

Made by `make evidence` from the tests in `tests/published`; do not edit. One line for each subject and each kind of evidence. Nothing is left out because it looks bad. Every single value, with its source, its tolerance and plots, is in the full table of the site (`make docs`).
"""  # noqa: E501 - a paragraph of Markdown is one line

LEGEND = """\
*Status* says how certain the printed number is: **PUBLISHED** was read in the source named or in a public copy of it, **MEMORY 0.9** was recalled with that confidence, **common practice** is what the trade goes by. *Basis* says what kind of thing it is, from nearest to nature to farthest. *Fitted* says how many of the values helped to choose a number of ours: agreement then shows how well a form fits, not that it predicts. A value marked *aim* is recorded without failing the tests. The *worst* value is the one farthest off when deviations are counted in tolerances.
"""  # noqa: E501

# Bases that share a table of the summary, each being short.
SHARED = dict.fromkeys(
    ("table", "rule", "example"), "Held against printed tables, standards and worked examples"
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
        split = ", ".join(
            f"{n} {word}" for word in STATUSES if (n := sum(v.word == word for v in values))
        )
        far = worst(values)
        rows.append(
            (
                basis,
                BASES[basis],
                split,
                f"{met(values)} ({percent(sum(v.met for v in values), len(values))})",
                f"{capital(far.model)}: {far.quantity}, {deviation(far)}, {tolerance(far)} allowed",
            )
        )
    return rows


def count_columns() -> tuple[str, ...]:
    """Header of `counts`."""
    return ("basis", "what it is", "values", "within tolerance", "worst")


FARTHEST = 10
FARTHEST_TEXT = f"The {FARTHEST} values that are farthest off, in tolerances."
FARTHEST_COLUMNS = ("model", "quantity", "basis", "printed", "ours", "off by", "allowed")


def farthest(record: Record) -> list[tuple[str, ...]]:
    """The values farthest off."""
    every = [v for values in record.models.values() for v in values]
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
        for v in sorted(every, key=lambda v: -abs(v.share))[:FARTHEST]
    ]


def outcomes(values: Sequence[Value]) -> list[str]:
    """Sentences on one model, one for each basis."""
    return [
        f"{basis}: {sentence(group)}"
        for basis, models in by_basis(values).items()
        for group in models.values()
    ]


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


OUTCOME_COLUMNS = ("what", "met", "fitted or predicted", "worst of them")


def summary(record: Record) -> list[str]:
    """A line for each subject under each kind of evidence, measured data first."""
    lines = [total(record), ""]
    if rows := six.rows(record):
        lines += ["## In six lines", "", *table(six.COLUMNS, rows), "", six.note(record), ""]
    tables: dict[str, dict[str, list[Value]]] = {}
    for basis, models in by_basis(record.values).items():
        groups = tables.setdefault(SHARED.get(basis, HEADINGS[basis]), {})
        for model, values in models.items():
            groups.setdefault(plain(model), []).extend(values)
    for heading, groups in tables.items():
        rows = ((name, met(v), fitted(v), farthest_off(v)) for name, v in groups.items())
        lines += [f"## {heading}", "", *table(OUTCOME_COLUMNS, rows), ""]
    return lines


def page(record: Record) -> str:
    """The whole page."""
    lines = [HEAD, *summary(record)]
    lines += ["## What the values are", "", LEGEND]
    lines += [*table(count_columns(), counts(record)), ""]
    lines += ["## Farthest off", "", FARTHEST_TEXT, ""]
    lines += table(FARTHEST_COLUMNS, farthest(record))
    return "\n".join(lines) + "\n"
