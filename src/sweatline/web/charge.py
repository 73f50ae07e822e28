"""Charge it: choose parts and log, then the live page that a person charges by."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends, Form, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse, Response

from sweatline.charging.adviser import ReadingOutlook
from sweatline.charging.preparation import Prepared
from sweatline.charging.stop_rule import Obstacle
from sweatline.design.match import MatchAnswer
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.log.channels import CHANNELS, CHARACTERS, RULED_OUT, in_order
from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log
from sweatline.report.course import charging_course
from sweatline.report.sentences import (
    charged_so_far,
    condition_met,
    dose_left,
    duration,
    instrument_errors,
    judgement,
    reading_now,
    reading_title,
    sentence,
    step_in_one_word,
)
from sweatline.units import Scale, quantity
from sweatline.web.charging import LATEST, Charging, Look, Parts, parts_of, prepared_for, side_of
from sweatline.web.choice import chosen_of, ranking, resolved
from sweatline.web.live import stream
from sweatline.web.logs import Typed, answer_of, logs_of, sensors_part
from sweatline.web.pages import part, render, text_of, workshop_of
from sweatline.web.workshop import Calculation

routes = APIRouter(prefix="/job/{name}/charge")

_FAR: Final = ("suction gauge", "head gauge")
_ARM: Final = ("superheat", "subcooling", "watts", "amps")
_TYPED: Final = tuple(CHARACTERS)
_Then = Literal["charge", "tight", "dry", "gear", "prove", "diagnose"]  # stages that take a log
_PAST: Final = 3600.0  # s after which a reading that the advice does not follow is not shown
_CHART_STEP: Final = 5.0  # s that the chart moves on at once
_MOST: Final = 32  # chargings that are kept ready

_held: OrderedDict[object, Charging] = OrderedDict()
_lock = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One reading as the page shows it."""

    title: str
    side: str
    value: str
    saturation: str
    settles: str
    age: str  # of an old one; empty for a fresh one


@routes.get("")
def choose_page(request: Request, name: str) -> HTMLResponse:
    """Which log goes on, or a new one: the frame; the parts follow as a part."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    logs = [one for one in logs_of(request, name) if one.about.get("job") == name]
    return render(
        "charge.html", scale=workshop.scale(name), name=name, here="charge", job=job, logs=logs,
        chosen=chosen_of(request).query,
    )  # fmt: skip


@routes.get("/parts")
def choose_parts(request: Request, name: str) -> HTMLResponse:
    """The choice of parts for a new log, the best of the ranking first."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    loose = [one for one in logs_of(request, name) if "job" not in one.about]
    then = request.query_params.get("then", "charge")
    wanted = chosen_of(request)

    def draw(found: MatchAnswer) -> HTMLResponse:
        (i, refrigerant, j), _names = resolved(job, wanted, found)
        best = next((c for c in found.ranked if c.choice == (i, refrigerant, j)), None)
        return render(
            "charge-parts.html", scale=workshop.scale(name), name=name, job=job, best=best,
            loose=loose, new=_new_name(workshop.logs, name), then=then,
        )  # fmt: skip

    return part(ranking(workshop, job), draw)


def _new_name(taken: Iterable[str], job: str) -> str:
    """A name for a new log that is not taken."""
    day = time.strftime("%Y-%m-%d")
    names = (f"{job}-{day}", *(f"{job}-{day}-{n}" for n in range(2, 1000)))
    return next(n for n in names if n not in taken)


