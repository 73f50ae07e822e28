"""This combination: room, charge and tube under a finger, and what gauges and air do meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, Response

from sweatline.answers import told
from sweatline.design.balance import BalanceAnswer, balance
from sweatline.design.charge_curve import ChargeAnswer, charge_curve
from sweatline.design.match import Choice
from sweatline.errors import OutOfRange, SolveError, SweatlineError
from sweatline.job.model import PARTS, Job
from sweatline.machine.balance import SteadyState
from sweatline.report.charge_curve import (
    CURVE,
    STATES,
    event_lines,
    headline_of_curve,
    stop_line,
    thinned,
)
from sweatline.report.moving import Moves, MovingAir, MovingStates
from sweatline.report.reasons import MEASURE_NEXT, told_shares, told_verdicts
from sweatline.report.sentences import outcome, outside, parts_line, room_line, sentence, trial_runs
from sweatline.units import Kind, Scale
from sweatline.web.choice import Chosen, best_of, chosen_of, resolved
from sweatline.web.pages import part, render, workshop_of
from sweatline.web.pictures import drawing, themed
from sweatline.web.workshop import Calculation, Workshop

routes = APIRouter(prefix="/job/{name}")
_SAMPLES: Final = 64
_FEWER: Final = 32  # of a whole curve
_ROWS: Final = 16  # of its table
_STEPS: Final = 4  # from the last state to one that a single step does not reach
_SEEN: Final = (
    "suction_pressure", "evaporating_temperature", "discharge_pressure", "condensing_temperature",
    "superheat", "subcooling", "water", "total_power", "total_current",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mover:
    """A slider: a number of the machine that a finger moves."""

    key: str
    word: str
    kind: Kind
    low: float
    high: float
    step: float
    value: float


@dataclass(slots=True)
class View:
    """A combination as it stands on a page, and the last state that was found for it."""

    job: Job
    choice: Choice
    start: BalanceAnswer
    chosen: Chosen  # with every number filled in
    states: MovingStates
    air: MovingAir
    at: Chosen
    last: SteadyState
    lock: threading.Lock = field(default_factory=threading.Lock)

    def solved(self, wanted: Chosen) -> BalanceAnswer:
        """The machine moved, from the last state, in steps where one does not reach.

        Raises
        ------
        SweatlineError
            Nothing is found near the last state.
        """
        with self.lock:
            try:
                found = self._step(wanted, self.last)
            except SolveError:
                near = self.last
                for between in _between(self.at, wanted, _STEPS):
                    found = self._step(between, near)
                    near = found.steady
            self.at, self.last = wanted, found.steady
            return found

    def _step(self, wanted: Chosen, near: SteadyState) -> BalanceAnswer:
        i, refrigerant, j = self.choice
        return balance(
            wanted.moved(self.job, j), compressor=i, refrigerant=refrigerant, capillary=j,
            length=wanted.length_m, charge=wanted.charge_kg, draws=0, near=near,
        )  # fmt: skip


def _between(start: Chosen, end: Chosen, count: int) -> Iterator[Chosen]:
    """Choices on the straight way from one to another, the end included."""
    for k in range(1, count + 1):
        share = k / count
        yield replace(
            end,
            **{
                key: (1.0 - share) * getattr(start, key) + share * getattr(end, key)
                for key in ("length_m", "bore_m", "charge_kg", "room_temperature_K",
                            "room_humidity")
            },
        )  # fmt: skip


def view_of(workshop: Workshop, job: Job, chosen: Chosen) -> Calculation:
    """The combination of an address, solved and with its frames drawn."""

    def work(_tell: object) -> View:
        bench = workshop.taught(job)
        (i, refrigerant, j), full = best_of(workshop, job, chosen)
        start = balance(
            full.moved(bench, j), compressor=i, refrigerant=refrigerant, capillary=j,
            length=full.length_m, charge=full.charge_kg, draws=0,
        )  # fmt: skip
        build, steady = start.build, start.steady
        filled_in = replace(
            full,
            length_m=build.length,
            bore_m=build.capillary.bore.value,
            charge_kg=steady.charge,
            room_temperature_K=build.job.room.temperature.value,
            room_humidity=build.job.room.relative_humidity.value,
        )
        system = job.unit_system
        return View(
            job=bench, choice=(i, refrigerant, j), start=start, chosen=filled_in,
            states=MovingStates(build, steady, system), air=MovingAir(build, steady, system),
            at=filled_in, last=steady,
        )  # fmt: skip

    return workshop.calculations.ask(("view", job.digest, chosen), work)


@routes.get("/combination")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the machine follows as a part."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    chosen = chosen_of(request)
    return render(
        "combination.html", scale=workshop.scale(name), name=name, here="match", job=job,
        chosen=chosen.query,
    )  # fmt: skip


@routes.get("/combination/view")
def view(request: Request, name: str) -> HTMLResponse:
    """Sentence, gauges, pictures and sliders."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)

    def draw(found: View) -> HTMLResponse:
        moves, _inside = _moves(found, found.start)
        return render(
            "combination-view.html", scale=scale, name=name, headline=outcome(found.start, scale),
            limits=_limits(found.start.steady, scale),
            parts=parts_line(found.start.parts, scale), room=room_line(found.start.job, scale),
            seen=_seen(found.start.steady, scale), movers=_movers(found, scale), moves=moves,
            told=_told(moves), drawings=_drawings(found, moves), frame=chosen.query,
            full=found.chosen, carried=_carried(found.chosen, chosen).query,
            superheat=scale.show(found.job.targets.superheat, "temperature difference", 2),
        )  # fmt: skip

    return part(view_of(workshop, job, chosen), draw)


