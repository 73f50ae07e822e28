"""Practise: a simulated machine that runs beside the charge page, and how it went."""

from __future__ import annotations

import secrets
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Form, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from sweatline.charging.preparation import Prepared, prepare_build
from sweatline.design.match import MatchAnswer
from sweatline.diagnosis.faults import ANY, FAULTS
from sweatline.errors import JobError, SolveError
from sweatline.job.model import Job
from sweatline.log.logbook import open_log
from sweatline.log.store import to_csv, to_json
from sweatline.report import review
from sweatline.report.course import debrief_course
from sweatline.report.sentences import duration
from sweatline.training.debrief import Debrief, Ended, debrief_of_session
from sweatline.training.paced import PACES, PacedSession
from sweatline.training.practice_machine import practice_job
from sweatline.training.session import TrainingSession, step_from, weight
from sweatline.training.simulated_machine import simulate
from sweatline.units import Scale
from sweatline.web.charge import live_parts
from sweatline.web.charging import TRIAL_RUNS, Charging, Parts, counted, parts_of
from sweatline.web.choice import chosen_of, ranking, resolved
from sweatline.web.followed import follow_log
from sweatline.web.live import stream
from sweatline.web.logs import Before, file_of, log_parts
from sweatline.web.pages import part, render, text_of, workshop_of
from sweatline.web.workshop import Calculation

routes = APIRouter()

_MOST: Final = 6  # machines that run at once
_AT_ONCE: Final = 2.0  # s that a page waits for its machine

_running: OrderedDict[str, Practice] = OrderedDict()
_lock = threading.Lock()


class Practice:
    """One simulated machine with its log, its advice and, in the end, its debrief.

    Parameters
    ----------
    job : Job
        That the machine is drawn from.
    parts : Parts
    seed : int
        Which machine.
    fault : str
        Key of a fault, or any; empty for none.
    pace : float
        How many times as fast as the clock.
    slips : bool
        Now and then a reading is written down wrongly.
    name : str
        Of the job in the folder; empty for the invented machine.
    """

    def __init__(
        self,
        job: Job,
        parts: Parts,
        *,
        seed: int,
        fault: str,
        pace: float,
        slips: bool,
        name: str = "",
    ) -> None:
        self.job = job
        self.parts = parts
        self.seed = seed
        self.fault = fault
        self.slips = slips
        self.back = f"/job/{name}/practise" if name else "/practise"
        self.where: dict[str, Any] = {"name": name, "here": "charge"} if name else {}
        self.scale = Scale(job.unit_system, job.place.atmospheric_pressure)
        self.begun = Calculation()
        self.ready = Calculation()
        self.debrief = Calculation()
        self.pace = pace
        self._folder = tempfile.TemporaryDirectory(prefix="sweatline-", ignore_cleanup_errors=True)
        self.path = Path(self._folder.name) / "practice.log"

    @property
    def again(self) -> dict[str, str]:
        """What begins the same machine again."""
        chosen, job = self.parts, self.job
        facts: dict[str, str] = {"units": job.unit_system}
        if self.where:
            facts = {
                "compressor": job.compressors[chosen.compressor].name,
                "refrigerant": chosen.refrigerant,
                "capillary": job.capillaries[chosen.capillary].name,
            }
        slips = {"slips": "true"} if self.slips else {}
        return facts | slips | {
            "seed": str(self.seed), "fault": self.fault, "pace": f"{self.pace:g}"
        }  # fmt: skip

    @property
    def machine(self) -> PacedSession:
        """The machine as it runs, once it is begun."""
        found: PacedSession = self.begun.answer
        return found

    @property
    def charging(self) -> Charging:
        """What pages follow."""
        return self._charging

    def start(self) -> None:
        """Draw the machine and let it run; then prepare the advice."""
        threading.Thread(target=self._prepare, name="practice", daemon=True).start()

    def close(self) -> None:
        """End it without a debrief."""
        if self.begun.done and not self.begun.problem:
            self.machine.end()
        self._folder.cleanup()

    def _prepare(self) -> None:
        self.begun.run(lambda _tell: self._begin())
        if not self.begun.problem:
            self.ready.run(self._advice)

    def _begin(self) -> PacedSession:
        chosen = self.parts
        machine = simulate(
            self.job, compressor=chosen.compressor, refrigerant=chosen.refrigerant,
            capillary=chosen.capillary, length=chosen.length, seed=self.seed,
            fault=self.fault or None,
        )  # fmt: skip
        paced = PacedSession(machine, self.seed, self.path, pace=self.pace, slips=self.slips)
        self._charging = Charging(self.job, chosen.refrigerant, self.path, clock=lambda: paced.now)
        paced.start(self._review)
        paced.begun.wait()
        return paced

    def _advice(self, tell: Callable[[float], None]) -> Prepared:
        machine = self.machine.machine
        return prepare_build(
            machine.build, machine.card, simulated=True, draws=TRIAL_RUNS, progress=counted(tell)
        )

    def _review(self, session: TrainingSession, ended: Ended, why: str) -> None:
        def work(_tell: Callable[[float], None]) -> Debrief:
            self.ready.finished.wait()
            if self.ready.problem:
                raise SolveError(condition=self.ready.problem)
            return debrief_of_session(
                session, self.ready.answer, self.seed,
                hidden=self.fault == ANY, ended=ended, broken_off=why,
            )  # fmt: skip

        self.debrief.run(work)


