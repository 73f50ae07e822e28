"""Verdicts, sources of uncertainty and cautions as they are printed under every answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sweatline.cli.speech import Scale, judgement
from sweatline.cli.terminal import heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.study.records import CautionRecord, ShareRecord, VerdictRecord

__all__ = ["print_cautions", "print_notes", "print_shares", "print_verdicts"]

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
            if v.final and v.state == "fails":
                rows.append(("", "The rebuild must not go ahead with this."))
        listing(rows)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def print_shares(shares: Sequence[ShareRecord]) -> None:
    """What a better measurement would sharpen."""
    if not shares:
        return
    heading("Where the spread of the water comes from")
    listing(
        (
            f"{100 * (s.share or 0.0):3.0f} %",
            f"{s.name} ({s.origin}{': ' + s.note if s.note else ''})",
        )
        for s in shares
        if s.share is not None and s.share >= 0.005
    )


def print_notes(notes: Sequence[str]) -> None:
    """What limits the answer."""
    for note in notes:
        paragraph(f"Note: {note}.", indent=2)


def print_cautions(cautions: Sequence[CautionRecord]) -> None:
    """Cautions that apply, the general one last."""
    heading("Cautions")
    listing(("STOP" if c.stop else "-", c.text) for c in cautions)