@routes.get("/combination/pictures")
def redrawn(request: Request, name: str) -> HTMLResponse:
    """The pictures in a frame that suits where the sliders stand."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    chosen = chosen_of(request)

    def draw(found: View) -> HTMLResponse:
        moves, _inside = _moves(found, found.start)
        return render(
            "combination-pictures.html", drawings=_drawings(found, moves), told=_told(moves),
            frame=chosen.query,
        )  # fmt: skip

    return part(view_of(workshop, job, chosen), draw)


@routes.get("/combination/live")
def live(request: Request, name: str, frame: str = "") -> Response:
    """Where everything stands with the sliders as they are, for the frame that is on the page."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    chosen = chosen_of(request)
    calculation = view_of(workshop, job, _of_query(frame))
    if not calculation.done or calculation.problem:
        return JSONResponse({}, 202)
    shown: View = calculation.answer
    wanted = replace(
        shown.chosen,
        **{
            key: value
            for key in ("length_m", "bore_m", "charge_kg", "room_temperature_K", "room_humidity")
            if (value := getattr(chosen, key)) is not None
        },
    )
    moved = {m.key: scale.show(getattr(wanted, m.key), m.kind) for m in _movers(shown, scale)}
    try:
        found = shown.solved(wanted)
    except OutOfRange as error:
        return JSONResponse({"problem": outside(error, scale), "moved": moved})
    except SweatlineError:
        return JSONResponse({"problem": _NOTHING_NEAR, "moved": moved})
    moves, inside = _moves(shown, found)
    return JSONResponse(
        {
            "sentence": outcome(found, scale),
            "limits": _limits(found.steady, scale),
            "seen": _seen(found.steady, scale),
            "moved": moved,
            "moves": moves,
            "inside": inside,
        }
    )


_NOTHING_NEAR: Final = (
    "No balance here, as far as a look from the last one can tell. The search goes on when you "
    "let go."
)


@routes.get("/combination/numbers")
def numbers(request: Request, name: str) -> HTMLResponse:
    """Verdicts and numbers with the ranges of the trial runs."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)
    i, refrigerant, j = resolved(job, chosen, None)[0]
    calculation = workshop.calculations.ask(
        ("balance", job.digest, chosen),
        lambda _tell: balance(
            chosen.moved(workshop.taught(job), j), compressor=i, refrigerant=refrigerant,
            capillary=j, length=chosen.length_m, charge=chosen.charge_kg, draws=_SAMPLES,
        ),
    )  # fmt: skip

    def draw(found: BalanceAnswer) -> HTMLResponse:
        return render(
            "combination-numbers.html", scale=scale, name=name, answer=found,
            headline=outcome(found, scale), runs=trial_runs(found.draws, found.unsolved),
            short=list(told_verdicts(found.verdicts, scale, found.draws, details=False)),
            verdicts=list(told_verdicts(found.verdicts, scale, found.draws)),
            shares=told_shares(found.shares.get("water_kg_per_s", ())),
            measure_next=MEASURE_NEXT, notes=[told(n, scale) for n in found.steady.notes],
            places=_places(found, scale),
        )  # fmt: skip

    return part(calculation, draw)


@routes.get("/combination/curve")
def curve(request: Request, name: str) -> HTMLResponse:
    """What gauges show from nearly empty to overfull, with the room and the tube as they stand."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = replace(chosen_of(request), charge_kg=None)
    i, refrigerant, j = resolved(job, chosen, None)[0]
    key = ("curve", job.digest, chosen)
    calculation = workshop.calculations.ask(
        key,
        lambda tell: charge_curve(
            chosen.moved(workshop.taught(job), j), compressor=i, refrigerant=refrigerant,
            capillary=j, length=chosen.length_m, draws=_FEWER, progress=tell,
        ),
    )  # fmt: skip

    def draw(found: ChargeAnswer) -> HTMLResponse:
        return part(drawing(workshop, key, found), lambda p: _curve_drawn(found, scale, p))

    return part(calculation, draw)


