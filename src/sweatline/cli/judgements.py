"""Verdicts, sources of uncertainty and cautions as they are printed under every answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sweatline.cli.speech import judgement
from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.units import Scale

if TYPE_CHECKING:
    from sweatline.design.measurement_priority import MeasurementPriority
    from sweatline.design.records import VerdictRecord
    from sweatline.safety.cautions import Caution
    from sweatline.uncertainty.sensitivity import Share

__all__ = ["doubt_lines", "print_cautions", "print_notes", "print_shares", "print_verdicts"]

_MARKS: Final[Mapping[str, str]] = {"fails": "FAULT", "holds": "clear", "note": "note"}


def print_verdicts(verdicts: Sequence[VerdictRecord], scale: Scale, draws: int) -> None:
    """Verdicts under two headings, safety first, faults before what holds."""
    for title, safety in (("Safety", True), ("Working", False)):
        chosen = [v for v in verdicts if v.safety is safety]
        if not chosen:
            continue
        heading(title)
        order = {"fails": 0, "note": 1, "holds": 2}
        rows: list[tuple[str, str]] = []
        for v in sorted(chosen, key=lambda v: (order[v.state], -(v.probability or 0.0))):
            rows.append((_MARKS[v.state], judgement(v, scale, draws)))
            origin = "Source" if v.limit is None else "Limit from"
            rows.append(("", f"{_capital(v.sentence).rstrip('.')}. {origin}: {v.source}."))
            if v.doubt is not None and draws:
                rows += [("", line) for line in doubt_lines(v.doubt)]
            if v.final and v.state == "fails":
                rows.append(("", "The rebuild must not go ahead with this."))
        listing(rows)


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


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def print_shares(shares: Sequence[Share]) -> None:
    """What a better measurement would sharpen."""
    if not shares:
        return
    heading("Where the spread of the water comes from")
    listing(
        (
            f"{100 * (s.share or 0.0):3.0f} %",
            f"{s.label} ({s.origin}{': ' + s.note if s.note else ''})",
        )
        for s in shares
        if s.share is not None and s.share >= 0.005
    )


def print_notes(notes: Sequence[str]) -> None:
    """What limits the answer."""
    for note in notes:
        paragraph(f"Note: {note}.", indent=2)


def print_cautions(cautions: Sequence[Caution]) -> None:
    """Cautions that apply, the general one last."""
    heading("Cautions")
    listing(("STOP" if c.stop else "-", c.text) for c in cautions)