@routes.post("")
def begin(
    request: Request,
    name: str,
    compressor: Annotated[str, Form(max_length=120)],
    refrigerant: Annotated[str, Form(max_length=20)],
    capillary: Annotated[str, Form(max_length=120)],
    length: Annotated[str, Form(max_length=40)] = "",
    log: Annotated[str, Form(max_length=80)] = "",
    new: Annotated[str, Form(max_length=80)] = "",
    then: Annotated[_Then, Form()] = "charge",
) -> Response:
    """Begin a log, or take one that is there, and write down what it is about."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    facts = {
        "job": name, "compressor": compressor, "refrigerant": refrigerant, "capillary": capillary
    }  # fmt: skip
    if length.strip():
        metres = quantity(length, "length", "length of the capillary", low=0.05, high=50.0)
        facts["length_m"] = repr(metres)
    facts["refrigerant"] = parts_of(job, facts).refrigerant
    if log:
        with open_log(str(workshop.log_path(log))) as book:
            known = book.about()
            told = known.get("refrigerant", facts["refrigerant"])
            if told != facts["refrigerant"]:
                raise JobError(what=f"this log is about {told}", read=facts["refrigerant"])
            book.set_about(facts)
    else:
        path = workshop.new_path(new or _new_name(workshop.logs, name), ".log")
        log = path.stem
        with open_log(
            str(path), new=True, machine=job.title, refrigerant=facts["refrigerant"],
            atmosphere=job.place.atmospheric_pressure, system=job.unit_system,
        ) as book:  # fmt: skip
            book.set_about(facts)
    return RedirectResponse(f"/job/{name}/{then}/{log}", 303)


@routes.get("/{log}")
def page(request: Request, name: str, log: str) -> Response:
    """The page a person charges by."""
    charging, ready = _charging(request, name, log)
    scale = workshop_of(request).scale(name)
    base = f"/job/{name}/charge/{log}"
    return render(
        "charge-live.html", scale=scale, name=name, here="charge", base=base, log=log,
        title=charging.job.title, fields=fields_of(scale), mass=unit_of("mass", scale),
        practice=False, **live_parts(charging, ready, scale, base),
        sensors=sensors_part(request, log),
    )  # fmt: skip


@routes.get("/{log}/stream")
def follow(request: Request, name: str, log: str) -> Response:
    """The same page's parts, as the log grows and time goes on."""
    charging, ready = _charging(request, name, log)
    scale = workshop_of(request).scale(name)
    base = f"/job/{name}/charge/{log}"

    def draw() -> Mapping[str, str]:
        parts = live_parts(charging, ready, scale, base)
        return parts | {"sensors": sensors_part(request, log)}

    return stream(request, charging.last_row, draw)


@routes.post("/{log}/line")
def write(request: Request, name: str, log: str, typed: Annotated[Typed, Depends()]) -> Response:
    """Write what was typed or tapped into the log."""
    charging, _ready = _charging(request, name, log)
    kept = charging.write(typed.line, ago=typed.ago, key=typed.key)
    return answer_of(request, kept, f"/job/{name}/charge/{log}")


def _charging(request: Request, name: str, log: str) -> tuple[Charging, Calculation]:
    """The charging of a log, and the preparation of its adviser."""
    workshop = workshop_of(request)
    job, path = workshop.job(name), workshop.log_path(log)
    with open_log(str(path)) as book:
        about = book.about()
    parts = parts_of(job, about)
    charging = held((path, job.digest, parts), lambda: Charging(job, parts.refrigerant, path))
    return charging, _prepare(request, job, parts, charging)


def held(key: object, make: Callable[[], Charging]) -> Charging:
    """The charging of a key, made now if nobody asked before."""
    with _lock:
        found = _held.get(key)
        if found is None:
            found = _held[key] = make()
        _held.move_to_end(key)
        while len(_held) > _MOST:
            _held.popitem(last=False)
    return found


def _prepare(request: Request, job: Job, parts: Parts, charging: Charging) -> Calculation:
    workshop = workshop_of(request)

    def work(tell: Callable[[float], None]) -> Prepared:
        prepared = prepared_for(workshop.taught(job), parts, tell)
        charging.advise_with(prepared)
        return prepared

    return workshop.calculations.ask(("prepared", job.digest, parts, charging.path), work)


def unit_of(kind: str, scale: Scale) -> str:
    """Unit in which a mass is typed."""
    return "oz" if scale.system == "US" else "g"


def fields_of(scale: Scale) -> list[tuple[str, str, str, str]]:
    """Channel, title, unit and side of each field for readings."""

    return [
        (c, CHANNELS[c].heading, CHANNELS[c].readout[scale.system].unit, side_of(c)) for c in _TYPED
    ]