def _curve_drawn(
    found: ChargeAnswer, scale: Scale, pictures: list[tuple[str, Markup]]
) -> HTMLResponse:
    rows = thinned(found.curve, found.stop, _ROWS)
    heads, columns = [], []
    for name, title in CURVE:
        q = STATES[name]
        unit, cells = scale.column([q.of(b) for b in rows], q.kind, q.digits)
        word = title.replace("-\n", "")  # broken for a terminal
        heads.append(f"{word}, {unit}" if unit else word)
        columns.append(cells)
    stops = [b.charge == found.stop.charge for b in rows]
    return render(
        "combination-curve.html", scale=scale, answer=found, pictures=pictures,
        headline=headline_of_curve(found, scale), stop=stop_line(found, scale),
        runs=trial_runs(found.draws), heads=heads,
        table=list(zip(stops, zip(*columns, strict=True), strict=True)),
        events=event_lines(found, scale), notes=[told(note, scale) for note in found.ended],
    )  # fmt: skip


def _of_query(query: str) -> Chosen:
    """What the frame on a page was drawn for."""
    return chosen_of(Request({"type": "http", "query_string": query.encode(), "headers": []}))


def _carried(full: Chosen, chosen: Chosen) -> Chosen:
    """The parts by name, and of the numbers those that the address has."""
    return replace(chosen, **{
        key: getattr(full, key) for key in PARTS
    })  # fmt: skip


def _seen(steady: SteadyState, scale: Scale) -> dict[str, str]:
    """What instruments show, number and unit apart, by the name of the quantity."""
    found = {}
    for name in _SEEN:
        q = STATES[name]
        text = scale.show(q.of(steady), q.kind, q.digits)
        found[name], _space, found[f"{name}-unit"] = text.partition(" ")
    return found


def _limits(steady: SteadyState, scale: Scale) -> str:
    """What is outside a model's range, in a sentence; empty when nothing is."""
    return " ".join(sentence(told(note, scale)) for note in steady.notes)


def _moves(view: View, found: BalanceAnswer) -> tuple[Moves, bool]:
    states, inside = view.states.moves(found.build, found.steady)
    air, air_inside = view.air.moves(found.build, found.steady)
    return {**states, **air}, inside and air_inside


def _told(moves: Moves) -> dict[str, list[tuple[str, str]]]:
    """What stands beside the numbers in the pictures: id and words."""
    found: dict[str, list[tuple[str, str]]] = {"states": [], "air": []}
    for key, move in moves.items():
        if key.endswith("-told"):
            found[key.partition("-")[0]].append((key, move["text"]))
    return found


def _drawings(view: View, moves: Moves) -> list[tuple[str, Markup]]:
    """Both pictures with their lines where the moves have them."""
    return [
        (one.name, Markup(themed(one.moved(moves))))
        for one in (view.states.drawing, view.air.drawing)
    ]


def _places(found: BalanceAnswer, scale: Scale) -> list[tuple[str, str, str, str]]:
    """Where the charge is: place, mass, share, likely range; most first."""
    places = sorted(found.steady.charge_by_place._asdict().items(), key=lambda kv: -kv[1])
    return [
        (
            place.replace("_", " "),
            scale.show(mass, "mass"),
            f"{100 * mass / found.steady.charge:.0f} %",
            scale.range(found.place_bands.get(place), "mass", 2),
        )
        for place, mass in places
    ]


def _movers(view: View, scale: Scale) -> list[Mover]:
    """The sliders, each with a step that its unit shows, through the value it starts from."""
    at, us = view.chosen, scale.system == "US"
    bore = view.job.capillaries[view.choice[2]].bore.value
    wanted: tuple[tuple[str, str, Kind, float, float, float], ...] = (
        ("room_temperature_K", "room", "temperature", 278.15, 308.15, 5 / 9 if us else 0.5),
        ("room_humidity", "humidity", "relative humidity", 0.3, 0.95, 0.01),
        ("charge_kg", "charge", "mass", 0.4, 1.6, 2.8349523e-3 if us else 1e-3),
        ("bore_m", "bore", "bore", 0.75 * bore, 1.35 * bore, 1.27e-5 if us else 1e-5),
        ("length_m", "length", "length", 0.4, 2.5, 6.35e-3 if us else 1e-2),
    )
    found = []
    for key, word, kind, low, high, step in wanted:
        value = getattr(at, key)
        if kind in ("mass", "length"):
            low, high = low * value, high * value
        down, up = max(int((value - low) / step), 0), max(int((high - value) / step), 0)
        found.append(Mover(key, word, kind, value - down * step, value + up * step, step, value))
    return found