def _begin(practice: Practice) -> Response:
    key = secrets.token_hex(6)
    with _lock:
        _running[key] = practice
        while len(_running) > _MOST:
            _running.popitem(last=False)[1].close()
    practice.start()
    return RedirectResponse(f"/practise/{key}", 303)


def _found(key: str) -> Practice:
    found = _running.get(key)
    if found is None:
        raise JobError(what="this practice is over and gone; begin another")
    return found


@routes.get("/practise")
def begin_page(request: Request) -> HTMLResponse:
    """Begin on the invented machine."""
    return render(
        "practise.html", action="/practise", faults=FAULTS.values(), paces=PACES, invented=True
    )


Fault = Annotated[str, Form(max_length=40)]
Pace = Annotated[float, Form(ge=0.0, le=PACES[-1])]
Seed = Annotated[int | None, Form(ge=0, le=2**31)]


@routes.post("/practise")
def begin_invented(
    units: Annotated[Literal["SI", "US"], Form()] = "SI",
    fault: Fault = "",
    pace: Pace = 5.0,
    slips: Annotated[bool, Form()] = False,
    seed: Seed = None,
) -> Response:
    """Let the invented machine run."""
    job = practice_job(units)
    practice = Practice(
        job, parts_of(job, {}), seed=_seed(seed), fault=fault, pace=pace, slips=slips,
    )  # fmt: skip
    return _begin(practice)


def _seed(seed: int | None) -> int:
    return secrets.randbelow(10000) if seed is None else seed


@routes.get("/job/{name}/practise")
def begin_own_page(request: Request, name: str) -> HTMLResponse:
    """Begin on a machine drawn from a job: the frame; parts and choices follow."""
    job = workshop_of(request).job(name)
    return render(
        "practise-own.html", name=name, here="charge", job=job, chosen=chosen_of(request).query
    )


@routes.get("/job/{name}/practise/parts")
def own_parts(request: Request, name: str) -> HTMLResponse:
    """The parts, the best of the ranking first, and how it is to run."""
    workshop = workshop_of(request)
    job, wanted = workshop.job(name), chosen_of(request)

    def draw(found: MatchAnswer) -> HTMLResponse:
        _choice, names = resolved(job, wanted, found)
        return render(
            "practise-form.html", action=f"/job/{name}/practise", faults=FAULTS.values(),
            paces=PACES, invented=False, job=job, names=names,
        )  # fmt: skip

    return part(ranking(workshop, job), draw)


@routes.post("/job/{name}/practise")
def begin_own(
    request: Request,
    name: str,
    compressor: Annotated[str, Form(max_length=120)],
    refrigerant: Annotated[str, Form(max_length=20)],
    capillary: Annotated[str, Form(max_length=120)],
    fault: Fault = "",
    pace: Pace = 5.0,
    slips: Annotated[bool, Form()] = False,
    seed: Seed = None,
) -> Response:
    """Let a machine run that is drawn from what a job leaves open."""
    job = workshop_of(request).job(name)
    about = {"compressor": compressor, "refrigerant": refrigerant, "capillary": capillary}
    practice = Practice(
        job, parts_of(job, about), seed=_seed(seed), fault=fault, pace=pace, slips=slips,
        name=name,
    )  # fmt: skip
    return _begin(practice)


