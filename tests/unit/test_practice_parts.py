"""What a person types, writes down and names while practising."""

from __future__ import annotations

import numpy as np
import pytest

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.diagnosis.faults import FAULTS, fault_named
from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS
from sweatline.training.session import SLIP_CHANCE, GaugeReadout, Step, step_from, weight
from sweatline.units import System, parse

MOST = 0.2  # kg


@pytest.mark.parametrize(
    ("typed", "step"),
    [
        ("wait 5 min", Step(do="wait", amount=300.0)),
        ("wait", Step(do="wait", amount=60.0)),
        ("  W 90 s ", Step(do="wait", amount=90.0)),
        ("add 10 g", Step(do="add", amount=0.010)),
        ("add 10 g liquid", Step(do="add", amount=0.010, phase="liquid")),
        ("add 10 g as vapor", Step(do="add", amount=0.010, phase="vapour")),
        ("add 1/2 oz", Step(do="add", amount=0.5 * 0.028349523125)),
        ("read", Step(do="read")),
        ("Stop", Step(do="stop")),
        ("start", Step(do="start")),
        ("done", Step(do="done")),
        ("", Step(do="nothing")),
        ("?", Step(do="help")),
        ("fault: blocked filter", Step(do="fault", words="blocked filter")),
        ("Fault none", Step(do="fault", words="none")),
    ],
)
def test_a_line_is_understood(typed: str, step: Step) -> None:
    found = step_from(typed, most=MOST)
    assert found.do == step.do
    assert found.amount == pytest.approx(step.amount)
    assert (found.phase, found.words) == (step.phase, step.words)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("warte 5 min", "type wait, add, read, stop, start, fault, help or done"),
        ("wait 5", "5"),
        ("wait 5 g", "5 g"),
        ("wait 9 h", "1 s to 6 h"),
        ("add", "say for example: add 10 g"),
        ("add liquid", "say for example: add 10 g"),
        ("add ten grams", "ten grams"),
        ("add -3 g", "up to 200 g"),
        ("add 1 kg", "up to 200 g"),
        ("add 10 min", "10 min"),
        ("fault", "which fault"),
    ],
)
def test_a_mistake_is_one_sentence(typed: str, told: str) -> None:
    with pytest.raises(JobError) as caught:
        step_from(typed, most=MOST)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


TRUE = {
    "suction gauge": 2.4321e5,
    "head gauge": 7.654e5,
    "suction gas": 286.03,
    "liquid line": 293.44,
    "watts": 231.4,
    "discharge gas": 337.77,
    "air between": 282.22,
    "air out": 291.11,
}
# Half a step of what is read off, in SI.
HALF = {
    "SI": {"suction gauge": 2500.0, "head gauge": 5000.0, "watts": 0.5, "": 0.05},
    "US": {"suction gauge": 1724.0, "head gauge": 8619.0, "watts": 0.5, "": 0.0278},
}


@pytest.mark.parametrize("system", ["SI", "US"])
def test_readings_are_written_as_fine_as_the_scale(system: System) -> None:
    readout = GaugeReadout(system, STANDARD_ATMOSPHERE)
    for channel, value in TRUE.items():
        found = readout.write(channel, value)
        half = HALF[system].get(channel, HALF[system][""])
        read = parse(found.text, CHANNELS[channel].kind, atmosphere=STANDARD_ATMOSPHERE)
        assert abs(read.value - value) <= half * 1.001
        assert found.meant == ""
    # Coarser than the number, and on the gauge's own steps.
    assert readout.write("suction gauge", 2.4321e5).text == (
        "1.40 bar(g)" if system == "SI" else "20.5 psig"
    )
    assert readout.write("watts", 231.4).text == "231 W"
    assert readout.write("suction gauge", 0.9e5).text.startswith("-")


@pytest.mark.parametrize("system", ["SI", "US"])
def test_the_pen_slips_now_and_then_and_what_was_meant_is_kept(system: System) -> None:
    readout = GaugeReadout(system, STANDARD_ATMOSPHERE, np.random.default_rng(5))
    plain = GaugeReadout(system, STANDARD_ATMOSPHERE)
    slips = 0
    times = 400
    for _ in range(times):
        for channel, value in TRUE.items():
            found = readout.write(channel, value)
            right = plain.write(channel, value)
            if found.meant:
                slips += 1
                assert found.meant == right.text
                assert found.text != right.text
                assert found.text.split()[1] == right.text.split()[1]
            else:
                assert found == right
    expected = times * len(TRUE) * SLIP_CHANCE
    assert abs(slips - expected) < 5.0 * expected**0.5


def test_weights_are_those_of_the_scale() -> None:
    assert weight(0.0142, "SI") == "14 g"
    assert weight(0.0142, "US") == "0.50 oz"
    assert parse(weight(0.123, "US"), "mass").value == pytest.approx(0.123, abs=2e-4)


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("blocked filter", "little-air"),
        ("The fan is slow", "little-air"),
        ("dirty condenser", "fouled-condenser"),
        ("fouled evaporator", "fouled-evaporator"),
        ("partly blocked capillary", "restriction"),
        ("clogged drier", "restriction"),
        ("non-condensables", "non-condensable"),
        ("air in the circuit", "non-condensable"),
        ("bad valves", "worn-valves"),
        ("it has a leak", "leak"),
        ("suction gauge is off", "gauge"),
        ("thermometer badly clamped", "thermometer"),
    ],
)
def test_a_fault_is_named_in_plain_words(said: str, key: str) -> None:
    found = fault_named(said)
    assert found is not None
    assert found.key == key


def test_every_fault_answers_to_its_own_name_and_key() -> None:
    for key, kind in FAULTS.items():
        assert fault_named(key) is kind
        assert fault_named(kind.name) is kind
    assert fault_named("none") is None


def test_words_that_fit_nothing_are_asked_about() -> None:
    with pytest.raises(JobError, match="say one of: too little air"):
        fault_named("gremlins")
