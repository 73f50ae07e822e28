"""Build docs/coil-detail.md: the simple coil against the same machine followed tube by tube.

Every line is a whole machine of the example, charged until its evaporator is filled, with one thing
about its evaporator changed that only the march tube by tube can see. What stands there are
differences from the simple form of the same number of circuits.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sweatline.assembly.build import Build, build_for
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.frost import frost
from sweatline.flow.boiling import dryout_quality
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge
from sweatline.machine.room_map import in_room
from sweatline.parts.circuiting import Circuiting, by_rows, zigzag
from sweatline.parts.coil import CoilParameters, serpentine, tube_by_tube
from sweatline.refrigerant.table import saturation, saturation_transport

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "coil-detail.md"
TUBES = 10
ROWS = 2
ROOMS = ((15.0, 0.75), (27.0, 0.60))
REPEATS = 60

HEAD = """\
# When the detail of a coil matters

Made by `tools/compare_coils.py`; do not edit. The simple form of a coil takes all circuits as
alike, lets the refrigerant run through whole rows and gives every tube the same air. `coils =
"tube by tube"` in the job follows the real circuits instead; a `circuiting`, a `zigzag` or an
`air_profile` asks for it by itself ([job file](job-file.md)).

The machine is the example's seed-store dehumidifier (two rows of ten tubes, reciprocating
compressor, R-134a, the tube that is in it), charged until the evaporator outlet shows 5 K of
superheat. Rows are A where the air enters and B where it leaves. Each line gives what the detail
changes against the simple form with as many circuits.
"""


@dataclass(frozen=True, slots=True)
class Case:
    """One evaporator that the simple form cannot tell from the plain one."""

    name: str
    way: Circuiting
    profile: tuple[float, ...] = ()


def interleaved(circuits: int) -> Circuiting:
    """Each circuit takes every n-th tube of both rows, counter to the air."""
    return tuple(
        tuple(
            [(1, t) for t in range(c, TUBES, circuits)]
            + [(0, t) for t in reversed(range(c, TUBES, circuits))]
        )
        for c in range(circuits)
    )


def uneven(first: int) -> Circuiting:
    """Two circuits of neighbouring tubes, `first` heights for one and the rest for the other."""
    return tuple(
        tuple([(1, t) for t in heights] + [(0, t) for t in reversed(heights)])
        for heights in (range(first), range(first, TUBES))
    )


def crossing() -> Circuiting:
    """Two circuits that change heights between the rows."""
    low, high = range(5), range(5, TUBES)
    return (
        tuple([(1, t) for t in low] + [(0, t) for t in high]),
        tuple([(1, t) for t in high] + [(0, t) for t in low]),
    )


def half(circuits: int) -> Circuiting:
    """Counter flow in one row after the other, as the simple form has it."""
    return by_rows(ROWS, TUBES, circuits, counter=True)


WATER: dict[str, list[float]] = {}  # change of the water in each room, per cent, as found
TWO_TO_ONE = (2.0,) * 5 + (1.0,) * 5
CASES = (
    Case("one circuit, as the simple form takes it", half(1)),
    Case("one circuit, zigzag from row to row", zigzag(ROWS, TUBES, 1)),
    Case("one circuit, air twice as fast above as below", half(1), TWO_TO_ONE),
    Case("two circuits, as the simple form takes them", half(2)),
    Case("two circuits, interleaved", interleaved(2)),
    Case("two circuits of 12 and 8 tubes", uneven(6)),
    Case("two circuits of 14 and 6 tubes", uneven(7)),
    Case("two circuits, air twice as fast over one of them", half(2), TWO_TO_ONE),
    Case("the same air, circuits interleaved", interleaved(2), TWO_TO_ONE),
    Case("the same air, circuits change places between the rows", crossing(), TWO_TO_ONE),
)


def coil_of(build: Build, circuits: int) -> CoilParameters:
    """The simple evaporator with another number of circuits and one cell a tube."""
    coil = build.machine.evaporator
    length = coil.row_length * coil.circuits / circuits
    cells = TUBES // circuits
    return coil._replace(
        circuits=float(circuits),
        row_length=length,
        layout=serpentine(coil.rows, circuits, cells, counter=True),
        speed=np.ones((1, cells)),
        coefficient=np.ones((coil.rows, 1, cells)),
        layer=np.zeros((coil.rows, 1, cells)),
    )


def tubes_of(
    coil: CoilParameters, way: Circuiting, profile: tuple[float, ...] = ()
) -> CoilParameters:
    """The same coil tube by tube."""
    return tube_by_tube(coil, tubes_per_row=TUBES, circuiting=way, profile=profile)


def with_coil(build: Build, coil: CoilParameters) -> Build:
    """The machine with that evaporator; its condenser is followed as closely."""
    condenser = build.machine.condenser
    other = condenser
    if len(coil.layout.row) > coil.rows:
        other = tubes_of(condenser, by_rows(condenser.rows, TUBES, 1, counter=True))
    return replace(build, machine=build.machine._replace(evaporator=coil, condenser=other))


def difference(plain: SteadyState, fine: SteadyState) -> str:
    """Cells of a line of the table."""
    return " | ".join(
        (
            f"{100.0 * (fine.water / plain.water - 1.0):+.1f} %",
            f"{100.0 * (fine.total_power / plain.total_power - 1.0):+.1f} %",
            f"{fine.evaporating_temperature - plain.evaporating_temperature:+.2f} K",
            f"{fine.coil_temperature - plain.coil_temperature:+.1f} K",
            f"{100.0 * (fine.charge / plain.charge - 1.0):+.1f} %",
        )
    )


def bench(celsius: float, humidity: float) -> Build:
    """The example's machine in a room."""
    job = read_job(ROOT / "examples" / "seed-store.toml")
    build = build_for(job, compressor=0, refrigerant="R-134a", capillary=0, cells=TUBES)
    pressure = job.place.atmospheric_pressure
    machine = in_room(build.machine, ZERO_CELSIUS + celsius, humidity, pressure)
    return replace(build, machine=machine)