@routes.get("/practise/{key}")
def page(request: Request, key: str) -> HTMLResponse:
    """The machine as it runs; its debrief when it is over."""
    practice = _found(key)
    practice.begun.finished.wait(_AT_ONCE)
    if practice.begun.done and not practice.begun.problem and practice.machine.ended:
        return render("practise-over.html", key=key, **practice.where)
    return render("practise-live.html", key=key, title=practice.job.title, **practice.where)


@routes.get("/practise/{key}/bench")
def bench(request: Request, key: str) -> HTMLResponse:
    """What the page carries, once the machine runs."""
    practice = _found(key)
    base = f"/practise/{key}"

    def draw(_machine: PacedSession) -> HTMLResponse:
        return render(
            "charge-body.html", scale=practice.scale, base=base, log=key, title=practice.job.title,
            practice=True, hidden=practice.fault == ANY, paces=PACES, faults=FAULTS.values(),
            sensors="",
            usual=weight(0.05 * practice.machine.machine.card.charge, practice.scale.system),
            **_live(practice, base),
        )  # fmt: skip

    practice.begun.finished.wait(0.25)
    if not practice.begun.done:
        return render("practise-wait.html", status=202)
    return part(practice.begun, draw)


def _live(practice: Practice, base: str) -> dict[str, Any]:
    machine = practice.machine
    parts = live_parts(practice.charging, practice.ready, practice.scale, base, practice=True)
    state = text_of(
        "practise-state.html", base=base, machine=machine,
        time=duration(machine.now - machine.begun_at), over=machine.ended,
    )  # fmt: skip
    return parts | {"state": state}


@routes.get("/practise/{key}/stream")
def follow(request: Request, key: str) -> Response:
    """The same as it goes on."""
    practice = _found(key)
    base = f"/practise/{key}"
    return stream(request, practice.charging.last_row, lambda: _live(practice, base))


@routes.post("/practise/{key}/do")
def do(
    request: Request,
    key: str,
    what: Annotated[Literal["add", "stop", "start", "fault", "pace", "end"], Form()],
    amount: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Have something done at the machine."""
    practice = _found(key)
    machine = practice.machine
    told = ""
    if what == "end":
        machine.end(amount)
        return RedirectResponse(f"/practise/{key}", 303)
    if what == "pace":
        if amount not in {f"{p:g}" for p in (0.0, *PACES)}:
            raise JobError(what="not a pace", read=amount)
        machine.pace = float(amount)
        told = (
            "It stands still." if machine.pace == 0.0 else f"{amount} times as fast as the clock."
        )
    else:
        unit = "oz" if practice.scale.system == "US" else "g"
        bare = what == "add" and not any(c.isalpha() for c in amount)
        step = step_from(f"{what} {amount} {unit if bare else ''}", most=machine.most)
        machine.ask(step)
        told = {"add": "The hose is open.", "fault": "Noted."}.get(what, "")
    if request.headers.get("x-part"):
        return render("told.html", told=told)
    return RedirectResponse(f"/practise/{key}", 303)


@routes.get("/practise/{key}/debrief")
def debrief(request: Request, key: str) -> HTMLResponse:
    """How it went."""
    practice = _found(key)
    scale = practice.scale

    def draw(found: Debrief) -> HTMLResponse:
        first, *rest = review.story(found, scale)
        return render(
            "practise-debrief.html", scale=scale, found=found, headline=first, story=rest,
            course=debrief_course(found, scale), remarks=list(review.remarks(found, scale)),
            next=review.next_step(found, scale), lesson=review.lesson(found, scale),
            advised=[review.advised(d, scale) for d in found.doses],
            weighed=[weight(d.weighed, scale.system) for d in found.doses],
            attempts=review.attempts(found), best=review.best_charge(found), practice=practice,
            key=key,
        )  # fmt: skip

    return part(practice.debrief, draw)


@routes.get("/practise/{key}/log")
def log(request: Request, key: str, before: Before = None) -> HTMLResponse:
    """What stands in its log."""
    practice, here = _found(key), f"/practise/{key}/log"
    with follow_log(practice.path).open() as (book, quality):
        about = book.about()
        parts = log_parts(book, quality, here, before)
    return render(
        "log.html", log="practice", about=about, before=before, here_log=here, stream="", write="",
        export=f"/practise/{key}/export", **parts, **practice.where,
    )  # fmt: skip


@routes.get("/practise/{key}/export.{form}")
def export(request: Request, key: str, form: Literal["csv", "json"]) -> Response:
    """All of its log as a file."""
    with open_log(str(_found(key).path)) as book:
        return file_of(to_csv(book) if form == "csv" else to_json(book), "practice", form)
