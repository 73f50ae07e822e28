"""Figures: legible, true to the answer they draw, and the same at every run."""

import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from typing import NamedTuple

import matplotlib
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.colors import to_rgb
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from PIL import Image

from sweatline.air.moist import enthalpy
from sweatline.assembly.build import Build
from sweatline.charging.readings import log_of_lines, round_of
from sweatline.design.balance import BalanceAnswer, balance
from sweatline.design.charge_curve import ChargeAnswer, charge_curve
from sweatline.design.frost import frost
from sweatline.design.match import Candidate, MatchAnswer, evaluate
from sweatline.design.metering import MeteringAnswer, metering
from sweatline.design.room_map import RoomAnswer, room_map
from sweatline.diagnosis.diagnosis import Diagnosis, diagnose
from sweatline.errors import JobError, SolveError, StoreError
from sweatline.job.model import Job, in_other_room, with_bore
from sweatline.job.reading import read_job
from sweatline.machine.charge_curve import events
from sweatline.refrigerant.table import saturation, state
from sweatline.report.air_path import air_path, draw_air_path
from sweatline.report.axes import FigureScale, quantity
from sweatline.report.causes import draw_causes, draw_readings
from sweatline.report.charge_panels import draw_charge_panels
from sweatline.report.coil_strip import draw_coil_strip
from sweatline.report.figures import plot, write_figures
from sweatline.report.frost_panels import draw_frost
from sweatline.report.labels import FAINT_LINE
from sweatline.report.paper import (
    COLD,
    GREY,
    INK,
    SMALL,
    WARM,
    Note,
    Paper,
    drawing_rules,
    spread,
    text_width,
    wrapped,
)
from sweatline.report.ranking import MOST, draw_ranking
from sweatline.report.room_contours import draw_room_contours
from sweatline.report.state_diagram import boiling_line, corners, draw_state_diagram, isotherm
from sweatline.report.tube_lengths import draw_tube_lengths
from sweatline.units.showing import System, show

EXAMPLES = Path(__file__).parents[2] / "examples"
ODD_NAME = "a $price$ name_with ^signs <&> out of the shop window of a village store, 100 % sound"
SYSTEMS: tuple[System, System] = ("SI", "US")


@pytest.fixture(scope="module")
def seed_store() -> Job:
    return read_job(EXAMPLES / "seed-store.toml")


@pytest.fixture(scope="module")
def boat_shed() -> Job:
    return read_job(EXAMPLES / "boat-shed.toml")


def settle(job: Job, refrigerant: str, charge: float | None = None) -> BalanceAnswer:
    return balance(
        job,
        compressor=0,
        refrigerant=refrigerant,
        capillary=1,
        charge=charge,
        draws=0,
    )


@pytest.fixture(scope="module")
def balances(seed_store: Job, boat_shed: Job) -> dict[str, BalanceAnswer]:
    pure = settle(boat_shed, "R-290")
    cold = in_other_room(seed_store, temperature=278.15, relative_humidity=0.6)
    return {
        "pure": pure,
        "blend": settle(seed_store, "R-407C"),
        "flooded": settle(boat_shed, "R-290", 1.3 * pure.steady.charge),
        "starved": settle(boat_shed, "R-290", 0.6 * pure.steady.charge),
        "frosting": settle(cold, "R-134a"),
    }


@pytest.fixture(scope="module")
def fillings(boat_shed: Job) -> ChargeAnswer:
    return charge_curve(
        boat_shed, compressor=0, refrigerant="R-290", capillary=1, step=0.1, cells=8
    )


@pytest.fixture(scope="module")
def rooms(boat_shed: Job) -> RoomAnswer:
    return room_map(
        boat_shed,
        compressor=0,
        refrigerant="R-290",
        capillary=1,
        temperatures=(276.0, 282.0, 288.0, 294.0, 300.0),
        humidities=(0.35, 0.5, 0.65, 0.8),
    )


@pytest.fixture(scope="module")
def combinations_found(seed_store: Job, boat_shed: Job) -> list[Candidate]:
    return [
        evaluate(boat_shed, compressor=0, refrigerant="R-290", capillary=1, draws=8),
        evaluate(boat_shed, compressor=0, refrigerant="R-134a", capillary=1, draws=4),
        evaluate(seed_store, compressor=1, refrigerant="R-290", capillary=2, draws=8),
    ]


