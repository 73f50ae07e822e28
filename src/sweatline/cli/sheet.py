"""The command sheet: the paper that stays with the machine, the card for the wall, the label."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

import sweatline
from sweatline.cli.options import Asked, machine_options
from sweatline.cli.terminal import aside, heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.errors import JobError, StoreError
from sweatline.report.sheet.document import Document, typeset
from sweatline.report.sheet.sheet import (
    SheetAnswer,
    card_document,
    label_document,
    paper_size,
    sheet_document,
)

_PAPERS: Final = ("sheet", "card", "label")


@click.command()
@machine_options
@click.option("--log", metavar="LOG", help="The machine's log; the card needs none.")
@click.option(
    "--paper",
    type=click.Choice(_PAPERS),
    default="sheet",
    show_default=True,
    help="The sheet, the card to pin on the wall before the work, or the label.",
)
@click.option("--to", metavar="FILE", help="Where the PDF goes; by default JOB-sheet.pdf.")
def sheet(asked: Asked, log: str | None, paper: str, to: str | None) -> int:
    """The paper that stays with the machine, as PDF: what it was and is, and whether it is ready.

    It is called ready when no safety gate is red or open; else the sheet says what is missing.
    """
    from sweatline.design.charge_curve import charge_curve
    from sweatline.report.sheet.sheet import sheet as answer

    bench = asked.bench()
    parts = asked.parts(bench)
    scale, size = asked.session.shown, paper_size(bench)
    path = Path(to or f"{Path(bench.path).stem}-{paper}.pdf")
    if paper == "card":
        with waiting("charging it on paper"):
            curve = charge_curve(bench, **parts)
        _write(path, card_document(curve, scale, version=sweatline.__version__, size=size), "paper")
        return 0
    if log is None:
        raise JobError(what="the sheet and the label are made from a log", allowed="give --log")
    with waiting("putting the sheet together"):
        found = answer(bench, log, **parts)
    if asked.as_json:
        print_json(found, "sheet")
        return 0
    if paper == "label":
        _write(path, label_document(found, scale), "label")
    else:
        _write(
            path, sheet_document(found, scale, version=sweatline.__version__, size=size), "paper"
        )
    _print_gates(found, details=asked.details)
    return 0


def _write(path: Path, document: Document, form: str) -> None:
    content = typeset(document, "label" if form == "label" else "paper")
    try:
        path.write_bytes(content)
    except OSError as error:
        raise StoreError(what=f"cannot be written: {error.strerror}", path=str(path)) from error
    aside(f"Paper: {path}")


def _print_gates(found: SheetAnswer, *, details: bool) -> None:
    heading("Ready" if found.readiness.ready else "Not ready")
    gates = found.readiness.gates if details else found.readiness.held_up_by
    listing((g.state, f"{g.title}: {g.reason}") for g in gates)
    if any(g.caution is not None and g.state == "open" for g in gates):
        paragraph(
            "A caution is acknowledged by name, as: "
            'sweatline log event LOG acknowledged "label by NAME".',
            indent=2,
        )
