"""Verdicts, doubts, sources of uncertainty and cautions as they stand under every answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.design.verdict import Fact, MeasurementPriority, Verdict
from sweatline.report.sentences import judgement
from sweatline.safety.cautions import Caution
from sweatline.uncertainty.sensitivity import Share
from sweatline.units import Scale

_MARKS: Final[Mapping[str, str]] = {"fails": "FAULT", "holds": "clear", "note": "note"}
_ORDER: Final[Mapping[str, int]] = {"fails": 0, "note": 1, "holds": 2}
_MOST_SHARES: Final = 3


def print_verdicts(
    verdicts: Sequence[Verdict],
    scale: Scale,
    draws: int,
    *,
    details: bool = True,
) -> None:
    """Verdicts under two headings, safety first, faults before what holds.

    Without `details` what holds beyond doubt stands in one line, a reason only under what fails or
    is a note, and what is behind a doubt nowhere.
    """
    for title, safety in (("Safety", True), ("Working", False)):
        chosen = [v for v in verdicts if v.safety is safety]
        if not chosen:
            continue
        heading(title)
        rows: list[tuple[str, str]] = []
        for v in sorted(chosen, key=lambda v: (_ORDER[v.state], -(v.probability or 0.0))):
            if v.state == "holds" and v.doubt is None and not details:
                continue
            rows.append((_MARKS[v.state], judgement(v, scale, draws)))
            if details or v.state != "holds":
                rows.append(("", _reason(v, scale)))
            if v.doubt is not None and draws and details:
                rows += [("", line) for line in doubt_lines(v.doubt)]
            if v.final and v.state == "fails":
                rows.append(("", "The rebuild must not go ahead with this."))
        sure = [v.fault for v in chosen if v.state == "holds" and v.doubt is None]
        if sure and not details:
            rows.append((_MARKS["holds"], "; ".join(sure)))
        listing(rows)


def _reason(verdict: Verdict, scale: Scale) -> str:
    origin = "Source" if verdict.limit is None else "Limit from"
    facts = "".join(f", {_fact(f, scale)}" for f in verdict.facts)
    sentence = f"{verdict.sentence[:1].upper()}{verdict.sentence[1:]}".rstrip(".")
    return f"{sentence}{facts}. {origin}: {verdict.source}."


def _fact(fact: Fact, scale: Scale) -> str:
    return f"{fact.label} {scale.show(fact.value, fact.kind)}"


def doubt_lines(doubt: MeasurementPriority) -> list[str]:
    """What to measure before a doubtful verdict is believed, and what else is behind it."""
    lines = []
    first = doubt.measure_first
    if first:
        told = [f"{first[0].label} ({_percent(first[0].share)} of the doubt)"]
        told += [f"{c.label} ({_percent(c.share)})" for c in first[1:]]
        lines.append(
            f"Measure first: {', '.join(told)}. With {first[0].how} the chance would move to "
            f"{_percent(first[0].chance_low)} or to {_percent(first[0].chance_high)}, as it turns "
            "out."
        )
    if doubt.unmeasured:
        told = [f"{c.label} {_percent(c.share)} ({c.origin})" for c in doubt.unmeasured]
        lines.append(f"Of what nobody measured, most of the doubt: {', '.join(told)}.")
    return lines


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def print_shares(shares: Sequence[Share], *, details: bool = True) -> None:
    """What to measure better: what the spread of the water comes from."""
    shown = [s for s in shares if s.share >= 0.005][: None if details else _MOST_SHARES]
    if not shown:
        return
    heading("What to measure next, by its share in the spread of the water")
    listing(
        (
            f"{100 * s.share:3.0f} %",
            f"{s.label} ({s.origin}{': ' + s.note if s.note and details else ''})",
        )
        for s in shown
    )


def print_notes(notes: Sequence[str], *, details: bool = True) -> None:
    """What limits the answer; without `details` only that something does."""
    if notes and not details:
        count = "1 remark" if len(notes) == 1 else f"{len(notes)} remarks"
        paragraph(f"Note: {count} on what limits this answer: --details.", indent=2)
        return
    for note in notes:
        paragraph(f"Note: {note}.", indent=2)


def print_cautions(cautions: Sequence[Caution], *, details: bool = True) -> None:
    """Cautions that apply, those that stop the work always in full, the general one last."""
    heading("Cautions")
    shown = [c for c in cautions if details or c.stop or c.key == "no-approval"]
    rows = [("STOP" if c.stop else "-", c.text) for c in shown]
    left = len(cautions) - len(shown)
    if left:
        many = "1 more caution applies" if left == 1 else f"{left} more cautions apply"
        rows.insert(len(rows) - 1, ("-", f"{many}: --details."))
    listing(rows)