def ranking(found: list[Candidate]) -> MatchAnswer:
    job = read_job(EXAMPLES / "boat-shed.toml")
    return MatchAnswer(
        bench=job, combinations=len(found), complete=True, ranked=tuple(found), lost=()
    )


def narrow(job: Job) -> MeteringAnswer:
    """Lengths, one of them of a tube that passes nothing like the flow."""
    return metering(with_bore(job, 0, 0.2e-3), compressor=0, refrigerant="R-134a", draws=8)


# Every drawing under test, by what it shows. Answers altered by hand stand for states that are
# hard to reach by solving: gaps in a map, an interrupted sweep, odd names.


def with_gaps(answer: RoomAnswer) -> RoomAnswer:
    balances = [list(row) for row in answer.map.balances]
    reasons = [list(row) for row in answer.map.reasons]
    balances[-1][-1], reasons[-1][-1] = None, "the condenser cannot shed the heat"
    balances[0][0], reasons[0][0] = None, ""
    found = replace(
        answer.map,
        balances=tuple(tuple(row) for row in balances),
        reasons=tuple(tuple(row) for row in reasons),
    )
    return replace(answer, map=found, complete=False)


def without_any(answer: RoomAnswer) -> RoomAnswer:
    found = replace(
        answer.map,
        balances=tuple(tuple(None for _ in row) for row in answer.map.balances),
        reasons=tuple(tuple("" for _ in row) for row in answer.map.balances),
    )
    return replace(answer, map=found, complete=False)


def with_limit(answer: ChargeAnswer) -> ChargeAnswer:
    pressures = [b.discharge_pressure for b in answer.curve]
    limit = 0.5 * (min(pressures) + max(pressures))
    job = answer.build.job
    known = job.limits.discharge_temperature
    limits = replace(job.limits, high_side_pressure=replace(known, value=limit))
    found = events(list(answer.curve), superheat=5.0, high_limit=limit)
    return replace(
        answer,
        build=replace(answer.build, job=replace(job, limits=limits)),
        events=tuple(found),
        complete=False,
        ended=("no balance with more charge than the most shown",),
    )


def oddly_named(answer: BalanceAnswer) -> BalanceAnswer:
    compressor = replace(answer.build.compressor, name=ODD_NAME)
    return replace(answer, build=replace(answer.build, compressor=compressor))


@pytest.fixture(scope="module")
def drawings(
    balances: dict[str, BalanceAnswer],
    fillings: ChargeAnswer,
    rooms: RoomAnswer,
    combinations_found: list[Candidate],
) -> dict[str, Callable[[System], Paper]]:
    found: dict[str, Callable[[System], Paper]] = {}
    shown = {**balances, "oddly named": oddly_named(balances["pure"])}
    for name, answer in shown.items():
        found[f"state diagram, {name}"] = lambda s, a=answer: draw_state_diagram(a, s)
        found[f"air path, {name}"] = lambda s, a=answer: draw_air_path(a, s)
        found[f"coil strip, {name}"] = lambda s, a=answer: draw_coil_strip(a, s)
    cut_short = replace(fillings, curve=fillings.curve[:5], events=(), complete=False)
    for name, curve in (
        ("whole", fillings),
        ("limited", with_limit(fillings)),
        ("interrupted", cut_short),
    ):
        found[f"charge panels, {name}"] = lambda s, a=curve: draw_charge_panels(a, s)
    for name, answer_of_rooms in (
        ("whole", rooms),
        ("gaps", with_gaps(rooms)),
        ("nothing", without_any(rooms)),
    ):
        found[f"room contours, {name}"] = lambda s, a=answer_of_rooms: draw_room_contours(a, s)
    found["ranking"] = lambda s: draw_ranking(ranking(combinations_found), s)
    without = [replace(c, draws=0, bands={}, dependable_water=0.0) for c in combinations_found]
    found["ranking, no trial runs"] = lambda s: draw_ranking(ranking(without), s)
    tubes = {
        "every tube": metering(balances["pure"].build.job, compressor=0, refrigerant="R-134a"),
        "a narrow one": narrow(balances["blend"].build.job),
    }
    for name, lengths in tubes.items():
        found[f"tube lengths, {name}"] = lambda s, a=lengths: draw_tube_lengths(a, s)
    job = balances["blend"].build.job
    icy = frost(job, compressor=0, refrigerant="R-134a", capillary=0, room_temperature=278.15)
    found["frost"] = lambda s: draw_frost(icy, s)
    ill = diagnosed(balances["pure"].build)
    found["causes"] = lambda s: draw_causes(ill, s)
    found["readings of a diagnosis"] = lambda s: draw_readings(ill, s)
    return found


