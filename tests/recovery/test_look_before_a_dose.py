"""Before gas goes into a machine that only looks starved, the advice asks for a look."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest

from sweatline.assembly.build import build_for
from sweatline.charging.adviser import Adviser, ChargeAdvice
from sweatline.charging.preparation import Prepared, prepare_build, well_charged
from sweatline.cli.main import main
from sweatline.constants import ZERO_CELSIUS
from sweatline.diagnosis.faults import FAULTS, Fault, fault_of
from sweatline.diagnosis.observed import Seen, traits_of, without_error
from sweatline.job.model import in_other_room
from sweatline.job.reading import read_job
from sweatline.log.logbook import keep
from sweatline.log.store import Log
from sweatline.machine.balance import fixed_charge, solve
from sweatline.training.debrief import look_from
from sweatline.training.session import Attempt, Moment, TrainingSession, by_advice, session_on
from sweatline.training.simulated_machine import SimulatedMachine, simulated_machine

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
AIR = Fault(kind=FAULTS["non-condensable"], size=0.2)
LOOK = "look first"


@cache
def prepared() -> Prepared:
    build = build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)
    return prepare_build(build, well_charged(build), simulated=True)


def machine_of(seed: int, fault: Fault | None = None) -> SimulatedMachine:
    known = prepared()
    return simulated_machine(known.build, known.full, seed, fault=fault)


def charged(seed: int, fault: str | None) -> Attempt:
    wrong = None if fault is None else fault_of(fault, seed, prepared().full.charge)
    return by_advice(machine_of(seed, wrong), prepared())


def until_no_dose(session: TrainingSession, adviser: Adviser) -> ChargeAdvice:
    """Do what is advised until that is neither to wait nor to add."""
    for _ in range(200):
        session.wait(60.0)
        advice = adviser.advise_on(session.log)
        if advice.action == "add" and advice.dose is not None:
            session.add(advice.dose, "vapour")
        elif advice.action not in ("wait", "read"):
            return advice
    raise AssertionError("it goes on for ever")


def wrote(log: Log, celsius: float, at: float, corrects: int | None = None) -> int:
    """Write down the condenser's bend; number of the entry."""
    text, channel = f"{celsius:.1f} C", "condenser bend"
    return keep(log, kind="reading", text=text, channel=channel, at=at, corrects=corrects).entry.id


def bend(machine: SimulatedMachine) -> float:
    """Of the condenser, half way down. [°C]"""
    run, room = machine.run, machine.build.job.room
    found = solve(
        run.table, run.line, run.machine, fixed_charge(run.charge), near=machine.start,
        profiles=True,
    )  # fmt: skip
    here = (room.temperature.value, room.relative_humidity.value)
    seen = traits_of(Seen(machine.build, run.machine, found, here))
    return without_error(["condenser bend"], seen)[0] - ZERO_CELSIUS


def test_a_blocked_tube_is_looked_at_before_it_is_charged_away() -> None:
    for seed in (51001, 51004):
        found = charged(seed, "restriction")
        assert found.obstacle == LOOK
        assert found.most < 1.1 * found.best


def test_a_machine_in_order_is_charged() -> None:
    found = [charged(seed, None) for seed in (52100, 52102, 52104, 52106)]
    assert not any(one.obstacle for one in found)
    assert all(abs(one.miss) < 0.06 for one in found)
    assert sum(abs(one.miss) < 0.05 for one in found) >= 3


def test_a_smaller_dose_comes_before_a_look() -> None:
    """This sound one was stopped a tenth short, as its whole next dose could be too much."""
    job = in_other_room(read_job(SEED), temperature=289.68, relative_humidity=0.61)
    build = build_for(job, compressor=1, refrigerant="R-513A", capillary=2)
    known = prepare_build(build, well_charged(build), simulated=True)
    found = by_advice(simulated_machine(build, known.full, 70000002), known)
    assert not found.obstacle
    assert abs(found.miss) < 0.05


def test_what_was_asked_for_decides() -> None:
    """Air gathered in a condenser: its bend is cold. Were it only dirty, the bend would be warm."""
    machine = machine_of(8, AIR)
    session = session_on(machine, 8)
    adviser = Adviser(prepared(), session.log.about())
    with session.log as log:
        session.open()
        asked = until_no_dose(session, adviser)
        [look] = asked.obstacles
        assert (look.key, look.read) == (LOOK, "condenser bend")
        cold = wrote(log, bend(machine), session.now)
        stays = adviser.advise_on(log)
        [look] = stays.obstacles
        assert (stays.action, look.key, look.cause) == ("stop", LOOK, "foreign gas")
        assert look.ruled_out == ("air",)
        said = keep(log, kind="event", channel="ruled out", text="air", at=session.now).entry.id
        assert not adviser.advise_on(log).obstacles
        keep(log, kind="withdrawal", text="the vacuum was not held", corrects=said, at=session.now)
        assert adviser.advise_on(log).obstacles[0].cause == "foreign gas"
        wrote(log, bend(machine) + 6.0, session.now, corrects=cold)
        assert not adviser.advise_on(log).obstacles


