"""A charging that pages follow: readings grow old at their own pace, waits close, stops look."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.charging.preparation import prepare
from sweatline.charging.stop_rule import HEAD_AFTER_A_DOSE
from sweatline.job.reading import read_job
from sweatline.log.channels import CHANNELS
from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log, write_line
from sweatline.machine.balance import fixed_charge
from sweatline.report.course import WINDOW
from sweatline.report.sentences import step_in_one_word
from sweatline.units import Scale
from sweatline.web.charging import Charging, Look, parts_of, side_of

JOB = read_job(Path(__file__).parents[2] / "examples" / "seed-store.toml")
BEGUN = 1_700_000_000.0


def followed(tmp_path: Path, every: float, count: int, *, later: float) -> Look:
    path = tmp_path / "one.log"
    with open_log(str(path), new=True, refrigerant="R-134a", system="SI") as log:
        for n in range(count):
            write_line(log, f"suction gauge {1.2 + 0.01 * n} bar(g)", at=BEGUN + n * every)
    now = BEGUN + (count - 1) * every + later
    return Charging(JOB, "R-134a", path, clock=lambda: now).look()


@pytest.mark.parametrize(
    ("every", "later", "old"),
    [(1.0, 2.0, False), (1.0, 4.0, True), (60.0, 150.0, False), (60.0, 200.0, True),
     (900.0, 310.0, True)],
)  # fmt: skip
def test_a_reading_is_old_by_the_pace_of_its_own_instrument(
    tmp_path: Path, every: float, later: float, old: bool
) -> None:
    age = followed(tmp_path, every, 4, later=later).stale("suction gauge")
    assert (age is not None) == old
    assert age is None or age == pytest.approx(later)


def test_a_wait_closes_from_the_last_thing_done_to_the_next_look(tmp_path: Path) -> None:
    look = replace(followed(tmp_path, 60.0, 2, later=0.0), quiet_since=BEGUN, now=BEGUN + 60.0)
    assert replace(look, wait_until=BEGUN + 240.0).waited == pytest.approx(0.25)
    assert replace(look, wait_until=BEGUN + 30.0).waited == 1.0
    assert replace(look, wait_until=None).waited == 1.0


def test_only_what_is_done_to_the_machine_begins_a_wait_anew(tmp_path: Path) -> None:
    path = tmp_path / "one.log"
    charging = Charging(JOB, "R-134a", path, clock=lambda: BEGUN + 300.0)
    with open_log(str(path), new=True, refrigerant="R-134a", system="SI") as log:
        write_line(log, "added 20 g", at=BEGUN)
        write_line(log, "event acknowledged isolate by Ann", at=BEGUN + 200.0)
    assert charging.look().quiet_since == BEGUN


def test_a_dose_on_the_scale_is_that_advised_before_it_however_often_asked(tmp_path: Path) -> None:
    path, now = tmp_path / "one.log", [BEGUN]
    about = {"compressor": "drinks cooler", "refrigerant": "R-134a",
             "capillary": "1.25 on the reel"}  # fmt: skip
    i, refrigerant, j = 2, "R-134a", 1
    prepared = prepare(JOB, compressor=i, refrigerant=refrigerant, capillary=j, draws=32)

    def charging() -> Charging:
        found = Charging(JOB, refrigerant, path, clock=lambda: now[0])
        found.advise_with(prepared)
        return found

    def write(line: str) -> None:
        with open_log(str(path)) as log:
            write_line(log, line, at=now[0])

    def read(part: float) -> None:
        """What it shows with so much of its charge."""
        b = prepared.build.solve(fixed_charge(part * prepared.full.charge), near=prepared.full)
        shown = {
            "suction gauge": b.suction_pressure,
            "head gauge": b.discharge_pressure,
            "suction gas": b.evaporating_temperature + b.superheat,
            "liquid line": b.condensing_temperature - b.subcooling,
            "watts": b.total_power,
        }
        with open_log(str(path)) as log:
            log.append_all(
                [Entry(kind="reading", channel=c, quantity=CHANNELS[c].kind, text="", unit="SI",
                       value=value, happened_at=now[0], written_at=now[0])
                 for c, value in shown.items()]
            )  # fmt: skip

    with open_log(str(path), new=True, refrigerant=refrigerant, system="SI") as log:
        log.set_about(about)
        write_line(
            log, f"added {700.0 * prepared.full.charge:.0f} g; started; scale 5000 g", at=BEGUN
        )
    one, doses = charging(), []
    stand = 5000.0
    for part in (0.7, 0.75):
        for _ in range(8):
            now[0] += 120.0
            read(part)
            one.look()
        for gone in (4.0, 8.0):
            now[0] += 5.0
            write(f"scale {stand - gone:.0f} g")
            time.sleep(0.6)  # the answer of a moment ago is given again until then
            found, fresh = one.look().weighing, charging().look().weighing
            assert found is not None
            assert found == fresh
        stand -= 8.0
        now[0] += 5.0
        write("added 8 g")
        doses.append(found.dose)
    assert any(dose is not None for dose in doses)


def test_the_chart_of_a_long_charging_is_that_of_all_its_rows_thinned(tmp_path: Path) -> None:
    path = tmp_path / "one.log"
    times = [BEGUN + 0.2 * n for n in range(9000)]
    with open_log(str(path), new=True, refrigerant="R-134a", system="SI") as log:
        write_line(log, "added 20 g", at=BEGUN - 1.0)
        log.append_all(
            [Entry(kind="reading", channel=c, quantity="pressure", value=v, text="", unit="Pa",
                   happened_at=t, written_at=t)
             for t in times for c, v in (("suction gauge", 2e5), ("head gauge", 7e5))]
        )  # fmt: skip
    charging = Charging(JOB, "R-134a", path, clock=lambda: times[-1])
    look = charging.look()
    shown = [e for e in look.course if e.channel == "head gauge"]
    assert shown[-1].happened_at == look.readings["head gauge"][-1].happened_at == times[-1]
    assert shown[0].happened_at < times[-1] - WINDOW
    assert len(shown) < 700
    with open_log(str(path)) as log:
        write_line(log, "withdraw 1 not let in", at=times[-1])
    other = Charging(JOB, "R-134a", path, clock=lambda: times[-1]).look()
    assert [e.kind for e in other.told] == []
    assert len(other.course) == len(look.course) - 1


def test_sides_follow_from_what_a_channel_is_held_against() -> None:
    sides = {"low": ("suction gauge", "suction gas", "superheat", "coil", "coldest surface"),
             "high": ("head gauge", "liquid line", "subcooling", "discharge gas"),
             "": ("watts", "amps", "air out")}  # fmt: skip
    for side, names in sides.items():
        assert {side_of(name) for name in names} == {side}


def test_parts_are_those_that_the_log_names() -> None:
    about = {"compressor": "drinks cooler", "refrigerant": "R-290", "capillary": "1.4 on the reel",
             "length_m": "1.25"}  # fmt: skip
    parts = parts_of(JOB, about)
    assert (parts.compressor, parts.refrigerant, parts.capillary) == (2, "R-290", 2)
    assert parts.length == 1.25


def test_a_stop_for_a_reason_asks_to_look_and_a_full_machine_does_not() -> None:
    class Step:
        action = "stop"
        obstacles = (HEAD_AFTER_A_DOSE,)
        best_charge: object = object()

    step = Step()
    assert step_in_one_word(step, Scale("SI")) == "STOP AND LOOK"  # type: ignore[arg-type]
    step.obstacles = ()  # type: ignore[assignment]
    assert step_in_one_word(step, Scale("SI")) == "STOP: add no more"  # type: ignore[arg-type]
    step.best_charge = None  # it must not be charged at all
    assert step_in_one_word(step, Scale("SI")) == "STOP AND LOOK"  # type: ignore[arg-type]