def table(build: Build) -> Iterator[str]:
    """Lines of one room."""
    yield "| evaporator | water | watts | evaporating | coldest surface | charge |"
    yield "|---|---:|---:|---:|---:|---:|"
    full = filled(superheat=5.0)
    plain: dict[int, SteadyState] = {}
    for case in CASES:
        n = len(case.way)
        coil = coil_of(build, n)
        if n not in plain:
            plain[n] = with_coil(build, coil).solve(full)
        fine = with_coil(build, tubes_of(coil, case.way, case.profile)).solve(full, near=None)
        WATER.setdefault(case.name, []).append(100.0 * (fine.water / plain[n].water - 1.0))
        yield f"| {case.name} | {difference(plain[n], fine)} |"
    coil = coil_of(build, 1)
    frictionless = with_coil(build, coil._replace(friction_multiplier=1e-9)).solve(full)
    yield (
        "| one circuit, simple, pressure drop in its tubes left out | "
        f"{difference(plain[1], frictionless)} |"
    )


def least(task: Callable[[], object]) -> float:
    """Least processor time of a task: what it takes when nothing else is in its way. [s]"""
    times = []
    for _ in range(REPEATS):
        began = time.process_time()
        task()
        times.append(time.process_time() - began)
    return min(times)


def cost(build: Build) -> Iterator[str]:
    """Time of a warm balance against that of the simple form."""
    yield "| form | times the simple form |"
    yield "|---|---:|"
    base = 0.0
    for name, way in (("simple", None), *((c.name, c) for c in (CASES[0], CASES[1], CASES[7]))):
        coil = coil_of(build, 1 if way is None else len(way.way))
        made = with_coil(build, coil if way is None else tubes_of(coil, way.way, way.profile))
        start = made.solve(filled(superheat=5.0))
        before = made.solve(fixed_charge(0.98 * start.charge), near=start)
        near = made.solve(fixed_charge(start.charge), near=before)
        more = fixed_charge(1.02 * start.charge)
        took = least(lambda made=made, more=more, near=near: made.solve(more, near=near))  # type: ignore[misc]
        base = base or took
        yield f"| {name} | {took / base:.1f} |"


