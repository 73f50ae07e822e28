"""What is wrong with it: the page of a diagnosis, from what is typed and what a log says."""

from __future__ import annotations

from dataclasses import field, make_dataclass, replace
from typing import Any, Final

from sweatline.answers import ask
from sweatline.assembly.build import Build, build_for, choose
from sweatline.charging.readings import Round, log_of_lines, round_of
from sweatline.diagnosis.diagnosis import Diagnosis, diagnose
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Reading
from sweatline.errors import JobError
from sweatline.job.model import PARTS
from sweatline.log.channels import CHANNELS
from sweatline.log.extract import Book, Found, Logged
from sweatline.log.logbook import open_log
from sweatline.report.diagnosis import diagnosis_told
from sweatline.report.held_against import diagnosis_picture
from sweatline.web.asking import Group, Typed
from sweatline.web.task import Tap, Task, routes_of

_NO_ERROR: Final = 0.03  # of a hygrometer, whose channel says none (common practice)
_FIELDS: Final = {channel: channel.replace(" ", "_") for channel in SHOWS}


def _request() -> type:
    """One question for each channel that shows something of a machine, beside its parts."""
    parts: list[Any] = [(p, str | None, ask("", metavar="NAME")) for p in PARTS]
    readings: list[Any] = []
    for channel, name in _FIELDS.items():
        asked = ask("", CHANNELS[channel].kind, error=0.0, label=CHANNELS[channel].heading)
        readings += [(name, float | None, asked), (f"{name}_sd", float | None, field(default=None))]
    well = ask(
        "Readings of the same machine when it ran well make the answer much surer: "
        "suction 2.34 bar(g); head 6.35 bar(g); liquid-line 19.8 C",
        label="Readings from then",
    )
    readings.append(("well", str | None, well))
    given: list[Any] = [
        (name, Any, field(default=None))
        for name in ("length", "job", "atmosphere", "log_path", "progress")
    ]
    return make_dataclass("DiagnosisRequest", [*parts, *readings, *given], frozen=True)


REQUEST: Final[Any] = _request()


def _logged(book: Book, _typed: Typed, _now: float) -> Logged:
    """The log itself: its readings are followed to where they settle."""
    return Logged({"log_path": Found(value=book.path, text="", entries=())})


def _when_well(build: Build, line: str) -> Round:
    """The round from when it ran well.

    Raises
    ------
    JobError
        It was not understood; its field names the question.
    """
    try:
        with log_of_lines(build, [line]) as log:
            return round_of(log, build)
    except JobError as error:
        raise replace(error, field="well") from error


def _diagnosed(asked: Any) -> Diagnosis:
    """The diagnosis of typed readings and of those in a log; what is typed beats the log.

    Raises
    ------
    JobError
        Nothing was read that shows anything of the machine.
    """
    i, name, j = choose(asked.job, **{part: getattr(asked, part) for part in PARTS})
    build = build_for(asked.job, compressor=i, refrigerant=name, capillary=j, length=asked.length)
    readings: dict[str, Reading] = {}
    found = Round(readings=(), notes=())
    if asked.log_path:
        with open_log(asked.log_path) as log:
            found = round_of(log, build)
        readings = {r.channel: r for r in found.readings}
    for channel, named in _FIELDS.items():
        value = getattr(asked, named)
        if value is not None:
            usual = CHANNELS[channel].sd * (abs(value) if CHANNELS[channel].relative else 1.0)
            sd = getattr(asked, f"{named}_sd") or usual or _NO_ERROR
            readings[channel] = Reading(channel=channel, value=value, sd=sd)
    then = _when_well(build, asked.well or "")
    return diagnose(
        build, tuple(readings.values()), well=then.readings, notes=(*found.notes, *then.notes),
        ruled_out=found.ruled_out, progress=asked.progress,
    )  # fmt: skip


DIAGNOSE: Final = Task(
    key="diagnose",
    title="What is wrong?",
    lead="Read what you have instruments for while it runs steadily: any few will do. It says what "
    "is wrong, how sure that is, and which reading would settle it.",
    request=REQUEST,
    answer=_diagnosed,
    asks=frozenset(_FIELDS.values()),
    read=_logged,
    told=diagnosis_told,
    picture=diagnosis_picture,
    stop=lambda _a: "",
    next=lambda _a, _scale: "",
    groups=(
        Group(title="", names=(*PARTS, "suction_gauge", "head_gauge", "watts", "amps")),
        Group(title="Thermometers on tubes and coils",
              names=("suction_gas", "return_gas", "discharge_gas", "liquid_line", "condenser_bend",
                     "evaporator_bend", "coil")),
        Group(title="Air and water",
              names=("air_in", "room_humidity", "air_between", "air_out", "water_rate")),
        Group(title="When it ran well", names=("well",)),
        Group(title="With the machine off", names=("standing_pressure", "charge_weighed")),
    ),
    cautions=(),
    taps=lambda _refrigerant: (
        Tap(line="started", word="Switched on", not_after=("started",)),
        Tap(line="stopped", word="Switched off", after=("started",)),
    ),
    channels=("suction gauge", "head gauge", "watts", "suction gas", "return gas", "discharge gas",
              "liquid line", "condenser bend", "evaporator bend", "air in", "room humidity",
              "air out", "water"),
)  # fmt: skip

routes: Final = routes_of(DIAGNOSE)
