"""What to fit: for each type of motor its gear and its wires, and what a machine asks of them."""

from __future__ import annotations

import contextlib
import html
import io
import json
import re
from dataclasses import replace

import pytest

from sweatline.answers import Range
from sweatline.bench.start_gear.gear import (
    MADE_FOR_TORQUE,
    MOTOR_TYPES,
    RELAYS,
    Device,
    KnownMotor,
    gear_to_fit,
    motor_types,
    torque_of,
)
from sweatline.bench.start_gear.rest import LOW_TORQUE_REST, rest_before_start
from sweatline.bench.start_gear.start_gear import StartGearRequest, start_gear
from sweatline.cli.main import main
from sweatline.errors import JobError
from sweatline.parts.motor import MotorKind
from sweatline.refrigerant.names import NAMES
from sweatline.report.start import wire_words
from sweatline.report.wiring import wiring
from sweatline.units import Scale

COMBINATIONS: tuple[tuple[MotorKind, Device, tuple[str, ...]], ...] = (
    ("rsir", "current", (
        "N through the coil of the relay to R", "N through the contact of the current relay to S")),
    ("rsir", "ptc", ("N to R", "N through the PTC to S")),
    ("csir", "current", (
        "N through the coil of the relay to R",
        "N through the start capacitor and the contact of the current relay to S")),
    ("csir", "potential", (
        "N through the start capacitor and the contact of the potential relay to S",
        "S through the coil of the potential relay to C")),
    ("psc", "none", ("N to R", "N through the run capacitor to S")),
    ("csr", "potential", (
        "N through the start capacitor and the contact of the potential relay to S",
        "S through the coil of the potential relay to C", "N through the run capacitor to S")),
    ("rscr", "ptc", ("N to R", "N through the PTC to S", "N through the run capacitor to S")),
)  # fmt: skip


@pytest.mark.parametrize(("kind", "device", "wires"), COMBINATIONS)
def test_a_motor_is_drawn_with_its_own_gear(
    kind: MotorKind, device: Device, wires: tuple[str, ...]
) -> None:
    """Textbook circuits, from service manuals; the drawing shows no part that does not belong."""
    assert device != "unknown"
    answer = start_gear(StartGearRequest(motor_kind=kind, device=device))
    assert answer.to_fit is not None
    (gear,) = answer.to_fit.motors
    told = [wire_words(w) for w in gear.wires]
    assert told[0] == "L through the overload to C"
    for wire in wires:
        assert wire in told
    drawing = wiring(answer, Scale("SI"))
    said = html.unescape(re.findall(r'aria-label="([^"]*)"', drawing)[0])
    assert said == f"Wiring: {'; '.join(told)}; earth to the shell"
    words = re.findall(r">([^<>]+)</text>", drawing)
    for use in ("start", "run"):
        assert any(w.startswith(f"{use} capacitor") for w in words) == (use in gear.capacitors)
    assert ("PTC" in words) == (device == "ptc")
    assert ("coil" in words) == (device in ("current", "potential"))
    assert ("contact, open at rest" in words) == (device == "current")
    assert ("contact, closed at rest" in words) == (device == "potential")
    assert "?" not in words


@pytest.mark.parametrize("motor", MOTOR_TYPES, ids=lambda m: m.kind)
def test_every_part_says_where_it_comes_from(motor: object) -> None:
    known = KnownMotor(kind=motor.kind, size=200.0, voltage=115.0, current=3.0)  # type: ignore[attr-defined]
    (gear,) = gear_to_fit(known).motors
    assert gear.parts[-1].part == "overload"
    for part in gear.parts:
        assert part.status
        assert part.source
    assert {p.part for p in gear.parts if p.low is not None} == {
        f"{use} capacitor" for use in gear.capacitors
    }


def test_behind_a_valve_that_shuts_only_a_start_capacitor_starts() -> None:
    """PUBLISHED: high torque needs no equal pressures and goes with expansion valves."""
    shut = gear_to_fit(KnownMotor(metering="valve"))
    assert {m.kind for m in shut.motors} == {"csir", "csr"}
    assert shut.equalises == "no"
    assert gear_to_fit(KnownMotor(metering="valve", torque="low")).verdict == "wrong"
    tube = gear_to_fit(KnownMotor(metering="capillary", torque="low"))
    assert (tube.equalises, tube.verdict) == ("yes", "ok")


