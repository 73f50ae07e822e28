"""The tasks of the bench asked from a program: quantities by their names, no word of options."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import pytest

import sweatline.bench
from sweatline.answers import to_json
from sweatline.bench.evacuation.evacuation import EvacuationRequest, evacuation
from sweatline.bench.evacuation.pump_down import Segment
from sweatline.bench.hoses.hoses import HoseRequest, hose
from sweatline.bench.start_gear.equalising import CapillarySize
from sweatline.bench.start_gear.motor import Meter, Plate, plate_and_meter
from sweatline.bench.start_gear.start_gear import StartGearRequest, start_gear
from sweatline.bench.tightness.pressure_hold import HoldReading
from sweatline.bench.tightness.tightness import (
    PressureLimit,
    TightnessRequest,
    tightness,
)
from sweatline.errors import JobError
from sweatline.job.reading import read_job
from sweatline.parts.hose import Container

EXAMPLES = Path(__file__).parents[2] / "examples"
READINGS = (
    HoldReading(time=0.0, pressure=1.0e6, temperature=293.15),
    HoldReading(time=86400.0, pressure=0.98e6, temperature=293.15),
)
HOLD = TightnessRequest(readings=READINGS, volume=2.5e-3, refrigerant="R-134a")
HOSE = (Segment(bore=4.8e-3, length=1.5),)


def test_no_sentence_of_the_bench_names_an_option() -> None:
    # The command adds the option; a page or a script that asks the same has none.
    for path in Path(sweatline.bench.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not re.search(r"(?<!-)--[a-z]", node.value), (path.name, node.value)


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        (replace(HOLD, volume=None), "volume"),
        (replace(HOLD, limits=(PressureLimit(part="coil", pressure=0.99e6),)), "readings 1"),
        (TightnessRequest(pressure=1e6, volume=2e-3), "refrigerant"),
        (TightnessRequest(measured=1e-6, refrigerant="R-134a"), "pressure"),
    ],
)
def test_what_tightness_lacks_is_a_quantity(request_: TightnessRequest, field: str) -> None:
    with pytest.raises(JobError) as caught:
        tightness(request_)
    assert caught.value.field == field


def test_what_the_others_lack_is_a_quantity() -> None:
    for field, ask in (
        ("pump", lambda: evacuation(EvacuationRequest(water=1e-3))),
        ("low_volume", lambda: evacuation(EvacuationRequest(pump=1e-3, low_hose=HOSE))),
        ("plate_volts", lambda: start_gear(StartGearRequest(motor_power=200.0))),
        (
            "head",
            lambda: start_gear(
                StartGearRequest(refrigerant="R-134a", tube=CapillarySize(bore=8e-4, length=3.0))
            ),
        ),
    ):
        with pytest.raises(JobError) as caught:
            ask()
        assert caught.value.field == field


def test_a_leak_of_a_script_is_that_of_the_command() -> None:
    answer = tightness(HOLD)
    assert answer.hold is not None
    assert answer.leak is not None
    assert answer.hold.found
    assert answer.leak.loss.low < answer.leak.loss.middle < answer.leak.loss.high
    told = to_json(answer)
    assert told["hold"]["rate_Pa_m3_per_s"] == answer.hold.rate
    assert told["leak"]["loss_kg_per_s"]["middle"] == answer.leak.loss.middle
    assert (told["log_path"], told["taken"]) == (None, [])


def test_an_american_reads_no_kelvin() -> None:
    near = (PressureLimit(part="coil", pressure=1.005e6),)
    asked = replace(HOLD, refrigerant="R-600a", limits=near, unit_system="US")
    told = " ".join(tightness(asked).notes)
    assert "°F" in told
    assert "°C" not in told
    assert " K " not in told


def test_a_charge_is_what_the_scale_lost() -> None:
    weighed = (Container(before=1.5, after=1.38),)
    machine = hose(HoseRequest(refrigerant="R-290", containers=weighed)).machine
    assert machine is not None
    assert machine.mass == pytest.approx(0.12)
    assert machine.likely.low < machine.mass < machine.likely.high


def test_the_plate_is_known_by_its_key() -> None:
    # A compressor that somebody called "the plate" is still a compressor's plate.
    job = read_job(str(EXAMPLES / "seed-store.toml"))
    compressor = replace(job.compressors[0], name="the plate")
    meter = Meter(power=320.0, at_plug=True)
    plate, _ = plate_and_meter(Plate(), meter, job, compressor)
    assert plate.whose == "machine"
    typed, _ = plate_and_meter(Plate(power=300.0, current=1.5), meter, job, compressor)
    assert (typed.whose, typed.power) == ("typed", 300.0)
