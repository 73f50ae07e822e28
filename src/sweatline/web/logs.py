"""What stands in a log, as it grows; lines and fields that are typed into it; its export."""

from __future__ import annotations

import time
from bisect import bisect_left
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends, Form, Query, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, StoreError
from sweatline.log.data_quality import DataQuality
from sweatline.log.logbook import Kept, contents_of, open_log, write_line
from sweatline.log.store import Log, to_csv, to_json
from sweatline.report.sentences import entry_in_words
from sweatline.units import Scale
from sweatline.web.followed import follow_log
from sweatline.web.instruments import feed_of
from sweatline.web.live import Parts, stream
from sweatline.web.pages import render, text_of, workshop_of

routes = APIRouter()

_LONGEST: Final = 500  # characters of one field
_FIELDS: Final = 40
_SHOWN: Final = 100  # rows of a log on a page; the files have them all
_LATELY: Final = 3.0  # s ago that still is now

_Texts = Annotated[list[str], Form(max_length=_FIELDS)]


class Typed:
    """What a form of the bench sends: fields, each of which says something, as one line.

    `what` stands before the value, `unit` behind it where the person wrote none. `ago` is how long
    before the sending the person pressed the button. [s]
    """

    def __init__(
        self,
        value: _Texts,
        what: _Texts = [],  # noqa: B006  # read by the framework, never changed
        unit: _Texts = [],  # noqa: B006
        key: Annotated[str, Form(max_length=80)] = "",
        ago: Annotated[float, Form(ge=0.0, le=86400.0)] = 0.0,
    ) -> None:
        said = []
        for n, text in enumerate(value):
            typed = " ".join(text.split())
            if len(typed) > _LONGEST:
                raise JobError(what="far too long", allowed=f"{_LONGEST} characters")
            if not typed:
                continue
            behind = unit[n] if n < len(unit) else ""
            if behind and not any(c.isalpha() or c in "°%" for c in typed):
                typed = f"{typed} {behind}"
            said.append(f"{what[n] if n < len(what) else ''} {typed}".strip())
        if not said:
            raise JobError(what="nothing was typed")
        self.line = "; ".join(said)
        self.key = key
        self.ago = ago if ago > _LATELY else 0.0


def answer_of(request: Request, kept: list[Kept], page: str) -> Response:
    """What came of a form: a part where a script asked for one, else the page again."""
    if request.headers.get("x-part"):
        questions = [q for k in kept for q in k.questions]
        return render("said.html", kept=[k.entry for k in kept], questions=questions)
    return RedirectResponse(page, 303)


def scale_of_log(about: dict[str, str]) -> Scale:
    """Units in which a log is shown."""
    zero = float(about.get("atmosphere_Pa", STANDARD_ATMOSPHERE))
    return Scale("US" if about.get("units") == "US" else "SI", zero)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogInFolder:
    """A log that stands beside the jobs, and what it is about."""

    name: str
    about: dict[str, str]
    rows: int


def logs_of(request: Request, job: str = "") -> list[LogInFolder]:
    """Logs of the folder, those of a job only where one is named; what is no log is left out."""
    workshop = workshop_of(request)
    found = []
    for name in workshop.logs:
        try:
            with open_log(str(workshop.log_path(name))) as log:
                one = LogInFolder(name=name, about=log.about(), rows=log.last_id)
        except StoreError:
            continue
        if not job or one.about.get("job", job) == job:
            found.append(one)
    return found


@routes.get("/job/{name}/log")
def logs(request: Request, name: str) -> HTMLResponse:
    """Logs of a job."""
    job = workshop_of(request).job(name)
    return render("logs.html", name=name, here="log", job=job, logs=logs_of(request, name))


Before = Annotated[int | None, Query(ge=1, le=2**53)]
"""Number of a row; the page shows those that were written before it."""


@routes.get("/log/{log}")
def page(request: Request, log: str, before: Before = None) -> HTMLResponse:
    """The last rows of a log and a line to write into it, or rows further back."""
    path, here = workshop_of(request).log_path(log), f"/log/{log}"
    with follow_log(path).open() as (book, quality):
        about = book.about()
        parts = log_parts(book, quality, here, before)
    job = about.get("job", "")
    where: dict[str, Any] = {"name": job, "here": "log"} if job in workshop_of(request).jobs else {}
    return render(
        "log.html", log=log, about=about, before=before, here_log=here,
        stream="" if before else f"{here}/stream", write="" if before else f"{here}/line",
        export=f"{here}/export", **parts, **where,
    )  # fmt: skip


@routes.get("/log/{log}/stream")
def follow(request: Request, log: str) -> Response:
    """The same as it grows."""
    path = workshop_of(request).log_path(log)

    def last_row() -> int:
        with open_log(str(path)) as book:
            return book.last_id

    def draw() -> Parts:
        with follow_log(path).open() as (book, quality):
            parts = log_parts(book, quality, f"/log/{log}")
        return parts | {"sensors": sensors_part(request, log)}

    return stream(request, last_row, draw)


@routes.post("/log/{log}/line")
def write(request: Request, log: str, typed: Annotated[Typed, Depends()]) -> Response:
    """Write a line into a log."""
    return _write(request, workshop_of(request).log_path(log), log, typed)


def _write(request: Request, path: Path, log: str, typed: Typed) -> Response:
    at = time.time() - typed.ago if typed.ago else None
    with follow_log(path).open() as (book, quality):
        kept = write_line(book, typed.line, at=at, key=typed.key, quality=quality)
    return answer_of(request, kept, f"/log/{log}")


@routes.get("/log/{log}/export.{form}")
def export(request: Request, log: str, form: Literal["csv", "json"]) -> Response:
    """All of a log as a file, corrections included."""
    with open_log(str(workshop_of(request).log_path(log))) as book:
        return file_of(to_csv(book) if form == "csv" else to_json(book), log, form)


def file_of(text: str, name: str, form: Literal["csv", "json"]) -> Response:
    """A log to be kept as a file."""
    kind = "text/csv" if form == "csv" else "application/json"
    headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"'}
    return PlainTextResponse(text, headers=headers, media_type=kind)


def sensors_part(request: Request, log: str) -> str:
    """Instruments that send by themselves and behave strangely."""
    strange = [s for s in feed_of(request).states(log) if s.trouble]
    return text_of("sensors.html", sensors=strange)


def log_parts(
    log: Log, quality: DataQuality, address: str, before: int | None = None
) -> dict[str, Any]:
    """Rows of a log as its page shows them, the newest first.

    Parameters
    ----------
    quality : DataQuality
        Of this log, up to its last row.
    address : str
        Of the page.
    before : int, optional
        Number of a row; those written before it, by default the last ones.
    """
    rows = quality.rows
    end = len(rows) if before is None else bisect_left(rows, before, key=lambda e: e.id)
    begin = max(end - _SHOWN, 0)
    found = contents_of(log, only=rows[begin:end], quality=quality)
    return {
        "rows": text_of(
            "log-rows.html", scale=scale_of_log(found.about), address=address, more=begin,
            rows=[(e, entry_in_words(e)) for e in reversed(found.entries)],
        )
    }  # fmt: skip
