"""Voltage that a cord takes from a motor, while it runs and while it starts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from sweatline.answers import Answer, Q
from sweatline.errors import OutOfRange

_RESISTIVITY: Final = 1.7241e-8  # ohm*m, annealed copper at 20 °C, IEC 60028
_PER_KELVIN: Final = 0.00393  # 1/K, likewise
_REFERENCE: Final = 293.15  # K

# Flexible conductors are allowed more than their nominal section says: of 0.75 to 2.5 mm2 by 13 to
# 16 % (IEC 60228 class 5), of American gauges by some 3 % for the lay of the strands. MEMORY 0.85.
STRANDED: Final = {"metric": 1.15, "gauge": 1.03}

LOCKED_ROTOR: Final = (4.0, 6.0)  # locked-rotor over rated current; MEMORY 0.65


@dataclass(frozen=True, slots=True, kw_only=True)
class CordDrop(Answer):
    """What a motor gets behind a cord. Pairs: with the lower and the higher starting current."""

    resistance: Annotated[float, Q("resistance", doc="Of one wire.")]
    running_drop: Annotated[float, Q("voltage")]
    running_share: float
    """Of the supply."""
    starting_current: Annotated[tuple[float, ...], Q("current")]
    starting_voltage: Annotated[tuple[float, ...], Q("voltage", doc="At the motor.")]
    starting_torque: tuple[float, ...]
    """Share of the torque at the supply's full voltage."""
    status: str = "starting current MEMORY 0.65; limits and stranding MEMORY 0.85"


def gauge_area(gauge: float) -> float:
    """Cross-section of an American wire gauge: d = 0.127 mm 92^((36 - n)/39), ASTM B258. [m2]

    Parameters
    ----------
    gauge : float
        AWG number, 0 to 30. [-]
    """
    if not 0.0 <= gauge <= 30.0:
        raise OutOfRange(what="no wire of a cord", name="gauge", value=gauge, low=0.0, high=30.0)
    d = 0.127e-3 * math.pow(92.0, (36.0 - gauge) / 39.0)
    return 0.25 * math.pi * d * d


def wire_resistance(
    *, length: float, area: float, temperature: float = 313.15, stranded: float = 1.0
) -> float:
    """Resistance of one copper wire. [ohm]

    Parameters
    ----------
    length : float
        One way. [m]
    area : float
        Cross-section of the copper, 0.05 to 100 mm2. [m2]
    temperature : float
        Of the copper, 230 to 400 K; by default a cord in use. [K]
    stranded : float
        Resistance over that of solid copper of this section, see `STRANDED`. [-]
    """
    for name, value, low, high, unit in (
        ("length", length, 0.0, 1000.0, "m"),
        ("cross-section", area, 0.05e-6, 100e-6, "m2"),
        ("temperature", temperature, 230.0, 400.0, "K"),
    ):
        if not low <= value <= high:
            raise OutOfRange(
                what="no such cord", name=name, value=value, low=low, high=high,
                unit=unit,
            )  # fmt: skip
    resistivity = _RESISTIVITY * (1.0 + _PER_KELVIN * (temperature - _REFERENCE))
    return stranded * resistivity * length / area


def cord_drop(*, supply: float, current: float, resistance: float) -> CordDrop:
    """Voltage behind a cord, the drop counted in phase: 2 I R, the worst power factor.

    While it stands still the motor is an impedance: what it draws falls with its voltage, so the
    cord and it divide the supply. Torque goes with the square of the voltage.

    Parameters
    ----------
    supply : float
        At the socket. [V]
    current : float
        Running, rated. [A]
    resistance : float
        Of one wire. [ohm]
    """
    for name, value, unit in (("supply voltage", supply, "V"), ("current", current, "A")):
        if not (math.isfinite(value) and value > 0.0):
            raise OutOfRange(
                what="no such cord", name=name, value=value, low=0.0, high=math.inf,
                unit=unit,
            )  # fmt: skip
    both = 2.0 * resistance
    drop = current * both
    shares = []
    for times in LOCKED_ROTOR:
        impedance = supply / (times * current)
        shares.append(impedance / (impedance + both))
    a, b = shares
    return CordDrop(
        resistance=resistance,
        running_drop=drop,
        running_share=drop / supply,
        starting_current=(LOCKED_ROTOR[0] * current * a, LOCKED_ROTOR[1] * current * b),
        starting_voltage=(supply * a, supply * b),
        starting_torque=(a * a, b * b),
    )
