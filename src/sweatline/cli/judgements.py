"""Verdicts, sources of uncertainty, notes and cautions as they are printed under every answer."""

from __future__ import annotations

from collections.abc import Sequence

from sweatline.answers import told
from sweatline.cli.terminal import heading, listing, paragraph
from sweatline.design.verdict import Verdict
from sweatline.report.reasons import MEASURE_NEXT, told_shares, told_verdicts
from sweatline.safety.cautions import Caution
from sweatline.uncertainty.sensitivity import Share
from sweatline.units import Scale


def print_verdicts(
    verdicts: Sequence[Verdict],
    scale: Scale,
    draws: int,
    *,
    details: bool = True,
) -> None:
    """Verdicts under two headings; `details` as in :func:`told_verdicts`."""
    for title, rows in told_verdicts(verdicts, scale, draws, details=details):
        heading(title)
        listing(
            row
            for one in rows
            for row in ((one.mark, one.text), *(("", reason) for reason in one.reasons))
        )


def print_shares(shares: Sequence[Share], *, details: bool = True) -> None:
    """What to measure better: what the spread of the water comes from."""
    shown = told_shares(shares, details=details)
    if shown:
        heading(MEASURE_NEXT)
        listing((f"{share:>5}", text) for share, text in shown)


def print_notes(notes: Sequence[str], scale: Scale, *, details: bool = True) -> None:
    """What limits the answer; without `details` only that something does."""
    if notes and not details:
        count = "1 remark" if len(notes) == 1 else f"{len(notes)} remarks"
        paragraph(f"Note: {count} on what limits this answer: --details.", indent=2)
        return
    for note in notes:
        paragraph(f"Note: {told(note, scale)}.", indent=2)


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