def diagnosed(build: Build) -> Diagnosis:
    """A machine whose readings leave several causes open."""
    lines = ["suction 1.3 bar(g); head 7 bar(g); liquid-line 18 C; suction-gas 16 C; watts 250 W"]
    with log_of_lines(build, lines) as log:
        return diagnose(build, round_of(log, build).readings)


class Word(NamedTuple):
    """A text as it stands in a figure."""

    text: str
    size: float  # pt
    box: Bbox  # px


def visible_words(paper: Paper) -> list[Word]:
    """Every text that is seen, after drawing once."""
    paper.figure.draw_without_rendering()
    # Ticks outside the limits of their axis are kept by the axis but not drawn.
    hidden = []
    for ax in paper.figure.axes:
        for axis, limits in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            slack = 1e-9 * abs(limits[1] - limits[0])
            for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]:
                if not min(limits) - slack <= tick.get_loc() <= max(limits) + slack:
                    hidden += [tick.label1, tick.label2]
    return [
        Word(text.get_text(), text.get_fontsize(), text.get_window_extent())
        for text in paper.figure.findobj(Text)
        if isinstance(text, Text)
        and text.get_text().strip()
        and text.get_visible()
        and text not in hidden
    ]


def leaders(paper: Paper) -> list[np.ndarray]:
    """Points along every thin line that leads from a name to what it names, (n, 2), in px."""
    share = np.linspace(0.0, 1.0, 100)[:, None]
    found = []
    for ax in paper.figure.axes:
        for line in ax.lines:
            ends = line.get_transform().transform(line.get_xydata())
            if line.get_gid() == FAINT_LINE and len(ends) == 2 and line.get_linewidth() < 1.0:
                found.append(ends[0] + share * (ends[1] - ends[0]))
    return found


class Printed(NamedTuple):
    """All figures under test in one unit system: their words and their edges."""

    system: System
    words: dict[str, list[Word]]
    edges: dict[str, Bbox]
    leaders: dict[str, list[np.ndarray]]


@pytest.fixture(scope="module", params=SYSTEMS)
def printed(
    drawings: dict[str, Callable[[System], Paper]], request: pytest.FixtureRequest
) -> Printed:
    found = Printed(request.param, {}, {}, {})
    for name, draw in drawings.items():
        with drawing_rules():
            paper = draw(found.system)
            found.words[name] = visible_words(paper)
            found.edges[name] = paper.figure.bbox
            found.leaders[name] = leaders(paper)
    return found


def test_words_are_large_enough_and_inside_the_figure(printed: Printed) -> None:
    bad = []
    for name, words in printed.words.items():
        edge = printed.edges[name]
        assert len(words) > 5, name
        for text, size, box in words:
            if size < 9.0:
                bad.append(f"{name}: {text!r} is {size} pt")
            if box.x0 < edge.x0 or box.x1 > edge.x1 or box.y0 < edge.y0 or box.y1 > edge.y1:
                bad.append(f"{name}: {text!r} leaves the figure")
    assert not bad, "\n".join(bad)


def test_no_words_overlap(printed: Printed) -> None:
    bad = []
    for name, words in printed.words.items():
        for a, b in combinations(words, 2):
            # The box of a line of type holds some empty space: 2 px of it may be shared.
            across = min(a.box.x1, b.box.x1) - max(a.box.x0, b.box.x0)
            upward = min(a.box.y1, b.box.y1) - max(a.box.y0, b.box.y0)
            if across > 2.0 and upward > 2.0:
                bad.append(f"{name}: {a.text!r} over {b.text!r}")
    assert not bad, "\n".join(bad)


