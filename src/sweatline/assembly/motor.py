"""The motor of a compressor from its plate, its rating points, or its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from sweatline.assembly.parameters import Sample
from sweatline.assembly.pumping import plate_power
from sweatline.job.model import Compressor, Job
from sweatline.parts.motor import (
    FAN_FACTOR,
    FAN_FACTOR_SD,
    LOCKED_ROTOR,
    USUAL,
    MotorParameters,
    from_factors,
    from_points,
    reactive_power,
)
from sweatline.uncertainty.parameter import Measured

_LOCKED: Final = 0.5 * (LOCKED_ROTOR[0] + LOCKED_ROTOR[1])
_LOCKED_SD: Final = 0.15  # relative: a spread of 4 to 6 holds nearly all
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
    power = _printed_power(compressor, sample)
    current = _rated_current(compressor, sample)
    if power is not None and current is not None:
        rated = power / (plate_voltage * current)
    else:
        key, note = ("compressor", name, "power_factor"), usual.note
        rated = sample.offset(key, usual.rated, usual.rated_sd, note)
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


def _printed_power(compressor: Compressor, sample: Sample) -> float | None:
    known = plate_power(compressor)
    if known is None:
        return None
    field = "rated_power" if compressor.rated_power is not None else "rating_power"
    return sample.number(("compressor", compressor.name, field), known)


def _rated_current(compressor: Compressor, sample: Sample) -> float | None:
    """From the plate, from a rating point, or a fifth of what it takes while it stands. [A]"""
    name = compressor.name
    known = compressor.rated_current
    if known is None and compressor.rated_power is None:
        known = next((p.current for p in compressor.ratings if p.current is not None), None)
    if known is not None:
        return sample.number(("compressor", name, "rated_current"), known)
    locked = compressor.locked_rotor_current
    if locked is None or plate_power(compressor) is not None:
        return None
    key, note = ("compressor", name, "locked_rotor"), "4 to 6 times the rated current"
    return locked.value / (_LOCKED * (1.0 + sample.offset(key, 0.0, _LOCKED_SD, note)))
