"""What it does in other rooms: a map of rooms, and whether frost blocks the coil in one of them."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse

from sweatline.answers import told
from sweatline.design.frost import FrostAnswer, frost
from sweatline.design.room_map import Grid, RoomAnswer, room_map
from sweatline.report.reasons import told_verdicts
from sweatline.report.rooms import (
    freezes,
    frost_lines,
    frost_room_line,
    headline_of_frost,
    headline_of_rooms,
    keeping_open,
    melting,
    thinned_steps,
    without_balance,
)
from sweatline.report.sentences import parts_line, trial_runs
from sweatline.units import Kind, Scale, quantity
from sweatline.web.choice import best_of, chosen_of
from sweatline.web.pages import part, render, workshop_of
from sweatline.web.pictures import drawing

routes = APIRouter(prefix="/job/{name}")
_SAMPLES: Final = 32
_HUMIDITIES: Final = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
# Round numbers of either system. [K]
_TEMPERATURES: Final = {
    "SI": tuple(273.15 + t for t in range(8, 33, 4)),
    "US": tuple((t - 32.0) / 1.8 + 273.15 for t in range(45, 91, 9)),
}
_LONGEST: Final = 40  # letters of a field


@routes.get("/rooms")
def page(request: Request, name: str) -> HTMLResponse:
    """The frame of the page; the map follows as a part, and frost when a room is named."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    chosen = chosen_of(request)
    asked = request.query_params
    return render(
        "rooms.html", scale=workshop.scale(name), name=name, here="rooms", job=job, picked=chosen,
        chosen=chosen.query, temperature=asked.get("temperature", "")[:_LONGEST],
        humidity=asked.get("humidity", "")[:_LONGEST], query=request.url.query,
    )  # fmt: skip


@routes.get("/rooms/answer")
def answer(request: Request, name: str) -> HTMLResponse:
    """The map, when it is calculated and drawn."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)
    key = ("rooms", job.digest, chosen)

    def work(tell: object) -> RoomAnswer:
        (i, refrigerant, j), full = best_of(workshop, job, chosen)
        return room_map(
            full.moved(workshop.taught(job), j), compressor=i, refrigerant=refrigerant,
            capillary=j, temperatures=_TEMPERATURES[job.unit_system], humidities=_HUMIDITIES,
            length=full.length_m, charge=full.charge_kg, draws=_SAMPLES,
            progress=tell if callable(tell) else None,
        )  # fmt: skip

    def draw(found: RoomAnswer) -> HTMLResponse:
        return part(drawing(workshop, key, found), lambda p: _drawn(found, scale, p))

    return part(workshop.calculations.ask(key, work), draw)


def _drawn(found: RoomAnswer, scale: Scale, pictures: list[tuple[str, Markup]]) -> HTMLResponse:
    return render(
        "rooms-answer.html", scale=scale, answer=found, pictures=pictures,
        headline=headline_of_rooms(found, scale), parts=parts_line(found.parts, scale),
        charge=scale.show(found.charge, "mass"), runs=trial_runs(found.draws),
        humidities=[scale.show(rh, "relative humidity", 2) for rh in found.relative_humidities],
        grids=[
            _grid("Water", found.water, "water removal", found, scale),
            _grid("Watts with the fan", found.total_power, "power", found, scale),
            _grid("Coldest coil surface (* freezes)", found.coil_temperature, "temperature",
                  found, scale),
        ],
        frost_line=frost_lines(found, scale), reasons=without_balance(found, scale),
    )  # fmt: skip


def _grid(
    title: str, grid: Grid, kind: Kind, found: RoomAnswer, scale: Scale
) -> tuple[str, list[tuple[str, list[str]]]]:
    """Title with its unit, and a row of cells for each temperature."""
    flat = [v for row in grid for v in row]
    unit, cells = scale.column(flat, kind, 2 if kind == "water removal" else 3)
    if kind == "temperature":
        cells = [
            f"{cell}*" if v is not None and freezes(v) else cell
            for cell, v in zip(cells, flat, strict=True)
        ]
    count = len(found.relative_humidities)
    rows = [
        (scale.show(t, "temperature"), cells[k * count : (k + 1) * count])
        for k, t in enumerate(found.temperatures)
    ]
    return (f"{title}, {unit}" if unit else title), rows


@routes.get("/rooms/frost")
def in_the_cold(
    request: Request, name: str, temperature: str = "", humidity: str = ""
) -> HTMLResponse:
    """Whether frost blocks the coil in a room as it was typed."""
    workshop = workshop_of(request)
    job = workshop.job(name)
    scale = workshop.scale(name)
    chosen = chosen_of(request)
    room = (
        quantity(temperature[:_LONGEST], "temperature", "temperature", low=243.15, high=333.15)
        if temperature
        else None,
        quantity(humidity[:_LONGEST], "relative humidity", "humidity", low=0.01, high=1.0)
        if humidity
        else None,
    )

    def work(tell: object) -> FrostAnswer:
        (i, refrigerant, j), full = best_of(workshop, job, chosen)
        return frost(
            full.moved(workshop.taught(job), j), compressor=i, refrigerant=refrigerant,
            capillary=j, length=full.length_m, charge=full.charge_kg, room_temperature=room[0],
            room_humidity=room[1], progress=tell if callable(tell) else None,
        )  # fmt: skip

    key = ("frost", job.digest, chosen, room)

    def draw(found: FrostAnswer) -> HTMLResponse:
        if found.ended == "bare":
            return drawn(found, [])
        return part(drawing(workshop, key, found), lambda figures: drawn(found, figures))

    def drawn(found: FrostAnswer, figures: list[tuple[str, Markup]]) -> HTMLResponse:
        return render(
            "rooms-frost.html", scale=scale, answer=found, pictures=figures,
            headline=headline_of_frost(found, scale), parts=parts_line(found.parts, scale),
            room=frost_room_line(found, scale),
            verdicts=list(told_verdicts([found.verdict], scale, 0)), steps=_steps(found, scale),
            melts=melting(found, scale), keeps=keeping_open(found, scale),
            notes=[told(note, scale) for note in found.notes],
        )  # fmt: skip

    return part(workshop.calculations.ask(key, work), draw)


def _steps(found: FrostAnswer, scale: Scale) -> list[list[str]]:
    """Rows of how the frost grows; none where nothing freezes."""
    if found.ended == "bare":
        return []
    return [
        [
            scale.show(s.time, "time"),
            f"{100.0 * s.airflow:.0f} %",
            scale.show(s.ice, "mass"),
            scale.show(s.thickest, "length"),
            scale.show(s.evaporating_temperature, "temperature"),
            scale.show(s.total_power, "power"),
        ]
        for s in thinned_steps(found.steps)
    ]