def test_no_word_covers_the_line_that_leads_to_another(printed: Printed) -> None:
    bad = []
    for name, words in printed.words.items():
        for leader in printed.leaders[name]:
            for word in words:
                box = word.box
                inside = (leader > [box.x0 + 1, box.y0 + 1]) & (leader < [box.x1 - 1, box.y1 - 1])
                if inside.all(axis=1).any():
                    bad.append(f"{name}: {word.text!r}")
    assert not bad, "\n".join(bad)


def test_each_unit_system_keeps_to_its_own_units(printed: Printed) -> None:
    foreign = {"SI": ("psi", "°F", "\xa0oz", "BTU", "pints"), "US": ("bar(", "°C", "kJ", "L/day")}
    own = {"SI": "°C", "US": "°F"}
    for name, words in printed.words.items():
        text = "\n".join(word.text for word in words)
        assert not [u for u in foreign[printed.system] if u in text], (name, printed.system)
        assert own[printed.system] in text, (name, printed.system)


def test_charge_panels_speak_in_the_units_of_a_bench(fillings: ChargeAnswer) -> None:
    with drawing_rules():
        text = "\n".join(
            w.get_text() for w in draw_charge_panels(fillings, "US").figure.findobj(Text)
        )
    head, water = (quantity(name).label for name in ("discharge_pressure", "water"))
    for unit in (f"{head}, psig", "charge, oz", f"{water}, pints/day", "stop at"):
        assert unit in text
    stop = show(fillings.stop.charge, "mass", "US")
    assert stop.replace(" ", "\N{NO-BREAK SPACE}") in text


