"""Instruments that send by themselves: over HTTP, through a broker, or as a table that grows.

All three end in the same place: :class:`Feed` writes what came in into a log, under the sensor's
channel, and watches how each sensor behaves.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Form, Header, HTTPException, Request, UploadFile
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, FiniteFloat
from starlette.responses import HTMLResponse, RedirectResponse, Response

from sweatline.errors import JobError, StoreError
from sweatline.log.channels import CHANNELS, SENSORS_FILE
from sweatline.log.feed import (
    Sensor,
    SensorState,
    SensorWatch,
    Sent,
    Taken,
    batches,
    checked,
    from_table,
    read_sensors,
    take,
)
from sweatline.log.lines import channel_named
from sweatline.log.logbook import open_log
from sweatline.units import quantity
from sweatline.web.pages import render, workshop_of
from sweatline.web.toml import add_row
from sweatline.web.workshop import Workshop

routes = APIRouter()
api = APIRouter(prefix="/api", tags=["instruments"])

_MOST: Final = 500  # readings in one message
_UNKNOWN: Final = 50  # sensors nobody has named that are remembered
_TABLE: Final = 5_000_000  # bytes of a table dropped on the page


class SentReading(BaseModel):
    """One number of one sensor."""

    model_config = ConfigDict(extra="forbid")

    sensor: Annotated[str, Field(min_length=1, max_length=64, examples=["suction gauge"])]
    value: Annotated[FiniteFloat, Field(examples=[24.1])]
    unit: Annotated[
        str, Field(max_length=24, examples=["psig"], description="As printed on the instrument; "
                   "may be left out where the sensor's line in the folder names it.")
    ] = ""  # fmt: skip
    at: Annotated[
        AwareDatetime | None,
        Field(description="When it was read, with its time zone; now when left out."),
    ] = None


class Message(BaseModel):
    """What an instrument sends: over HTTP, and the same as payload through a broker."""

    model_config = ConfigDict(extra="forbid")

    readings: Annotated[list[SentReading], Field(min_length=1, max_length=_MOST)]
    key: Annotated[
        str,
        Field(max_length=100, description="The same key again writes nothing twice."),
    ] = ""


class Kept(BaseModel):
    """What became of one number, in the order sent."""

    number: Annotated[int | None, Field(description="Of the log's entry; null where refused.")]
    problem: str = ""


class Answer(BaseModel):
    """What became of a message."""

    kept: int
    refused: int
    readings: list[Kept]


class Problem(BaseModel):
    """Why nothing was written, in a sentence."""

    problem: str


class Feed:
    """Writes what instruments send into the logs of a folder.

    Parameters
    ----------
    workshop : Workshop
        The folder.
    """

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self.watches: dict[str, SensorWatch] = {}
        self.unknown: dict[str, str] = {}  # sensors nobody has named, and what they sent last
        self.sources: dict[str, str] = {}  # state of broker and tables, by name
        self._lock = threading.Lock()
        self._sensors: tuple[int, dict[str, Sensor]] = (-1, {})

    def sensors(self) -> dict[str, Sensor]:
        """What the folder says of its sensors, read anew when the file has changed."""
        try:
            changed = (self.workshop.folder / SENSORS_FILE).stat().st_mtime_ns
        except OSError:
            changed = 0
        if changed != self._sensors[0]:
            self._sensors = (changed, read_sensors(self.workshop.folder))
        return self._sensors[1]

    def take(self, name: str, batch: Sequence[Sent], key: str = "") -> list[Taken]:
        """Write a batch into a log; what became of each number.

        Raises
        ------
        SweatlineError
            No such log, or it cannot be written; nothing of the batch is in it then.
        """
        path = self.workshop.log_path(name)
        now = time.time()
        with self._lock:
            sensors = self.sensors()
            with open_log(str(path)) as log:
                taken = take(log, batch, sensors, now=now, key=key)
                atmosphere = float(log.about().get("atmosphere_Pa", "nan"))
            watch = self.watches.setdefault(name, SensorWatch())
            for sent, done in zip(batch, taken, strict=True):
                if done.number is not None:
                    self._watched(watch, sent, sensors, now, atmosphere)
                elif sent.sensor not in sensors and len(self.unknown) < _UNKNOWN:
                    self.unknown[sent.sensor[:64]] = f"{sent.value:g} {sent.unit}".strip()
        return taken

    def _watched(
        self, watch: SensorWatch, sent: Sent, sensors: dict[str, Sensor], now: float, zero: float
    ) -> None:
        known = sensors.get(sent.sensor)
        channel = known.channel if known else channel_named(sent.sensor)
        unit = sent.unit or (known.unit if known else "")
        text = f"{sent.value:.6f} {unit}"
        value = quantity(text, CHANNELS[channel].kind, sent.sensor, atmosphere=zero)
        watch.take(sent.sensor, channel, value, now)

    def states(self, name: str) -> tuple[SensorState, ...]:
        """How the sensors of a log behave now."""
        with self._lock:
            watch = self.watches.get(name)
            return watch.states(time.time()) if watch else ()


def feed_of(request: Request) -> Feed:
    """What instruments feed."""
    found: Feed = request.app.state.feed
    return found


def sent_of(message: Message) -> list[Sent]:
    """The numbers of a message."""

    def seconds(at: datetime | None) -> float | None:
        return None if at is None else at.timestamp()

    return [
        Sent(sensor=r.sensor, value=r.value, unit=r.unit, at=seconds(r.at))
        for r in message.readings
    ]


@api.post(
    "/logs/{name}/readings",
    summary="Write readings into a log",
    responses={s: {"model": Problem} for s in (400, 401, 403, 404, 409, 413, 421, 422, 429)},
)
def readings(
    request: Request,
    name: str,
    message: Message,
    idempotency_key: Annotated[str, Header(max_length=100)] = "",
) -> Answer:
    """Write up to 500 readings; each is kept or refused by itself, and the answer says which."""
    feed = feed_of(request)
    if name not in feed.workshop.logs:
        raise HTTPException(404, "there is no log of this name")
    try:
        taken = feed.take(name, sent_of(message), idempotency_key or message.key)
    except StoreError as error:
        raise HTTPException(409, error.what) from error
    kept = sum(t.number is not None for t in taken)
    return Answer(
        kept=kept,
        refused=len(taken) - kept,
        readings=[Kept(number=t.number, problem=t.problem) for t in taken],
    )


@api.get("/logs", summary="Logs of this folder", responses={401: {"model": Problem}})
def logs(request: Request) -> list[str]:
    """Names that readings can be written to."""
    return list(workshop_of(request).logs)


@routes.get("/instruments")
def page(request: Request) -> HTMLResponse:
    """Who sends, how each sensor behaves, and what nobody has named yet."""
    return _page(request)


def _page(request: Request, *, status: int = 200, told: str = "", wrong: str = "") -> HTMLResponse:
    feed = feed_of(request)
    try:
        sensors, mistake = list(feed.sensors().values()), ""
    except JobError as error:
        sensors, mistake = [], str(error)
    logs = feed.workshop.logs
    return render(
        "instruments.html", status=status, sensors=sensors, logs=logs, told=told,
        wrong=wrong or mistake, unknown=feed.unknown, sources=feed.sources,
        states={name: feed.states(name) for name in logs}, channels=list(CHANNELS),
    )  # fmt: skip


@routes.post("/instruments/sensor")
def name_sensor(
    request: Request,
    name: Annotated[str, Form(max_length=64)],
    channel: Annotated[str, Form(max_length=40)],
    unit: Annotated[str, Form(max_length=24)],
    error: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Say what a sensor reads; it is written into the folder's file."""
    feed = feed_of(request)
    try:
        sensor = checked(Sensor(name=name.strip(), channel=channel, unit=unit, error=error.strip()))
        if sensor.name in feed.sensors():
            raise JobError(what=f"{sensor.name} is named already; change it in {SENSORS_FILE}")
        row = {"name": sensor.name, "channel": sensor.channel, "unit": sensor.unit}
        add_row(
            feed.workshop.folder / SENSORS_FILE, "sensor", row | ({"error": error} if error else {})
        )
    except JobError as mistake:
        return _page(request, status=400, wrong=str(mistake))
    feed.unknown.pop(sensor.name, None)
    return RedirectResponse("/instruments", 303)


@routes.post("/instruments/table")
def table(
    request: Request, file: UploadFile, log: Annotated[str, Form(max_length=80)]
) -> HTMLResponse:
    """Take in a table that was dropped on the page; what is in the log already is left out."""
    feed = feed_of(request)
    raw = file.file.read(_TABLE + 1)
    try:
        if len(raw) > _TABLE:
            raise JobError(what="far too large for a table of readings", allowed="5 MB at most")
        text = raw.decode("utf-8-sig")
        path = feed.workshop.log_path(log)
        with open_log(str(path)) as book:
            before = len(book.entries())
        sent = list(from_table(text))
        taken = [done for batch in batches(sent) for done in feed.take(log, batch)]
        with open_log(str(path)) as book:
            added = len(book.entries()) - before
    except UnicodeDecodeError:
        return _page(request, status=400, wrong="not a text in UTF-8")
    except (JobError, StoreError) as mistake:
        return _page(request, status=400, wrong=str(mistake))
    problems = sorted({t.problem for t in taken if t.problem})
    kept = sum(t.number is not None for t in taken)
    told = f"{added} readings written, {kept - added} were there already."
    return _page(request, told=told, wrong="; ".join(problems[:5]))