def test_each_fact_narrows_what_a_motor_may_be() -> None:
    everything = KnownMotor()
    for known in (
        replace(everything, torque="low"),
        replace(everything, device="ptc"),
        replace(everything, found="start"),
        replace(everything, size=600.0),
        replace(everything, rotary=True),
    ):
        assert 0 < len(motor_types(known)) < len(motor_types(everything))
    nothing = gear_to_fit(replace(everything, torque="low", found="start"))
    assert (nothing.verdict, nothing.motors) == ("wrong", ())
    large = gear_to_fit(replace(everything, kind="rsir", size=370.0))
    assert large.verdict == "marginal"


def test_a_refrigerant_made_for_tells_the_torque_of_a_piston_only() -> None:
    assert {"R-404A", "R-407C", "R-600a"} <= {*NAMES} & {*MADE_FOR_TORQUE}
    assert torque_of(KnownMotor(rotary=False, made_for="R-404A")) == "high"
    assert torque_of(KnownMotor(rotary=False, made_for="R-404A", torque="low")) == "low"
    assert torque_of(KnownMotor(rotary=True, made_for="R-407C")) == "unknown"


def test_contradictions_of_a_named_type_are_refused() -> None:
    with pytest.raises(JobError, match="low torque"):
        motor_types(KnownMotor(kind="rsir", torque="high"))
    with pytest.raises(JobError, match="PSC"):
        motor_types(KnownMotor(kind="psc", device="ptc"))


@pytest.mark.parametrize("device", RELAYS)
@pytest.mark.parametrize("middle", [5.0, 20.0, 170.0, 400.0])
def test_a_rest_is_never_shorter_than_what_makers_print(device: Device, middle: float) -> None:
    calculated = Range(low=0.5 * middle, middle=middle, high=1.6 * middle)
    relay = replace(RELAYS[device], starting_torque="low")
    rest = rest_before_start(relay, calculated)
    assert rest is not None
    assert rest.time == max(LOW_TORQUE_REST.least, relay.wait, calculated.high)
    assert (rest.decides == "calculated") == (rest.time > rest.printed)
    assert rest_before_start(replace(relay, starting_torque="high"), calculated) is None


def run(*arguments: str) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(("start-gear", *arguments)) == 0
    return out.getvalue()


def test_a_salvaged_motor_without_its_box_is_told_what_to_fit() -> None:
    """Somebody has a compressor, its size and three resistances; the relay is lost."""
    asked = ("--motor", "1/5 hp", "--plate-volts", "115 V", "--plate-amps", "2.4 A")
    may = json.loads(run(*asked, "--torque", "low", "--json"))["to_fit"]
    assert [m["kind"] for m in may["motors"]] == ["rsir", "rscr", "psc"]
    told = json.loads(run(*asked, "--motor-kind", "csir", "--json"))["to_fit"]["motors"][0]
    parts = {p["part"]: p for p in told["parts"]}
    assert set(parts) == {"start device", "start capacitor", "overload"}
    assert parts["start capacitor"]["low_F"] < parts["start capacitor"]["high_F"]
    assert parts["overload"]["high_current_A"] == pytest.approx(1.4 * 2.4)
    assert parts["start device"]["low_current_A"] == pytest.approx(2.4)
    words = " ".join(run(*asked, "--motor-kind", "csir", "--units", "US").split())
    assert "L through the overload to C" in words
    assert "not checked in print" in words
    assert "drain capacitors through a resistor" in words
    assert "Local codes and licensed practice decide" in words


def test_a_short_calculated_time_is_not_told_as_a_rest() -> None:
    """A short wide tube comes equal in seconds; a motor of low torque waits three minutes."""
    tube = (
        *("--tube", "1.5 mm, 1 m", "--refrigerant", "R-134a", "--head", "9 bar(g)"),
        *("--suction", "2 bar(g)", "--high-volume", "0.4 L", "--low-volume", "0.6 L"),
    )
    answer = json.loads(run(*tube, "--motor-kind", "psc", "--json"))
    assert answer["equalising"]["time_s"]["high"] < 30.0
    assert answer["rest"]["time_s"] == 180.0
    assert answer["rest"]["decides"] == "printed"
    assert "Let it stand 3.0 min" in run(*tube, "--motor-kind", "psc")
    soon = json.loads(run(*tube, "--motor-kind", "psc", "--off-time", "1 min", "--json"))
    assert soon["equalising"]["chance_equal"] > 0.95
    assert soon["equalising"]["verdict"] == "marginal"