def test_files_of_a_balance(balances: dict[str, BalanceAnswer], tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    written = write_figures(oddly_named(balances["pure"]), folder, "shed", "US")
    assert [p.name for p in written] == [
        f"shed-{what}.{form}"
        for what in ("state-diagram", "air-path", "coils")
        for form in ("svg", "png")
    ]
    for path in written:
        if path.suffix == ".svg":
            assert ET.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg"
        else:
            with Image.open(path) as picture:
                assert picture.width > 1000
                assert picture.convert("RGB").getpixel((2, 2)) == (255, 255, 255)


def test_files_of_a_curve_a_map_and_a_ranking(
    fillings: ChargeAnswer,
    rooms: RoomAnswer,
    combinations_found: list[Candidate],
    tmp_path: Path,
) -> None:
    written = [
        *write_figures(fillings, tmp_path, "a", "SI"),
        *write_figures(rooms, tmp_path, "a", "SI"),
        *write_figures(ranking(combinations_found), tmp_path, "a", "SI"),
    ]
    assert [p.name for p in written[::2]] == [
        "a-charge-curve.svg",
        "a-room-map.svg",
        "a-ranking.svg",
    ]
    assert all(p.stat().st_size > 10_000 for p in written)


def test_a_script_gets_the_figures_themselves(
    balances: dict[str, BalanceAnswer], fillings: ChargeAnswer
) -> None:
    three = plot(balances["pure"])
    assert len(three) == 3
    (one,) = plot(fillings, system="SI")
    for figures, own, foreign in ((three, "°F", "°C"), ([one], "°C", "°F")):
        for figure in figures:
            text = "\n".join(w.get_text() for w in figure.findobj(Text))
            assert own in text
            assert foreign not in text
    with pytest.raises(JobError, match="there is no figure of this: SteadyState"):
        plot(balances["pure"].steady)  # type: ignore[arg-type]


def test_the_same_answer_gives_the_same_bytes_and_no_date(
    balances: dict[str, BalanceAnswer], rooms: RoomAnswer, tmp_path: Path
) -> None:
    for answer in (balances["blend"], rooms):
        first = write_figures(answer, tmp_path / "first", "x", "SI")
        second = write_figures(answer, tmp_path / "second", "x", "SI")
        for a, b in zip(first, second, strict=True):
            assert a.read_bytes() == b.read_bytes()
            if a.suffix == ".svg":
                text = a.read_text(encoding="utf-8")
                assert "dc:date" not in text
                assert "Matplotlib v" not in text
            else:
                with Image.open(a) as picture:
                    assert set(picture.info) <= {"Title", "dpi"}


def test_a_folder_that_cannot_be_written(
    balances: dict[str, BalanceAnswer], tmp_path: Path
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    with pytest.raises(StoreError, match="a figure cannot be written") as caught:
        write_figures(balances["pure"], blocked, "x", "SI")
    assert str(blocked) in str(caught.value)


def test_what_cannot_be_drawn_says_so(
    balances: dict[str, BalanceAnswer], rooms: RoomAnswer, tmp_path: Path
) -> None:
    with pytest.raises(JobError, match="nothing to rank"):
        write_figures(ranking([]), tmp_path, "x", "SI")
    small = replace(
        rooms.map,
        temperatures=rooms.map.temperatures[:1],
        balances=rooms.map.balances[:1],
        reasons=rooms.map.reasons[:1],
    )
    with pytest.raises(JobError, match="too small to draw"):
        write_figures(replace(rooms, map=small), tmp_path, "x", "SI")
    answer = balances["pure"]
    bare = replace(answer.steady, evaporator_profile=None, condenser_profile=None)
    with pytest.raises(SolveError, match="without the profiles"):
        draw_coil_strip(replace(answer, steady=bare), "SI")


def test_a_balance_without_profiles_still_has_a_state_diagram(
    balances: dict[str, BalanceAnswer],
) -> None:
    answer = balances["pure"]
    bare = replace(answer.steady, evaporator_profile=None, condenser_profile=None)
    with drawing_rules():
        paper = draw_state_diagram(replace(answer, steady=bare), "SI")
    assert "4  into evaporator" in "\n".join(w.get_text() for w in paper.figure.findobj(Text))


def test_a_ranking_without_trial_runs_claims_no_chance_and_has_bars_of_water(
    combinations_found: list[Candidate],
) -> None:
    bare = [replace(c, draws=0, bands={}, dependable_water=0.0) for c in combinations_found]
    with drawing_rules():
        paper = draw_ranking(ranking(bare), "SI")
    text = "\n".join(w.get_text() for w in paper.figure.findobj(Text))
    assert "in 100" not in text
    assert "runs clean" not in text
    widths = [bar.get_width() for bar in paper.figure.axes[0].patches]
    assert max(widths) > 1.0  # L/day


def test_tubes_that_pass_nothing_have_no_lengths_to_draw(seed_store: Job) -> None:
    answer = narrow(seed_store)
    none = replace(answer, cuts=answer.cuts[:1])
    with drawing_rules(), pytest.raises(JobError, match="no tube on the shelf passes the flow"):
        draw_tube_lengths(none, "SI")


def test_a_long_ranking_is_cut_and_says_so(combinations_found: list[Candidate]) -> None:
    many = combinations_found * 9
    with drawing_rules():
        paper = draw_ranking(ranking(many), "SI")
    text = "\n".join(w.get_text() for w in paper.figure.findobj(Text))
    assert f"The {len(many) - MOST} that rank lower are left out." in text


def test_own_settings_of_a_user_change_nothing_and_stay(
    balances: dict[str, BalanceAnswer], tmp_path: Path
) -> None:
    plain = write_figures(balances["pure"], tmp_path / "plain", "x", "SI")
    with matplotlib.rc_context({"axes.facecolor": "black", "font.size": 30.0}):
        before = dict(matplotlib.rcParams)
        changed = write_figures(balances["pure"], tmp_path / "changed", "x", "SI")
        assert dict(matplotlib.rcParams) == before
    for a, b in zip(plain, changed, strict=True):
        assert a.read_bytes() == b.read_bytes()


def test_nothing_is_drawn_through_a_window_and_nothing_imported_early(tmp_path: Path) -> None:
    program = (
        "import sys, sweatline.report.figures\n"
        "assert 'matplotlib' not in sys.modules\n"
        "import sweatline.report.state_diagram, sweatline.report.room_contours\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stderr[-2000:]


# What is drawn is what was solved.


def test_corners_close_the_energy_balance(balances: dict[str, BalanceAnswer]) -> None:
    for name, answer in balances.items():
        b, table = answer.steady, answer.build.refrigerant.table
        turns = corners(b)
        suction, discharge = turns["suction"], turns["discharge"]
        # The same states are known from the balance by temperature: rounding of tables only.
        t, *_ = state(table, suction.pressure, suction.enthalpy)
        assert t == pytest.approx(b.suction_temperature, abs=1e-3), name
        t, *_ = state(table, discharge.pressure, discharge.enthalpy)
        assert t == pytest.approx(b.discharge_temperature, abs=1e-3), name
        t, *_ = state(table, turns["liquid"].pressure, turns["liquid"].enthalpy)
        assert t == pytest.approx(b.liquid_temperature, abs=1e-3), name
        # A flooded shell is colder than the room and takes heat from it.
        kept = b.flow * (discharge.enthalpy - suction.enthalpy)
        assert kept == pytest.approx(b.compressor_power - b.shell_heat, rel=1e-6), name
        assert turns["evaporator"].enthalpy == b.unknowns[3], name
        assert ("end" in turns) == b.choked, name


def test_a_suction_exchanger_has_corners_of_its_own(balances: dict[str, BalanceAnswer]) -> None:
    b = balances["pure"].steady
    given = 6e3  # J/kg, from the liquid to the gas
    entering = b.unknowns[3] - given
    moved = replace(b, unknowns=(*b.unknowns[:3], entering), cooling=b.cooling)
    turns = corners(moved)
    assert list(turns)[:4] == ["suction", "discharge", "liquid", "capillary"]
    assert turns["suction"].enthalpy - turns["gas"].enthalpy == pytest.approx(given, abs=1.0)
    assert turns["liquid"].enthalpy - turns["capillary"].enthalpy == pytest.approx(given, abs=1.0)


@pytest.mark.parametrize("name", ["pure", "blend"])
def test_an_isotherm_has_one_temperature(balances: dict[str, BalanceAnswer], name: str) -> None:
    table = balances[name].build.refrigerant.table
    for temperature in (268.15, 288.15, 303.15):
        line = isotherm(table, temperature, 1e5, 2.5e6)
        assert (np.diff(line[:, 1]) <= 1e-9).all()
        found = [state(table, float(p), float(h))[0] for h, p in line]
        # Two-phase states are interpolated between sixty: a hundredth of a glide of 6 K.
        assert found == pytest.approx([temperature] * len(line), abs=0.01)
        boiling = boiling_line(table, temperature)
        _tb, td, _hl, hg, *_ = saturation(table, float(boiling[-1, 1]))
        assert td == pytest.approx(temperature, abs=1e-3)
        assert boiling[-1, 0] == pytest.approx(hg, abs=1.0)


def test_the_way_of_the_air_is_that_of_the_balance(balances: dict[str, BalanceAnswer]) -> None:
    for name, answer in balances.items():
        air, b = answer.build.machine.air, answer.steady
        way = air_path(answer.build.machine, b)
        assert way.evaporator[0] == pytest.approx([air.temperature, air.humidity]), name
        assert way.condenser[0] == pytest.approx(b.air_between), name
        taken = air.flow * (way.evaporator[0, 1] - way.evaporator[-1, 1])
        assert taken == pytest.approx(b.water, rel=1e-6), name
        # Rows only take water from the air and only warm it again.
        assert (np.diff(way.evaporator[:, 1]) <= 1e-12).all(), name
        assert (np.diff(way.condenser[:, 0]) >= 0.0).all(), name
        heats = [enthalpy(t, w) for t, w in way.condenser]
        warmed = air.flow * (heats[-1] - heats[0])
        assert warmed == pytest.approx(b.heating, rel=1e-5), name


@pytest.mark.parametrize("position", [0, 1, 2])
def test_the_fan_warms_the_air_where_it_stands(
    balances: dict[str, BalanceAnswer], position: int
) -> None:
    answer = balances["pure"]
    machine = answer.build.machine
    machine = machine._replace(air=machine.air._replace(fan_position=position))
    way = air_path(machine, answer.steady)
    (line,) = way.fan
    gained = machine.air.flow * (enthalpy(*line[1]) - enthalpy(*line[0]))
    assert gained == pytest.approx(machine.air.fan_power, rel=1e-9)
    places = {0: way.evaporator[0], 1: way.condenser[0], 2: np.array(answer.steady.air_out)}
    assert line[1] == pytest.approx(places[position])


# Scales, words and places.


@given(
    value=st.floats(250.0, 400.0),
    pressure=st.floats(1.1e5, 4e6),
    atmosphere=st.floats(7e4, 1.05e5),
    system=st.sampled_from(SYSTEMS),
)
def test_axes_count_as_words_do(
    value: float, pressure: float, atmosphere: float, system: System
) -> None:
    for kind, si in (("temperature", value), ("gauge pressure", pressure)):
        axis = FigureScale(system, atmosphere).axis(kind)
        words = show(si, kind, system, 9, atmosphere=atmosphere)
        number, unit = words.split(" ")
        assert unit == axis.unit
        assert float(number) == pytest.approx(axis.one(si), abs=1e-4)
        assert float(axis.si(axis.one(si))) == pytest.approx(si, rel=1e-12)


def test_scales_of_enthalpy_and_humidity() -> None:
    # PUBLISHED: one International Table BTU per pound is 2326 J/kg, one pound 7000 grains, both
    # exact by definition (NIST Special Publication 811, appendix B).
    assert FigureScale("US").enthalpy_axis().one(2326.0) == 1.0
    assert FigureScale("SI").enthalpy_axis().one(1000.0) == 1.0
    assert FigureScale("US").humidity_ratio_axis().one(0.01) == pytest.approx(70.0)
    assert FigureScale("SI").humidity_ratio_axis().one(0.01) == pytest.approx(10.0)


@given(
    low=st.floats(2e4, 4e5),
    span=st.floats(1.5, 30.0),
    atmosphere=st.floats(7e4, 1.05e5),
    system=st.sampled_from(SYSTEMS),
)
def test_ticks_of_a_gauge_stand_where_the_gauge_reads_them(
    low: float, span: float, atmosphere: float, system: System
) -> None:
    high = low * span
    scale = FigureScale(system, atmosphere)
    places, words = scale.gauge_ticks(low, high)
    assert len(places) == len(words)
    assert all(low * (1 - 1e-9) <= p <= high * (1 + 1e-9) for p in places)
    assert all(a > b for a, b in pairwise(places))
    axis = scale.axis("gauge pressure")
    for place, word in zip(places, words, strict=True):
        number = float(word.split(" ")[0].replace("\N{MINUS SIGN}", "-"))
        if "vac" in word:
            assert atmosphere - place == pytest.approx(3386.389 * number)
        else:
            assert axis.one(place) == pytest.approx(number, abs=1e-9)


@given(st.lists(st.floats(0.0, 6.0), max_size=12), st.floats(0.05, 0.4))
def test_spread_places_keep_their_distance_and_order(wanted: list[float], gap: float) -> None:
    wanted.sort()
    places = spread(wanted, gap, 0.0, 6.0)
    assert len(places) == len(wanted)
    assert all(b - a >= gap * (1.0 - 1e-9) for a, b in pairwise(places))
    if gap * (len(wanted) - 1) <= 6.0:
        assert all(-1e-9 <= p <= 6.0 + 1e-9 for p in places)
    if all(b - a >= gap for a, b in pairwise(wanted)):
        assert places == pytest.approx(wanted)


@given(
    st.text(alphabet="abcdefghij ,.-_$%", max_size=200),
    st.floats(0.5, 6.0),
)
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: float) -> None:
    lines = wrapped(text, width)
    assert all(text_width(line) <= width + 1e-9 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_inks_can_be_read_on_white_paper() -> None:
    # PUBLISHED: W3C, Web Content Accessibility Guidelines 2.1, 1.4.3: contrast of text 4.5 to 1.
    for ink in (INK, GREY, COLD, WARM):
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(ink)]
        luminance = float(np.dot(linear, (0.2126, 0.7152, 0.0722)))
        assert 1.05 / (luminance + 0.05) > 4.5, ink


def test_marked_notes_hang_and_the_paper_grows() -> None:
    with drawing_rules():
        bare = Paper("title", "subtitle", 2.0)
        noted = Paper("title", "subtitle", 2.0, [Note("first", "1"), Note("word " * 60)])
    assert noted.full > bare.full + 0.5
    assert noted.top - noted.bottom == pytest.approx(2.0)
    assert SMALL >= 9.0
