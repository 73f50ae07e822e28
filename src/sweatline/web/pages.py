"""What every page needs: templates with the job's units, where the person is, answers and problems.

A page asks for an answer by :func:`part`: the frame of the page is sent at once, and its script
fetches the part until the calculation is done.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from fastapi import Request
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse

import sweatline
from sweatline.answers import Range, Row, rows_of
from sweatline.errors import SweatlineError
from sweatline.report.sentences import sentence
from sweatline.units import SI_SCALE, Scale, unbroken
from sweatline.web.workshop import Calculation, Workshop

# Tags and what is drawn, run or sent back as it stands; or else a text that a person reads.
_TAG_OR_TEXT: Final = re.compile(
    r"<(option|pre|script|style|svg|textarea)\b.*?</\1>|<[^>]*>|(?P<text>[^<]+)", re.DOTALL
)
STATIC: Final = Path(__file__).parent / "static"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work, in the order in which it is done."""

    key: str
    word: str
    question: str


STAGES: Final = (
    Stage("survey", "parts", "What is on the bench?"),
    Stage("match", "match", "Will these parts work together?"),
    Stage("tube", "cut", "Which tube?"),
    Stage("tight", "tight", "Is it tight?"),
    Stage("dry", "dry", "Is it dry?"),
    Stage("gear", "start", "Will it start?"),
    Stage("charge", "charge", "Charge it"),
    Stage("prove", "prove", "Is it right now?"),
    Stage("diagnose", "fault", "What is wrong?"),
    Stage("rooms", "rooms", "What it does in other rooms"),
    Stage("year", "year", "A year with it"),
    Stage("log", "log", "Log"),
    Stage("paper", "paper", "Paper"),
)

_templates = Environment(
    loader=PackageLoader("sweatline.web", "templates"),
    autoescape=select_autoescape(default=True, default_for_string=True),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def _rows(
    answer: object, scale: Scale, ranges: Mapping[str, Range] | None = None
) -> list[tuple[str, str, str]]:
    """Labelled quantities of an answer as label, value and likely range."""

    def row(r: Row) -> tuple[str, str, str]:
        band = "" if r.range is None else scale.range(r.range, r.kind, r.digits)
        return r.label, scale.show(r.value, r.kind, r.digits), band

    return [row(r) for r in rows_of(answer, ranges or getattr(answer, "bands", None))]


_templates.globals.update(
    version=sweatline.__version__, stages=STAGES, rows=_rows, sentence=sentence
)


def workshop_of(request: Request) -> Workshop:
    """The folder that is served."""
    found: Workshop = request.app.state.workshop
    return found


def render(
    template: str, *, status: int = 200, scale: Scale = SI_SCALE, **facts: Any
) -> HTMLResponse:
    """A page or a part of one.

    Parameters
    ----------
    template : str
        File in `templates`; it sees `scale` and the facts.
    """
    return HTMLResponse(text_of(template, scale=scale, **facts), status)


def text_of(template: str, *, scale: Scale = SI_SCALE, **facts: Any) -> str:
    """The same as text, for a part that is pushed."""
    text = _templates.get_template(template).render(scale=scale, show=scale.show, **facts)
    return _TAG_OR_TEXT.sub(lambda m: unbroken(m["text"]) if m["text"] else m[0], text)


def problem(error: SweatlineError | str, *, status: int = 400) -> HTMLResponse:
    """What a person can mend, a sentence each, in place of a part or a page."""
    return render("problem.html", status=status, lines=str(error).splitlines())


def progress(calculation: Calculation) -> HTMLResponse:
    """How far a calculation is, or the compiling that it waits for (status 202)."""
    kernels = calculation.kernels
    waits = kernels is not None and not kernels.done and not calculation.share
    return render(
        "progress.html", status=202, share=calculation.share, kernels=kernels if waits else None
    )


def part(
    calculation: Calculation, draw: Callable[[Any], HTMLResponse], *, wait: float = 0.25
) -> HTMLResponse:
    """A part of a page: drawn when its calculation is done, else how far it is (status 202).

    Parameters
    ----------
    draw : callable
        Makes the part of an answer.
    wait : float
        Longest time to stand by. [s]
    """
    calculation.finished.wait(wait)
    if not calculation.done:
        return progress(calculation)
    if calculation.problem:
        return problem(calculation.problem)
    return draw(calculation.answer)
