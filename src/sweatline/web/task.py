"""The pages of work with hoses on: what was typed and what a log says, asked and followed alike.

Each task is one request of the bench. Its page stands without a log, to plan, and with one, to be
followed while it grows. What is typed beats the log, as for the command.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Form, Request
from starlette.responses import HTMLResponse, Response

from sweatline.answers import questions_of, request_of
from sweatline.answers import told as in_units
from sweatline.answers.answer import as_html
from sweatline.errors import JobError
from sweatline.job.model import PARTS, Job
from sweatline.log.channels import ACKNOWLEDGED, CHANNELS, EVENTS
from sweatline.log.entries import Entry
from sweatline.log.extract import CHANGES, Book, Logged, read_book
from sweatline.log.lines import acknowledgement
from sweatline.log.logbook import keep, open_log, write_line
from sweatline.report.sentences import duration, sentence
from sweatline.report.sheet.readiness import acknowledged, caution_named
from sweatline.report.told import Told
from sweatline.units import Scale, example_of
from sweatline.web.asking import (
    Group,
    Typed,
    beside,
    form_of,
    mistake,
    mistakes_in,
    typed_in,
)
from sweatline.web.charging import side_of
from sweatline.web.choice import Chosen
from sweatline.web.followed import follow_log
from sweatline.web.live import Parts, stream
from sweatline.web.logs import Typed as Line
from sweatline.web.logs import answer_of, logs_of, sensors_part
from sweatline.web.pages import render, text_of, workshop_of
from sweatline.web.workshop import Calculation

_PATIENCE: Final = 0.4  # s that a page waits for its answer
_LIVE_PATIENCE: Final = 3.0  # s that a push waits for it
_REST: Final = 1.0  # s between two answers while a sensor sends all the time
_LATEST: Final = 6  # entries that can be undone on the page
_CHANGING: Final = CHANGES | {"stopped"}
_UNITS: Final = {
    ("vacuum gauge", "SI"): "micron", ("vacuum gauge", "US"): "micron",
    ("water", "SI"): "L", ("water", "US"): "fl oz",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """Something that happens at the machine, written down by one tap."""

    line: str
    word: str
    guarded: bool = False
    """Only after the task's cautions were acknowledged."""
    after: tuple[str, ...] = ()
    """Events one of which must have been the last that changed the circuit; empty: any."""
    not_after: tuple[str, ...] = ()

    def fits(self, last: str) -> bool:
        """Whether it can come after that event."""
        return last not in self.not_after and (not self.after or last in self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One kind of work with its request, its answer, and how a page shows it."""

    key: str
    title: str
    lead: str
    request: type
    answer: Callable[[Any], Any]
    """Gives an answer with its notes and cautions; a request that has the field `progress` is told
    how to say the share done."""
    asks: frozenset[str]
    """Questions any of which is enough to ask without a log."""
    read: Callable[[Book, Typed, float], Logged]
    """Takes a log, what was typed, and the moment. [s]"""
    told: Callable[[Any, Scale, bool], Iterator[Told]]
    picture: Callable[[Any, Scale], str]
    stop: Callable[[Any], str]
    """Why a compressor must not be started; empty when it may, or nobody knows."""
    next: Callable[[Any, Scale], str]
    """What is still to come, while it is followed."""
    groups: tuple[Group, ...]
    cautions: tuple[str, ...]
    """To be acknowledged by name, by key."""
    taps: Callable[[str], tuple[Tap, ...]]
    """By the refrigerant."""
    channels: tuple[str, ...]
    ages: bool = False
    """The answer changes as time goes on, without a new row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What came of a question: an answer, or why there is none."""

    answer: Any = None
    notes: tuple[str, ...] = ()
    waits: str = ""
    """What the log lacks."""
    error: JobError | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A task as an address asks it: job, log, what was typed, and the answer on its way."""

    task: Task
    name: str
    log: str
    query: str
    job: Job
    scale: Scale
    about: Mapping[str, str]
    book: Book | None
    rows: int
    typed: Typed
    wrong: Mapping[str, str]
    work: Calculation | None

    @property
    def base(self) -> str:
        """Address of its page, without what was typed."""
        return f"/job/{self.name}/{self.task.key}" + (f"/{self.log}" if self.log else "")

    @property
    def worked(self) -> Worked:
        """What came of it so far."""
        done = self.work is not None and self.work.done and not self.work.problem
        return self.work.answer if done and self.work is not None else Worked()

    @property
    def share(self) -> str:
        """What of the answer is done, in words; empty where nothing is known of it."""
        done = 0.0 if self.work is None else self.work.share
        return f", {100.0 * done:.0f} % done" if 0.0 < done < 1.0 else ""

    @property
    def mistakes(self) -> dict[str, str]:
        """Beside their questions."""
        error = self.worked.error
        return {**self.wrong, **(beside(self.task.request, error) if error is not None else {})}


def asked_by(
    request: Request, task: Task, name: str, log: str = "", *, wait: float = _PATIENCE
) -> Asked:
    """What an address asks, with its answer if that takes no longer than `wait`. [s]"""
    workshop = workshop_of(request)
    job, scale = workshop.job(name), workshop.scale(name)
    typed = typed_in(task.request, request.query_params)
    wrong = mistakes_in(task.request, typed, zero=job.place.atmospheric_pressure)
    book: Book | None = None
    about: Mapping[str, str] = {}
    rows = 0
    if log:
        with follow_log(workshop.log_path(log)).open() as (found, quality):
            rows = quality.last_id
            book = read_book(found, quality)
        about = book.about
    work = None
    now = time.time()
    if not wrong and (book is not None or typed.keys() & task.asks):
        minute = int(now / 60.0) if task.ages and book is not None else 0
        key = (task.key, job.digest, repr(sorted(typed.items())), log, rows, minute)

        def answer(tell: Callable[[float], None]) -> Worked:
            more = {"progress": tell, "unit_system": scale.system}
            return _answered(task, workshop.taught(job), book, about, typed, now, more)

        work = workshop.calculations.ask(key, answer, wait=wait)
    return Asked(
        task=task, name=name, log=log, query=request.url.query, job=job, scale=scale, about=about,
        book=book, rows=rows, typed=typed, wrong=wrong, work=work,
    )  # fmt: skip


def _answered(
    task: Task,
    job: Job,
    book: Book | None,
    about: Mapping[str, str],
    typed: Typed,
    now: float,
    more: Mapping[str, Any],
) -> Worked:
    """The answer of typed text and log; what is typed beats the log.

    Parameters
    ----------
    more : mapping
        Fields that nobody is asked for, as far as the request has them.
    """
    notes: tuple[str, ...] = ()
    found: dict[str, Any] = {}
    asked = {f.name for f in fields(task.request)}
    if book is not None:
        try:
            logged = task.read(book, typed, now)
        except JobError as error:
            if not typed.keys() & task.asks:
                return Worked(waits=sentence(error.what))
            notes = (error.what,)
        else:
            notes = tuple(logged.notes)
            found = {n: one.value for n, one in logged.found.items() if one is not None}
    texts = {q.name for q in questions_of(task.request) if q.form == "text"}
    parts = {n: v for n, v in _parts(job, about).items() if n in texts or n == "length"}
    found = {**parts, **found, **more, "job": job}
    zero = job.place.atmospheric_pressure
    given = {n: v for n, v in found.items() if n in asked and n.removesuffix("_sd") not in typed}
    try:
        request: Any = request_of(task.request, typed, zero=zero, atmosphere=zero, **given)
        return Worked(answer=task.answer(request), notes=notes)
    except JobError as error:
        return Worked(error=error, notes=notes)


def _parts(job: Job, about: Mapping[str, str]) -> dict[str, Any]:
    """Parts as the log has them, else the first of the job."""
    found: dict[str, Any] = {
        name: about.get(name, first) for name, first in _first_parts(job).items()
    }
    if about.get("length_m"):
        found["length"] = float(about["length_m"])
    return found


def _first_parts(job: Job) -> dict[str, str]:
    return {
        "compressor": job.compressors[0].name,
        "refrigerant": job.refrigerants[0],
        "capillary": job.capillaries[0].name,
    }


def routes_of(task: Task) -> APIRouter:
    """The routes of a task: its page, alone and with a log, the push, and what is written."""
    routes = APIRouter(prefix=f"/job/{{name}}/{task.key}")

    @routes.get("")
    def page(request: Request, name: str) -> HTMLResponse:
        """The task without a log."""
        asked = asked_by(request, task, name)
        logs = [one for one in logs_of(request, name) if one.about.get("job") == name]
        return render("task.html", **_frame(asked), logs=logs, **_parts_of(request, asked))

    @routes.get("/answer")
    def answer(request: Request, name: str) -> HTMLResponse:
        """The answer of what was typed, when it is there."""
        asked = asked_by(request, task, name)
        done = asked.work is None or asked.work.done
        return render(
            "task-answer.html", status=200 if done else 202, **_frame(asked),
            **_parts_of(request, asked),
        )  # fmt: skip

    @routes.get("/{log}")
    def followed(request: Request, name: str, log: str) -> HTMLResponse:
        """The task with a log."""
        asked = asked_by(request, task, name, log)
        return render("task-live.html", **_frame(asked), **_parts_of(request, asked))

    @routes.get("/{log}/stream")
    def follow(request: Request, name: str, log: str) -> Response:
        """The same page's parts, as the log grows and time goes on."""
        path = workshop_of(request).log_path(log)
        again = [0.0]  # when the next answer may be asked for
        answered = [False]  # whether there was an answer yet

        def last_row() -> int:
            with open_log(str(path)) as book:
                return book.last_id

        def draw() -> Parts:
            begun = time.monotonic()
            if begun < again[0]:
                return {}
            asked = asked_by(request, task, name, log, wait=_LIVE_PATIENCE)
            if asked.work is not None and not asked.work.done:
                # How far the first answer is; a later one leaves the last in its place.
                return {} if answered[0] else {"verdict": _parts_of(request, asked)["verdict"]}
            answered[0] = True
            # A sensor that sends all the time must not keep the processor busy all the time.
            now = time.monotonic()
            again[0] = now + max(_REST, 3.0 * (now - begun))
            return _parts_of(request, asked)

        return stream(request, last_row, draw)

    @routes.post("/{log}/line")
    def write(request: Request, name: str, log: str, typed: Annotated[Line, Depends()]) -> Response:
        """Write what was typed or tapped into the log."""
        at = time.time() - typed.ago if typed.ago else None
        with follow_log(workshop_of(request).log_path(log)).open() as (book, quality):
            kept = write_line(book, typed.line, at=at, key=typed.key, quality=quality)
        return answer_of(request, kept, f"/job/{name}/{task.key}/{log}")

    @routes.post("/{log}/acknowledge")
    def acknowledge(
        request: Request,
        name: str,
        log: str,
        caution: Annotated[list[str], Form(max_length=10)],
        by: Annotated[str, Form(max_length=80)],
        key: Annotated[str, Form(max_length=80)] = "",
    ) -> Response:
        """Write into the log who has read which cautions."""
        reader = " ".join(by.split())
        said = [f"{one} by {reader}" for one in caution]
        for text in said:
            acknowledgement(text)
        with follow_log(workshop_of(request).log_path(log)).open() as (book, quality):
            kept = [
                keep(
                    book,
                    kind="event",
                    channel=ACKNOWLEDGED,
                    text=text,
                    key=key and f"{key}-{n}",
                    quality=quality,
                )
                for n, text in enumerate(said)
            ]
        return answer_of(request, kept, f"/job/{name}/{task.key}/{log}")

    return routes


def _frame(asked: Asked) -> dict[str, Any]:
    """What stands on the page and does not change by itself."""
    task, job = asked.task, asked.job
    # A record has boxes of its own; a text of these names is one of the job's parts.
    choices = {
        "compressor": [c.name for c in job.compressors],
        "refrigerant": job.refrigerants,
        "capillary": [c.name for c in job.capillaries],
    }
    usual = {name: asked.about.get(name, first) for name, first in _first_parts(job).items()}
    return {
        "scale": asked.scale, "name": asked.name, "here": task.key, "task": task, "job": job,
        "base": asked.base, "query": asked.query, "log": asked.log,
        "groups": list(form_of(task.request, task.groups, asked.typed, asked.mistakes, asked.scale,
                               choices=choices, usual=usual)),
        "fields": [(c, CHANNELS[c].heading, _unit(c, asked.scale), side_of(c))
                   for c in task.channels],
        "chosen": _chosen(asked), "pending": asked.work is not None and not asked.work.done,
        "share": asked.share,
        "practice": False,
    }  # fmt: skip


def _chosen(asked: Asked) -> str:
    """The parts for the other stages, as far as they were typed or stand in the log."""
    said = {name: asked.typed.get(name) or asked.about.get(name, "") for name in PARTS}
    compressor, refrigerant, capillary = (
        text if isinstance(text, str) else "" for text in said.values()
    )
    chosen = Chosen(compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    return chosen.query


def _unit(channel: str, scale: Scale) -> str:
    """Unit in which a reading is typed."""
    found = CHANNELS[channel]
    readout = found.readout.get(scale.system)
    if readout is not None:
        return readout.unit
    told = _UNITS.get((channel, scale.system))
    return told or example_of(found.kind, scale.system).partition(" ")[2]


def _parts_of(request: Request, asked: Asked) -> dict[str, Any]:
    """Everything that changes, as it stands now."""
    task, worked, scale = asked.task, asked.worked, asked.scale
    a = worked.answer
    short = list(task.told(a, scale, False)) if a is not None else []
    full = list(task.told(a, scale, True)) if a is not None else []
    problem = asked.work.problem if asked.work is not None else ""
    if worked.error is not None and not beside(task.request, worked.error):
        problem = mistake(worked.error)
    notes = [in_units(note, scale) for note in (*worked.notes, *(a.notes if a else ()))]
    known = acknowledged(asked.book.held) if asked.book is not None else {}
    facts: dict[str, Any] = {
        "scale": scale, "task": task, "base": asked.base, "log": asked.log, "answer": a,
        "practice": False,
    }  # fmt: skip
    found: dict[str, Any] = {
        "verdict": text_of(
            "task-verdict.html", **facts, share=asked.share, waits=worked.waits, problem=problem,
            wrong=_labelled(asked), first=short[0] if short else None,
            next=task.next(a, scale) if a is not None else "",
            stop=in_units(task.stop(a), scale) if a is not None else "",
        ),
        "picture": task.picture(a, scale) if a is not None else "",
        "numbers": text_of("task-told.html", **facts, parts=_numbers(short)),
        "behind": text_of(
            "task-behind.html", **facts, parts=full, notes=notes,
            tables=as_html(a, scale) if a is not None else "",
        ),
        "cautions": text_of(
            "task-cautions.html", **facts, known=known,
            wanted=[caution_named(key) for key in task.cautions],
            rest=[c for c in (a.cautions if a else ()) if c.key not in task.cautions],
        ),
    }  # fmt: skip
    if asked.book is None:
        return found
    free = all(key in known for key in task.cautions)
    refrigerant = asked.about.get("refrigerant", "")
    last = next((e.event for e in reversed(asked.book.held) if e.event in _CHANGING), "")
    return found | {
        "readings": text_of("task-readings.html", **facts, **_readings(asked)),
        "taps": text_of(
            "task-taps.html", **facts, held=not free,
            taps=[t for t in task.taps(refrigerant) if t.fits(last) and (free or not t.guarded)],
        ),
        "latest": text_of("latest.html", **facts, rows=_latest(asked.book)),
        "sensors": sensors_part(request, asked.log),
    }  # fmt: skip


def _labelled(asked: Asked) -> list[tuple[str, str, str]]:
    """Each question with a mistake: its name, its label, and what is wrong."""
    known = {q.name: q.label for q in questions_of(asked.task.request)}
    return [
        (name, sentence(known[name]).rstrip("."), told) for name, told in asked.mistakes.items()
    ]


def _numbers(told: list[Told]) -> list[Told]:
    """Everything but the sentences that stand above the picture."""
    if not told:
        return []
    return [Told(rows=told[0].rows, after=told[0].after), *told[1:]]


def _readings(asked: Asked) -> dict[str, Any]:
    """What happened last, and the last reading of each channel since."""
    assert asked.book is not None
    now, happened = time.time(), ""
    held = asked.book.held
    events = [e for e in held if e.kind == "event" and e.channel != ACKNOWLEDGED]
    since = events[-1].happened_at if events else 0.0
    if events:
        e = events[-1]
        words = f"{EVENTS[e.channel]}{f', {e.text}' if e.text else ''}"
        happened = sentence(f"{words}, {_ago(now - e.happened_at)}")
    last: dict[str, Entry] = {
        e.channel: e for e in held if e.kind == "reading" and e.happened_at >= since
    }
    return {
        "happened": happened,
        "readings": [
            (CHANNELS[c].heading, side_of(c),
             asked.scale.show(last[c].number, CHANNELS[c].kind, 4 if "gauge" in c else 3),
             _ago(now - last[c].happened_at))
            for c in asked.task.channels if c in last
        ],
    }  # fmt: skip


def _ago(seconds: float) -> str:
    if seconds < 5400.0:
        return f"{duration(seconds)} ago"
    return f"{seconds / 3600.0:.0f} h ago"


def _latest(book: Book) -> list[tuple[Entry, str]]:
    """What was written last, each with its words; the newest first."""
    rows = sorted((*book.held, *book.doubted), key=lambda e: e.id)[-_LATEST:]
    return [(e, " ".join(w for w in (e.channel or e.kind, e.text) if w)) for e in reversed(rows)]
