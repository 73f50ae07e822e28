"""What the plate of a compressor says: its watts, its amps, its motor, and its size from these."""

from __future__ import annotations

import math
from typing import Final

from sweatline.assembly.parameters import Sample
from sweatline.job.model import Compressor
from sweatline.parts.motor import LOCKED_ROTOR, USUAL
from sweatline.uncertainty.parameter import Measured

_LOCKED: Final = 0.5 * (LOCKED_ROTOR[0] + LOCKED_ROTOR[1])
_LOCKED_SD: Final = 0.15  # relative: a spread of 4 to 6 holds nearly all

# Input at the rating point over the motor's size at its shaft, [-]. Low temperature: 31
# semi-hermetic machines of the two thirds that were looked at draw 850 W a horsepower, household
# ones some 800 (MEMORY 0.5); welded ones for the warmer ranges 1200 and 1300.
_OF_SIZE: Final = {"LBP": 1.14, "MBP": 1.6, "HBP": 1.75}
_OF_SIZE_SD: Final = 0.25  # relative, of the same machines
# What a plate names may be the input at another load than that of the rating point (judged).
_OTHER_LOAD_SD: Final = 0.08


def plate_power(compressor: Compressor) -> Measured | None:
    """Rated input of the motor, from the plate or from its hardest rating point. [W]"""
    if compressor.rated_power is not None:
        return compressor.rated_power
    known = [point.power for point in compressor.ratings if point.power is not None]
    return max(known, key=lambda power: power.value, default=None)


def printed_power(compressor: Compressor, sample: Sample) -> float | None:
    """The same, moved with the sample. [W]"""
    known = plate_power(compressor)
    if known is None:
        return None
    field = "rated_power" if compressor.rated_power is not None else "rating_power"
    return sample.number(("compressor", compressor.name, field), known)


def rated_current(compressor: Compressor, sample: Sample) -> float | None:
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


def usual_power_factor(compressor: Compressor, sample: Sample) -> float:
    """Of its kind of motor at its rated load."""
    usual = USUAL[compressor.motor]
    key = ("compressor", compressor.name, "power_factor")
    return sample.offset(key, usual.rated, usual.rated_sd, usual.note)


def known_by_plate(compressor: Compressor) -> bool:
    """Whether nothing but its plate says how much it pumps."""
    return compressor.displacement is None and compressor.map is None and not compressor.ratings


def input_on_plate(compressor: Compressor, sample: Sample) -> float:
    """Input at the rating point of a compressor that is known by its plate alone. [W]

    By its watts, or else by its amps, or else by the size of its motor.

    Raises
    ------
    ValueError
        The plate says none of them.
    """
    name = compressor.name
    watts = printed_power(compressor, sample)
    if watts is None and compressor.rated_voltage is not None:
        amps = rated_current(compressor, sample)
        if amps is not None:
            watts = usual_power_factor(compressor, sample) * compressor.rated_voltage * amps
    if watts is not None:
        key, note = ("compressor", name, "plate_load"), "a plate may mean another load"
        return watts * math.exp(sample.offset(key, 0.0, _OTHER_LOAD_SD, note))
    size = compressor.motor_size
    if size is None:
        raise ValueError("a compressor needs a displacement, a rating, a map or a plate")
    scatter = math.hypot(size.sd, _OF_SIZE_SD * size.value)
    note = "motors of one size draw more or less"
    known = Measured(value=size.value, sd=scatter, note=note)
    share = _OF_SIZE[compressor.application]
    return share * sample.number(("compressor", name, "motor_size"), known)
