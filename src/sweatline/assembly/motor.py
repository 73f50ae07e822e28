"""The motor of a compressor from its plate, its rating points, or its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from sweatline.assembly.parameters import Sample
from sweatline.assembly.plate import printed_power, rated_current, usual_power_factor
from sweatline.job.model import Compressor, Job
from sweatline.parts.motor import (
    FAN_FACTOR,
    FAN_FACTOR_SD,
    USUAL,
    MotorParameters,
    from_factors,
    from_points,
    reactive_power,
)
from sweatline.uncertainty.parameter import Measured

_FAN: Final = Measured(
    value=FAN_FACTOR, sd=FAN_FACTOR_SD, note="power factor of a fan's motor, 0.6 to 0.9"
)


def motor_parameters(
    job: Job, compressor: Compressor, sample: Sample, usual_power: Callable[[], float]
) -> MotorParameters:
    """The motor of a compressor on the job's mains.

    Two rating points that say amperes fix it; else the plate's watts and amperes fix its rated
    load; else what is printed fixes the size and the kind of motor the power factor.

    Parameters
    ----------
    usual_power : callable
        Input at a usual rating point, called where nothing printed says the motor's size. [W]
    """
    name = compressor.name
    usual = USUAL[compressor.motor]
    voltage = sample.number(("supply", "voltage"), job.supply.voltage)
    plate_voltage = compressor.rated_voltage or job.supply.voltage.value
    fan = sample.number(("fan", "power_factor"), _FAN)
    fan_reactive = reactive_power(1.0, fan)
    printed = [
        (point.power.value, point.current.value)
        for point in compressor.ratings
        if point.power is not None and point.current is not None
    ]
    if len({power for power, _ in printed}) > 1:
        motor = from_points(printed, plate_voltage=plate_voltage, voltage=voltage)
        return motor._replace(fan_reactive=fan_reactive)
    power = printed_power(compressor, sample)
    current = rated_current(compressor, sample)
    if power is not None and current is not None:
        rated = power / (plate_voltage * current)
    else:
        rated = usual_power_factor(compressor, sample)
        if power is None and current is not None:
            power = rated * plate_voltage * current
    key, note = ("compressor", name, "light_power_factor"), f"at half of its load; {usual.note}"
    # A kind known by its plate alone: half of the load takes its usual share of the factor.
    share = usual.light / usual.rated
    light = sample.offset(key, share * rated, usual.light_sd, note)
    motor = from_factors(
        power=power if power is not None else usual_power(),
        rated=rated,
        light=light,
        plate_voltage=plate_voltage,
        voltage=voltage,
    )
    return motor._replace(fan_reactive=fan_reactive)