def live_parts(
    charging: Charging, ready: Calculation, scale: Scale, base: str, *, practice: bool = False
) -> dict[str, Any]:
    """Everything on the page that changes, as it stands now."""
    if ready.done and not ready.problem:
        charging.advise_with(ready.answer)
    look = charging.look()
    facts: dict[str, Any] = {
        "scale": scale, "base": base, "look": look, "advice": look.advice, "practice": practice
    }  # fmt: skip
    end = -(-look.now // _CHART_STEP) * _CHART_STEP
    course = charging_course(look.course, look.advice, charging.table, scale, now=end)
    step = _step(look, ready, scale)
    return {
        "step": text_of("step.html", **facts, **step),
        "told": f"{step['word']}. {step['reason']}" if step["word"] else "",
        "gauges": text_of("gauges.html", **_gauges(look, scale)),
        "course": str(Markup(course)),
        "doubts": text_of("doubts.html", **facts),
        "latest": text_of("latest.html", **facts, rows=_latest(look)),
        "behind": text_of("behind.html", **facts, **_behind(look, scale)),
    }


def _step(look: Look, ready: Calculation, scale: Scale) -> dict[str, Any]:
    """The one large word, its reason, and what may be tapped."""
    advice = look.advice
    told: dict[str, Any] = {
        "kind": "none", "word": "", "reason": "", "charged": "", "added": "", "share": ready.share,
        "problem": ready.problem, "waited": look.waited, "left": "", "asked": None,
    }  # fmt: skip
    if advice is None:
        return told
    told |= {
        "kind": advice.action,
        "word": step_in_one_word(advice, scale),
        "reason": sentence(advice.reason),
        "charged": charged_so_far(advice, scale),
    }
    if advice.obstacles:
        told |= _asked(advice.obstacles[0], scale)
    if advice.action == "add":
        told["added"] = scale.show(advice.dose, "mass")
    if advice.action == "wait" and look.wait_until is not None:
        left = look.wait_until - look.now
        told["left"] = duration(left) if left > 0.0 else ""
        told["word"] = "WAIT" if left > 0.0 else "READ"
    if look.weighing is not None and advice.action in ("add", "read", "wait"):
        word, reason = dose_left(look.weighing.gone, look.weighing.dose, scale)
        told |= {"kind": "weighing", "word": word, "reason": reason}
        told["added"] = scale.show(look.weighing.gone, "mass")
    return told


def _asked(obstacle: Obstacle, scale: Scale) -> dict[str, Any]:
    """What may be tapped once it was looked at: the reading asked for, or that all is in order."""
    readout = CHANNELS[obstacle.read].readout if obstacle.read else {}
    return {
        "asked": obstacle,
        "asked_unit": readout[scale.system].unit if readout else "",
        "asked_line": "; ".join(f"{RULED_OUT} {one}" for one in obstacle.ruled_out),
        "asked_words": " and ".join(in_order(one) for one in obstacle.ruled_out),
    }


def _gauges(look: Look, scale: Scale) -> dict[str, Any]:
    """Readings in three sizes: across the room, at arm's length, up close."""
    outlooks = {} if look.advice is None else {o.what: o for o in look.advice.outlooks}
    # What was read before the charging, as the pressure of a test, is in the log.
    recent = {c for c, rows in look.readings.items() if look.now - rows[-1].happened_at < _PAST}
    names = [*_FAR, *_ARM, *outlooks, *(c for c in CHANNELS if c in recent)]
    known = [n for n in dict.fromkeys(names) if n in outlooks or n in recent]
    shown = {n: _gauge(n, outlooks.get(n), look, scale) for n in known if n != "scale"}
    return {
        "far": [shown.pop(n) for n in _FAR if n in shown],
        "arm": [shown.pop(n) for n in _ARM if n in shown],
        "near": list(shown.values()),
    }


def _gauge(what: str, o: ReadingOutlook | None, look: Look, scale: Scale) -> Gauge:
    old = look.stale(what) if what in look.readings else None
    age = "" if old is None else f"{duration(old)} old"
    if o is None:
        kind = CHANNELS[what].kind
        value = scale.show(look.readings[what][-1].number, kind)
        return Gauge(
            title=reading_title(what), side=side_of(what), value=value, saturation="", settles="",
            age=age,
        )  # fmt: skip
    value, saturation, settles = reading_now(o, scale)
    _unit, (low, high) = scale.column((o.settles_SI.low, o.settles_SI.high), o.kind)
    if o.last_SI is None:
        value, settles = scale.show(o.settles_SI.middle, o.kind), f"by the model ({low} to {high})"
    elif o.state == "settled" and o.expected_after_SI is None:
        settles = f"settled ({low} to {high})"
    return Gauge(
        title=reading_title(what), side=side_of(what), value=value, saturation=saturation,
        settles=settles, age=age,
    )  # fmt: skip


def _latest(look: Look) -> list[tuple[Entry, str]]:
    """What was done last and the last reading of each channel, with words; the newest first."""
    read = [rows[-1] for rows in look.readings.values()]
    rows = sorted((*look.told[-LATEST:], *read, *look.doubtful), key=lambda e: -e.id)
    return [(e, " ".join(w for w in (_name(e), e.text) if w)) for e in rows]


def _name(e: Entry) -> str:
    return {"addition": "added", "note": "note"}.get(e.kind, e.channel)


def _behind(look: Look, scale: Scale) -> dict[str, Any]:
    """The numbers behind the advice."""
    advice = look.advice
    if advice is None:
        return {"rules": [], "errors": "", "foreseen": []}
    return {
        "rules": [(r.what, condition_met(r, scale), sentence(r.sentence))
                  for r in advice.stop_rule],
        "errors": instrument_errors(advice, scale),
        "foreseen": [f"{judgement(v, scale, 0)}. {sentence(v.sentence)}" for v in advice.foreseen],
    }  # fmt: skip