def test_the_same_through_a_log_on_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = str(tmp_path / "shelf.sweat")
    machine = machine_of(8, AIR)
    begun = datetime(2026, 3, 14, 9).timestamp()
    session = replace(session_on(machine, 8, path=book), begun_at=begun)
    with session.log:
        session.open()
        until_no_dose(session, Adviser(prepared(), session.log.about()))
    parts = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")

    def asked() -> tuple[str, list[str]]:
        assert main(["charge", str(SEED), book, *parts, "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        return found["action"], [o["key"] for o in found["obstacles"]]

    assert asked() == ("stop", [LOOK])
    clock = f"{datetime.fromtimestamp(session.now):%Y-%m-%d %H:%M:%S}"
    warm = f"{bend(machine) + 6.0:.1f} C"
    assert main(["log", "read", book, "condenser-bend", warm, "--at", clock]) == 0
    capsys.readouterr()
    assert LOOK not in asked()[1]


def test_a_tube_that_is_narrower_than_the_job_says_is_charged_once_it_is_not_blocked() -> None:
    """By every reading it is a blocked one: only who tried it with nitrogen can tell."""
    known = prepared()
    narrow = Fault(kind=FAULTS["restriction"], size=0.75)
    machine = simulated_machine(known.build, known.full, 11, off=(narrow,))
    session = session_on(machine, 11)
    adviser = Adviser(known, session.log.about())
    with session.log as log:
        session.open()
        asked = until_no_dose(session, adviser).obstacles[0]
        assert asked.cause == "restriction"
        assert asked.ruled_out == ("blocked tube",)
        keep(log, kind="event", channel="ruled out", text="blocked tube", at=session.now)
        ended = until_no_dose(session, adviser)
    assert not ended.obstacles
    assert abs(machine.run.charge / machine.best - 1.0) < 0.05
    assert "correct its bore or length" in ended.reason


def test_where_it_is_likely_a_look_waits_for_readings_that_settle() -> None:
    """Doses that went in on readings still moving charged this one to its end without a word."""
    machine = machine_of(8, Fault(kind=FAULTS["thermometer"], size=0.6, place="liquid line"))
    assert by_advice(machine, prepared()).obstacle == LOOK


def test_a_leak_is_not_taken_for_a_wrong_instrument() -> None:
    """Doses make good what is lost, so that no round by itself is odd."""
    machine = machine_of(3, Fault(kind=FAULTS["leak"], size=0.005 * prepared().full.charge))
    session = session_on(machine, 3)
    with session.log:
        session.open()
        asked = until_no_dose(session, Adviser(prepared(), session.log.about()))
    [look] = asked.obstacles
    assert (look.key, look.cause) == (LOOK, "leak")
    assert machine.run.charge < machine.best


def test_with_another_gauge_the_charging_goes_on() -> None:
    machine = machine_of(4, Fault(kind=FAULTS["gauge"], size=2.4e5, place="head gauge"))
    session = session_on(machine, 4)
    with session.log as log:
        session.open()
        asked = until_no_dose(session, Adviser(prepared(), log.about()))
        assert asked.obstacles[0].key in (LOOK, "subcooling")
        assert machine.run.charge < 0.9 * machine.best
        for e in log.entries():
            if e.channel == "head gauge":
                keep(log, kind="withdrawal", text="another gauge", corrects=e.id, at=session.now)
        machine.fault = None
        ended = until_no_dose(session, Adviser(prepared(), log.about()))
        assert not ended.obstacles
        assert abs(machine.run.charge / machine.best - 1.0) < 0.05


def test_the_debrief_tells_from_when_a_look_was_due() -> None:
    machine = machine_of(51001, fault_of("restriction", 51001, prepared().full.charge))
    begun = machine.start.charge
    due = look_from(
        machine,
        prepared(),
        [Moment(part * begun, part * begun, 600.0 * part) for part in (1.0, 1.2, 1.4)],
    )
    assert due is not None
    assert due <= 2
    sound = machine_of(52100)
    assert (
        look_from(
            sound,
            prepared(),
            [Moment(part * sound.best, part * sound.best, 900.0 * part) for part in (0.7, 1.0)],
        )
        is None
    )
