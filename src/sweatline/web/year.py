"""A year with it, and whether it is worth it: the year as calculated, and moved by sliders."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse

from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.job.year import Control
from sweatline.report.sentences import parts_line
from sweatline.report.year import (
    control_name,
    days,
    headline_of_worth,
    headline_of_year,
    settings_lines,
    switched_line,
    takes,
    way_name,
    ways_table,
    worth_lines,
)
from sweatline.season.worth import WorthAnswer, worth
from sweatline.season.year import YearAnswer, YearRequest, moved, year
from sweatline.units import Kind, Scale
from sweatline.web.choice import Chosen, best_of, chosen_of
from sweatline.web.pages import part, render, workshop_of
from sweatline.web.pictures import drawing, pictures
from sweatline.web.workshop import Calculation, Workshop

routes = APIRouter(prefix="/job/{name}")
_SAMPLES: Final = 32
_LONGEST: Final = 20  # letters of a number
_DEFROSTS: Final = ("none", "coil by fan", "coil by hot gas", "clock by fan")


@dataclass(frozen=True, slots=True)
class Slider:
    """A number of the year that a finger moves."""

    key: str
    word: str
    kind: Kind
    low: float
    high: float
    step: float


_SLIDERS: Final = (
    Slider("humidity", "humidistat", "relative humidity", 0.4, 0.75, 0.01),
    Slider("cut_out", "held off below", "temperature", 273.15, 293.15, 0.5),
    Slider("air_changes", "air changes", "air change", 0.05 / 3600, 2.0 / 3600, 0.05 / 3600),
)


@routes.get("/year")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the year follows as a part, and the money where prices are told."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    chosen = chosen_of(request)
    return render(
        "year.html", scale=workshop.scale(name), name=name, here="year", job=job, picked=chosen,
        chosen=chosen.query, priced=job.cost.electricity is not None,
    )  # fmt: skip


def _year_of(workshop: Workshop, job: Job, chosen: Chosen) -> Calculation:
    def work(tell: object) -> YearAnswer:
        bench, asked = _asked(workshop, job, chosen)
        return year(bench, asked, progress=tell if callable(tell) else None)

    return workshop.calculations.ask(("year", job.digest, chosen), work)


def _asked(workshop: Workshop, job: Job, chosen: Chosen) -> tuple[Job, YearRequest]:
    (i, refrigerant, j), full = best_of(workshop, job, chosen)
    asked = YearRequest(
        compressor=i, refrigerant=refrigerant, capillary=j, length=full.length_m,
        charge=full.charge_kg, draws=_SAMPLES,
    )  # fmt: skip
    return full.moved(workshop.taught(job), j), asked


@routes.get("/year/answer")
def answer(request: Request, name: str) -> HTMLResponse:
    """The year as the job has it, when it is calculated and drawn."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)

    def draw(found: YearAnswer) -> HTMLResponse:
        key = ("year picture", job.digest, chosen)
        return part(drawing(workshop, key, found), lambda p: _drawn(found, name, chosen, scale, p))

    return part(_year_of(workshop, job, chosen), draw)


def _drawn(
    found: YearAnswer, name: str, chosen: Chosen, scale: Scale, figures: list[tuple[str, Markup]]
) -> HTMLResponse:
    job, tried = found.build.job, found.settings
    assert tried is not None
    values = {
        "humidity": job.control.humidity,
        "cut_out": job.control.cut_out or _SLIDERS[1].low,
        "air_changes": found.air_changes,
    }
    return render(
        "year-answer.html", scale=scale, name=name, chosen=chosen, answer=found,
        parts=parts_line(found.parts, scale), settings=settings_lines(tried, scale),
        every=(tried.best, *tried.others), named=control_name,
        sliders=[(s, values[s.key], _words(s, scale)) for s in _SLIDERS], defrosts=_DEFROSTS,
        defrost=_defrost_word(job.control), moved=_told(found, scale, figures), days=days,
    )  # fmt: skip


def _words(slider: Slider, scale: Scale) -> str:
    """What the slider shows at each of its steps."""
    count = round((slider.high - slider.low) / slider.step)
    return "|".join(
        scale.show(slider.low + n * slider.step, slider.kind, 2) for n in range(count + 1)
    )


def _told(
    found: YearAnswer, scale: Scale, figures: list[tuple[str, Markup]]
) -> Mapping[str, object]:
    """What the sliders move: the sentence, what it takes, the picture and the months."""
    return {
        "headline": headline_of_year(found, scale),
        "takes": takes(found, scale),
        "pictures": figures,
        "months": [
            (
                m.name[:3],
                scale.show(m.temperature, "temperature"),
                scale.show(m.humidity, "relative humidity", 2),
                days(m.too_damp),
                days(m.running),
                days(m.frozen),
                scale.show(m.water, "volume", 2),
                scale.show(m.energy, "energy", 2),
            )
            for m in found.months
        ],
    }


def _defrost_word(control: Control) -> str:
    if control.defrost == "none":
        return _DEFROSTS[0]
    by = "hot gas" if control.defrost_by == "hot gas" else "fan"
    word = f"{control.defrost} by {by}"
    return word if word in _DEFROSTS else _DEFROSTS[1]


@routes.get("/year/moved")
def when_moved(request: Request, name: str) -> HTMLResponse:
    """The same year with the sliders where they are."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    asked = request.query_params
    values = {s.key: _number(asked.get(s.key, ""), s) for s in _SLIDERS}
    word = asked.get("defrost", _DEFROSTS[0])
    if word not in _DEFROSTS:
        raise JobError(what="no such defrost", read=word[:40], allowed=", ".join(_DEFROSTS))
    kind, _by, by = word.partition(" by ")
    begins: Any = kind
    melts: Any = by or "fan"
    cut_out = values["cut_out"]
    switches = replace(
        job.control,
        humidity=values["humidity"],
        cut_out=None if cut_out <= _SLIDERS[1].low else cut_out,
        defrost=begins,
        defrost_by=melts,
    )

    def draw(found: YearAnswer) -> HTMLResponse:
        there = moved(found, switches=switches, air_changes=values["air_changes"])
        return render("year-moved.html", scale=scale, moved=_told(there, scale, pictures(there)))

    return part(_year_of(workshop, job, chosen_of(request)), draw)


def _number(text: str, slider: Slider) -> float:
    try:
        value = float(text[:_LONGEST])
    except ValueError:
        value = math.nan
    if not slider.low - 1e-9 <= value <= slider.high + 1e-9:
        raise JobError(
            what="not believable here", read=text[:_LONGEST], field=slider.key,
            allowed=f"{slider.low:g} to {slider.high:g}",
        )  # fmt: skip
    return value


@routes.get("/year/worth")
def whether_worth(request: Request, name: str) -> HTMLResponse:
    """The rebuild beside a new machine, airing and nothing."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)

    def work(tell: object) -> WorthAnswer:
        bench, asked = _asked(workshop, job, chosen)
        return worth(bench, asked, progress=tell if callable(tell) else None)

    def draw(found: WorthAnswer) -> HTMLResponse:
        columns = [
            [way_name(w) for w in found.ways],
            *(texts for _head, texts in ways_table(found)),
            [scale.show(w.energy, "energy") for w in found.ways],
        ]
        return render(
            "year-worth.html", scale=scale, answer=found,
            headline=headline_of_worth(found, scale), switched=switched_line(found, scale),
            lines=worth_lines(found, scale), ways=list(zip(*columns, strict=True)),
        )  # fmt: skip

    return part(workshop.calculations.ask(("worth", job.digest, chosen), work), draw)
