"""Which tube? The length of every bore for a compressor and a refrigerant, and one tube freely."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from sweatline.answers import told
from sweatline.design.capillary import ASKED, CapillaryAnswer, capillary
from sweatline.design.metering import MeteringAnswer, StockCut, metering
from sweatline.errors import JobError, SweatlineError
from sweatline.job.model import Job
from sweatline.report.sentences import room_line, trial_runs
from sweatline.report.tubes import (
    RANGE_OF_LENGTHS,
    approach,
    conditions_of_capillary,
    cut_ends,
    cut_line,
    headline_of_capillary,
    headline_of_metering,
    opinions,
    wanted_line,
    way_through,
)
from sweatline.units import Scale, quantity
from sweatline.web.choice import Chosen, best_of, chosen_of
from sweatline.web.pages import part, problem, render, workshop_of
from sweatline.web.pictures import drawing
from sweatline.web.workshop import Workshop

routes = APIRouter(prefix="/job/{name}")
_SAMPLES: Final = 64
_FIELDS: Final = {  # with examples in SI and in US units
    "bore": ("0.9 mm", "0.042 in"),
    "length": ("2 m", "6 ft"),
    "mass_flow": ("9.5 kg/h", "20 lb/h"),
    "inlet_pressure": ("9 bar(g)", "130 psig"),
    "subcooling": ("5 K", "9 °F"),
    "quality": ("3 %", "3 %"),
    "outlet_pressure": ("2 bar(g)", "30 psig"),
}
_LONGEST: Final = 80  # letters of a field


@routes.get("/tube")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the lengths follow as a part."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    return _frame(workshop, name, job, chosen_of(request))


def _frame(
    workshop: Workshop,
    name: str,
    job: Job,
    chosen: Chosen,
    typed: Mapping[str, str] | None = None,
    *,
    found: CapillaryAnswer | None = None,
    mistake: str = "",
) -> HTMLResponse:
    """The page, with what was typed of one tube and what came of it."""
    scale = workshop.scale(name)
    typed = typed or {}
    return render(
        "tube.html", scale=scale, name=name, here="tube", job=job, picked=chosen,
        chosen=chosen.query, mistake=mistake, one=_told(found, scale) if found else None,
        refrigerant=typed.get("refrigerant") or chosen.refrigerant or job.refrigerants[0],
        asked=[
            (key, ASKED[key].label, examples[job.unit_system == "US"], typed.get(key, ""))
            for key, examples in _FIELDS.items()
        ],
    )  # fmt: skip


def _told(found: CapillaryAnswer, scale: Scale) -> dict[str, Any]:
    """What one tube passes, in words."""
    return {
        "headline": headline_of_capillary(found, scale),
        "conditions": conditions_of_capillary(found, scale),
        "through": way_through(found, scale),
        "opinions": opinions(found, scale),
        "notes": [told(note, scale) for note in found.notes],
    }


@routes.get("/tube/answer")
def answer(request: Request, name: str) -> HTMLResponse:
    """The lengths, when they are calculated and drawn."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)
    key = ("metering", job.digest, chosen)

    def work(_tell: object) -> MeteringAnswer:
        (i, refrigerant, j), _names = best_of(workshop, job, chosen, capillary=False)
        return metering(
            chosen.moved(workshop.taught(job), j), compressor=i, refrigerant=refrigerant,
            draws=_SAMPLES,
        )  # fmt: skip

    def draw(found: MeteringAnswer) -> HTMLResponse:
        usable = any(c.cut.start_length is not None for c in found.cuts)
        if not usable:
            return _drawn(found, scale, chosen, [])
        return part(drawing(workshop, key, found), lambda p: _drawn(found, scale, chosen, p))

    return part(workshop.calculations.ask(key, work), draw)


def _drawn(
    found: MeteringAnswer, scale: Scale, chosen: Chosen, pictures: list[tuple[str, str]]
) -> HTMLResponse:
    first = _first(found, chosen)
    rows = [
        (
            c.stock,
            scale.show(c.cut.bore, "bore"),
            cut_line(c, scale),
            scale.show(c.cut.length, "length"),
            scale.show(c.cut.start_length, "length"),
            cut_ends(c, scale),
            scale.show(c.cut.trim_step, "length"),
        )
        for c in found.cuts
    ]
    return render(
        "tube-answer.html", scale=scale, answer=found, pictures=pictures, rows_of_tubes=rows,
        headline=f"{first.stock}: {cut_line(first, scale)}.", what=headline_of_metering(found),
        room=room_line(found.job, scale), wanted=wanted_line(found, scale),
        runs=trial_runs(found.draws), approach=approach(found, scale), limits=RANGE_OF_LENGTHS,
        notes=[f"{c.stock}: {told(note, scale)}" for c in found.cuts for note in c.cut.notes],
    )  # fmt: skip


def _first(found: MeteringAnswer, chosen: Chosen) -> StockCut:
    """The tube that was chosen, else the first that can serve and is enough, else the first."""
    wanted = [c for c in found.cuts if c.stock == chosen.capillary]
    serving = [c for c in found.cuts if not c.fitted and not c.cut.too_short]
    enough = [c for c in serving if c.enough]
    return next(iter([*wanted, *enough, *serving, *found.cuts]))


@routes.post("/tube/flow")
async def flow(request: Request, name: str) -> HTMLResponse:
    """One tube between two pressures, as it was typed."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    async with request.form(max_fields=20, max_files=0) as form:
        typed = {k: v.strip()[:_LONGEST] for k, v in form.items() if isinstance(v, str)}
    within = bool(request.headers.get("x-part"))
    try:
        found = _one_tube(typed, scale)
    except SweatlineError as error:
        if within:
            return problem(error)
        return _frame(workshop, name, job, chosen_of(request), typed, mistake=str(error))
    if within:
        return render("tube-flow.html", scale=scale, one=_told(found, scale))
    return _frame(workshop, name, job, chosen_of(request), typed, found=found)


def _one_tube(typed: dict[str, str], scale: Scale) -> CapillaryAnswer:
    """What one tube passes, or how long it must be.

    Raises
    ------
    SweatlineError
        Something is missing, too much, or cannot be used.
    """
    for one, other in (("length", "mass_flow"), ("subcooling", "quality")):
        if bool(typed.get(one)) == bool(typed.get(other)):
            raise JobError(what=f"give either {ASKED[one].label} or {ASKED[other].label}")
    values: dict[str, Any] = {}
    for key in _FIELDS:
        asked = ASKED[key]
        if typed.get(key):
            values[key] = quantity(
                typed[key], asked.kind, asked.label, atmosphere=scale.atmosphere, low=asked.low,
                high=asked.high,
            )  # fmt: skip
        elif key in ("bore", "inlet_pressure", "outlet_pressure"):
            raise JobError(what="is missing", field=asked.label)
    return capillary(typed.get("refrigerant", ""), atmosphere=scale.atmosphere, **values)