def dry_out(build: Build) -> str:
    """Where dry-out begins in the example, in words."""
    found = build.solve(filled(superheat=5.0))
    fluid, p, coil = build.refrigerant.table, found.suction_pressure, build.machine.evaporator
    _tb, _td, hl, hg, vl, vg, _sl, _sg = saturation(fluid, p)
    sigma = saturation_transport(fluid, p)[6]
    flux = found.flow / coil.circuits / (0.25 * 3.14159265 * coil.bore**2)
    inside = 3.14159265 * coil.bore * coil.row_length * coil.rows * coil.circuits
    start = dryout_quality(flux, coil.bore, found.cooling / inside, vl, vg, sigma, hg - hl)
    return (
        f"Partial dry-out is in both forms. At the {flux:.0f} kg/(m2*s) of this machine it begins "
        f"at {100.0 * start:.0f} % vapour, so that {100.0 * (1.0 - start):.0f} % of the boiling "
        "passes through a tube that is partly dry."
    )


def frosting() -> Iterator[str]:
    """The machine in cold rooms."""
    yield "| room | airflow halved after | ice | evaporating, bare and at the end | melts in |"
    yield "|---|---:|---:|---:|---:|"
    job = read_job(ROOT / "examples" / "seed-store.toml")
    for celsius, humidity in ((2.0, 0.85), (4.0, 0.8), (6.0, 0.8), (8.0, 0.8), (12.0, 0.8)):
        answer = frost(
            job,
            compressor=0,
            refrigerant="R-134a",
            capillary=0,
            room_temperature=ZERO_CELSIUS + celsius,
            room_humidity=humidity,
        )
        light, likely, dense = answer.blocked
        first, last = answer.likely.steps[0], answer.likely.steps[-1]
        when = "not at all" if answer.likely.ended == "bare" else "not in a day"
        if likely is not None:
            span = [f"{t / 3600.0:.1f}" if t is not None else "a day" for t in (light, dense)]
            when = f"{likely / 3600.0:.1f} h ({span[0]} to {span[1]})"
        elif answer.likely.ended != "bare":
            when += f", {100.0 * last.airflow:.0f} % is left"
        need = answer.defrost
        melts = (
            "-" if need is None else "no" if need.rest is None else f"{need.rest / 60.0:.0f} min"
        )
        yield (
            f"| {celsius:.0f} °C, {100.0 * humidity:.0f} %RH | {when} | {1e3 * last.ice:.0f} g | "
            f"{first.balance.evaporating_temperature - ZERO_CELSIUS:.1f} and "
            f"{last.balance.evaporating_temperature - ZERO_CELSIUS:.1f} °C | {melts} |"
        )


def widest(*parts: str) -> str:
    """Largest change of the water among the evaporators whose names hold one of the words."""
    found = [
        abs(v) for name, values in WATER.items() for v in values if any(p in name for p in parts)
    ]
    return f"{max(found):.1f} %"


def conclusion() -> Iterator[str]:
    """What the tables say."""
    yield (
        "- The order of the tubes hardly matters: a zigzag or interleaved circuits in even air "
        f"move the water by {widest('zigzag', 'circuits, interleaved')} at most. The simple form "
        "will do."
    )
    yield (
        "- Air twice as fast over one half as over the other moves the water by "
        f"{widest('air')} at most. It lowers the coldest surface by about a kelvin: near freezing, "
        "give the air profile."
    )
    yield (
        f"- Unequal circuits matter: 12 tubes beside 8 cost up to {widest('12 and 8')} of the "
        f"water, 14 beside 6 up to {widest('14 and 6')}. The short circuit sends liquid back while "
        "the long one is dry. List such a coil under `circuiting`."
    )
    yield (
        "- Below freezing only the march through time says how long the machine runs. A coil "
        "that just freezes may never be blocked."
    )


def page() -> str:
    """The whole page."""
    lines = [HEAD]
    for celsius, humidity in ROOMS:
        lines.append(f"\n## Room of {celsius:.0f} °C, {100.0 * humidity:.0f} %RH\n")
        lines += table(bench(celsius, humidity))
    lines += ["", dry_out(bench(*ROOMS[0])), "\n## What it costs\n"]
    lines.append("Least processor time of a balance started from the one next to it.\n")
    lines += cost(bench(*ROOMS[0]))
    lines.append("\n## Frost\n")
    lines.append(
        "The same machine, charged in its own room, in colder ones; in brackets with frost of 0.7 "
        "and 1.4 times the expected density. The simple form knows only whether the coldest "
        "surface is below zero.\n"
    )
    lines += frosting()
    lines.append("\n## What to take from it\n")
    lines += conclusion()
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
