"""Laws of the motor's current, whatever its numbers are."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import solved_of, trials
from sweatline.job.reading import read_job_text
from sweatline.machine.balance import SteadyState, filled
from sweatline.parts.motor import (
    LIGHT,
    UNMETERED,
    USUAL,
    AnyMotor,
    from_factors,
    from_points,
    running_current,
)

kinds: st.SearchStrategy[AnyMotor] = st.sampled_from(tuple(USUAL))
powers = st.floats(40.0, 3000.0)
factors = st.floats(0.3, 0.99)
ratios = st.floats(0.85, 1.15)


@given(power=powers, rated=factors, light=factors, ratio=ratios, load=st.floats(0.1, 1.6))
def test_power_factor_is_at_most_one_and_amps_rise_with_watts(
    power: float, rated: float, light: float, ratio: float, load: float
) -> None:
    motor = from_factors(
        power=power, rated=rated, light=light, plate_voltage=230.0, voltage=ratio * 230.0
    )
    amps = [running_current(motor, x * load * power) for x in (1.0, 1.01)]
    assert amps[0] is not None
    assert amps[1] is not None
    assert load * power <= motor.voltage * amps[0] * (1.0 + 1e-12)
    assert amps[1] > amps[0]
    assert amps[1] / amps[0] < 1.0201 * (1.0 + 1e-9)  # never faster than the square of the load


@given(kind=kinds, power=powers)
def test_both_points_are_met(kind: AnyMotor, power: float) -> None:
    usual = USUAL[kind]
    motor = from_factors(
        power=power, rated=usual.rated, light=usual.light, plate_voltage=115.0, voltage=115.0
    )
    for load, factor in ((1.0, usual.rated), (LIGHT, usual.light)):
        assert running_current(motor, load * power) == pytest.approx(load * power / 115.0 / factor)


@given(kind=kinds, power=powers)
def test_light_load(kind: AnyMotor, power: float) -> None:
    """Without load only the magnetisation is left, and the power factor falls all the way."""
    usual = USUAL[kind]
    motor = from_factors(
        power=power, rated=usual.rated, light=usual.light, plate_voltage=230.0, voltage=230.0
    )
    idle = running_current(motor, 0.0)
    assert idle is not None
    assert idle == pytest.approx(motor.magnetising / 230.0)
    loads = np.linspace(0.05, 1.0, 20)
    found = [x * power / (230.0 * (running_current(motor, x * power) or math.nan)) for x in loads]
    assert np.all(np.diff(found) > 0.0)


@given(power=powers, rated=st.floats(0.4, 0.95), share=st.floats(0.6, 0.95))
def test_two_printed_points_give_the_motor_back(power: float, rated: float, share: float) -> None:
    made = from_factors(
        power=power, rated=rated, light=share * rated, plate_voltage=230.0, voltage=230.0
    )
    points = [(x * power, running_current(made, x * power) or math.nan) for x in (0.6, 1.0)]
    again = from_points(points, plate_voltage=230.0, voltage=230.0)
    for x in (0.4, 0.8, 1.2):
        assert running_current(again, x * power) == pytest.approx(
            running_current(made, x * power), rel=1e-6
        )


@given(kind=kinds, power=powers)
def test_a_higher_voltage_magnetises_more(kind: AnyMotor, power: float) -> None:
    usual = USUAL[kind]
    low, high = (
        from_factors(
            power=power, rated=usual.rated, light=usual.light, plate_voltage=230.0, voltage=v
        )
        for v in (207.0, 253.0)
    )
    assert high.magnetising / low.magnetising == pytest.approx((253.0 / 207.0) ** 2)
    idle = [running_current(m, 0.0) or 0.0 for m in (low, high)]
    assert idle[1] > idle[0]


def test_nothing_is_said_without_a_voltage() -> None:
    assert running_current(UNMETERED, 200.0) is None


def test_a_fan_adds_its_own() -> None:
    motor = from_factors(power=300.0, rated=0.65, light=0.5, plate_voltage=115.0, voltage=115.0)
    motor = motor._replace(fan_reactive=1.2)
    alone, fan, both = (running_current(motor, *x) or 0.0 for x in ((300.0,), (0.0, 50.0),
                                                                    (300.0, 50.0)))  # fmt: skip
    assert alone < both < alone + fan + 1e-9


EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"


def amps_of(plate: str) -> list[float]:
    text = EXAMPLE.read_text(encoding="utf-8")
    name = 'name = "drinks cooler"'
    assert text.count(name) == 1
    job = read_job_text(text.replace(name, f"{name}\n{plate}"))
    index = next(i for i, c in enumerate(job.compressors) if c.name == "drinks cooler")
    build = build_for(job, compressor=index, refrigerant="R-134a", capillary=0)
    aim = filled(superheat=job.targets.superheat)
    found = solved_of(trials(build, build.solve(aim, near=build.designed), aim, count=32))
    return [b.compressor_current or math.nan for b in found]


def test_more_that_is_known_of_a_motor_narrows_its_amps() -> None:
    """Of a motor nobody knows the range says so; a type is better, a plate best."""
    unknown, known = (np.std(np.log(amps_of(plate))) for plate in ("", 'motor = "psc"'))
    assert known < 0.8 * unknown


def test_every_balance_of_a_job_has_amps() -> None:
    assert all(math.isfinite(a) for a in amps_of(""))
    assert {"compressor_current", "total_current"} <= set(SteadyState.__dataclass_fields__)
