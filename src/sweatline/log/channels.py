"""What can be read at a machine and what can happen to it: tables that everything loops over.

Each channel says what kind of quantity it is, what a table calls it, which quantity of a machine's
steady state it shows, how well it is read when nobody described the instrument, how it settles, and
how finely its scale is read. Errors are those of a careful person: gauges of class 1.6 on their
usual scales, clamp thermometers, a plug-in watt-meter, a clamp meter (common practice). Scale steps
are half a division of common manifold gauges (0.1 and 0.2 bar, 1 and 5 psi) and the last digit of
displays.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple

from sweatline.constants import ZERO_CELSIUS
from sweatline.units import Kind, System

SENSORS_FILE: Final = "sensors.toml"
"""In a folder of logs: which channel each sensor that sends by itself shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readout:
    """How finely an instrument is read off."""

    unit: str
    step: float  # half a division, in the unit
    decimals: int
    other: str = ""  # unit of its other scale


class Character(NamedTuple):
    """How a channel settles, known before its first reading, in its SI unit."""

    noise: float  # standard deviation of a single reading about the truth
    span: float  # by how much a usual change moves it
    tolerance: float  # rest of a transient that no longer matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One thing that can be read."""

    name: str
    kind: Kind
    title: str = ""  # in a table; the name where empty
    also: tuple[str, ...] = ()  # other spellings, accepted as a whole
    state: str = ""  # quantity of a steady state that it shows
    # Standard error where nobody described the instrument, SI or as a share; 0: not known.
    sd: float = 0.0
    relative: bool = False
    # Standard errors outside these belong to an instrument for another quantity. [SI]
    believable: tuple[float, float] = (5e-3, 15.0)
    # What such a machine can show at all, wherever it stands; beyond it a slip is likely. [SI]
    shows: tuple[float, float] = (-math.inf, math.inf)
    # Gauge whose saturation a thermometer is held against, and which end of it.
    gauge: str = ""
    saturation: Literal["", "dew", "bubble"] = ""
    settling: Character | None = None  # None: it is not followed
    readout: Mapping[System, Readout] = field(default_factory=dict)

    @property
    def heading(self) -> str:
        """What a table calls it."""
        return self.title or self.name


def _gauge(
    name: str, title: str = "", *, kind: Kind = "pressure", sd: float = 0.0, state: str = "",
    saturation: Literal["", "dew", "bubble"] = "", also: tuple[str, ...] = (),
    settling: Character | None = None, steps: tuple[float, float] = (0.0, 0.0),
    decimals: tuple[int, int] = (2, 1), shows: tuple[float, float] = (0.0, 7e6),
) -> Channel:  # fmt: skip
    """A pressure gauge; its own saturation is that of its reading."""
    readout: dict[System, Readout] = {}
    if steps[0]:
        readout["SI"] = Readout(unit="bar(g)", step=steps[0], decimals=decimals[0], other="psig")
        readout["US"] = Readout(unit="psig", step=steps[1], decimals=decimals[1], other="bar(g)")
    return Channel(
        name=name, title=title, kind=kind, sd=sd, state=state, saturation=saturation, also=also,
        believable=(20.0, 3e5), shows=shows, settling=settling, readout=readout,
    )  # fmt: skip


_DEGREES: Final[Mapping[System, Readout]] = {
    "SI": Readout(unit="°C", step=0.1, decimals=1, other="°F"),
    "US": Readout(unit="°F", step=0.1, decimals=1, other="°C"),
}


def _thermometer(
    name: str, title: str = "", *, shows: tuple[float, float] = (-60.0, 90.0), state: str = "",
    gauge: str = "",
    saturation: Literal["", "dew", "bubble"] = "", settling: Character | None = None,
) -> Channel:  # fmt: skip
    """A clamp thermometer, or one in the air; it `shows` degrees Celsius between."""
    return Channel(
        name=name, title=title, kind="temperature", sd=0.5, state=state, gauge=gauge,
        shows=(shows[0] + ZERO_CELSIUS, shows[1] + ZERO_CELSIUS), saturation=saturation,
        settling=settling, readout=_DEGREES,
    )  # fmt: skip


_WATTS: Final = Readout(unit="W", step=1.0, decimals=0)
_AMPS: Final = Readout(unit="A", step=0.01, decimals=2)

_ALL: Final = (
    _gauge("suction gauge", "suction", state="suction_pressure", sd=4e3, saturation="dew",
           also=("low side", "low gauge"), settling=Character(1.5e3, 4e4, 3e3), steps=(0.05, 0.5)),
    _gauge("head gauge", "head", state="discharge_pressure", sd=10e3, saturation="bubble",
           also=("high side", "high gauge"), settling=Character(4e3, 1e5, 8e3), steps=(0.1, 2.5),
           decimals=(1, 1)),
    _gauge("vacuum gauge", kind="absolute pressure"),
    _thermometer("suction gas", gauge="suction gauge", saturation="dew",
                 settling=Character(0.15, 5.0, 0.5)),
    _thermometer("return gas", state="suction_temperature", gauge="suction gauge",
                 saturation="dew", settling=Character(0.15, 5.0, 0.5)),
    _thermometer("discharge gas", shows=(-30.0, 200.0), state="discharge_temperature",
                 settling=Character(0.3, 12.0, 1.5)),
    _thermometer("liquid line", state="liquid_temperature", gauge="head gauge",
                 saturation="bubble", settling=Character(0.15, 4.0, 0.5)),
    _thermometer("evaporator bend"),
    _thermometer("condenser bend"),
    _thermometer("coil", "coldest coil", state="coil_temperature",
                 settling=Character(0.15, 4.0, 0.5)),
    _thermometer("circuit"),
    _thermometer("shell", shows=(-40.0, 160.0)),
    _thermometer("air in", shows=(-30.0, 60.0)),
    _thermometer("air between", shows=(-40.0, 70.0)),
    _thermometer("air out", shows=(-40.0, 80.0)),
    Channel(name="room humidity", kind="relative humidity", shows=(0.02, 1.0)),
    Channel(name="air out humidity", kind="relative humidity", shows=(0.02, 1.0)),
    Channel(name="watts", kind="power", also=("power",), state="total_power", sd=0.01,
            relative=True, believable=(0.02, 500.0), shows=(2.0, 2e4),
            settling=Character(1.0, 20.0, 2.0),
            readout={"SI": _WATTS, "US": _WATTS}),
    Channel(name="amps", kind="current", also=("current",), state="total_current", sd=0.02,
            relative=True, believable=(1e-3, 20.0), shows=(0.02, 100.0),
            settling=Character(0.01, 0.2, 0.03),
            readout={"SI": _AMPS, "US": _AMPS}),
    Channel(name="volts", kind="voltage", also=("voltage",), shows=(0.0, 600.0)),
    Channel(name="water", kind="volume"),
    # A bucket and a watch: a twentieth, for the coil drips in its own time (common practice).
    Channel(name="water rate", kind="water removal", state="water", sd=0.05, relative=True,
            believable=(1e-8, 1e-3),
            readout={"SI": Readout(unit="L/day", step=0.01, decimals=2),
                     "US": Readout(unit="pints/day", step=0.02, decimals=2)}),
    _gauge("standing pressure", sd=4e3, also=("pressure at rest",), steps=(0.05, 0.5)),
    Channel(name="charge weighed", kind="mass", sd=0.01, relative=True, believable=(1e-5, 1.0)),
    Channel(name="scale", kind="mass"),
    _gauge("barometer", kind="absolute pressure", shows=(5e4, 1.1e5)),
    _gauge("cylinder gauge"),
    _thermometer("cylinder", shows=(-50.0, 70.0)),
)  # fmt: skip

CHANNELS: Final[Mapping[str, Channel]] = {c.name: c for c in _ALL}
# Those that are followed while they settle.
CHARACTERS: Final = {c.name: c.settling for c in _ALL if c.settling is not None}

ACKNOWLEDGED: Final = "acknowledged"
INSTRUMENT_CHANGED: Final = "instrument changed"
RULED_OUT: Final = "ruled out"
BLOCKED_TUBE: Final = "blocked tube"

# What may be ruled out by a look, beside an instrument that reads wrong, and by which look.
RULED_OUT_BY: Final[Mapping[str, str]] = {
    "leak": "every joint was searched and holds",
    BLOCKED_TUBE: "dry nitrogen went through capillary and drier after the last braze",
    "air": "the circuit was evacuated, and held, before the charge went in",
}

# What can happen, and what it means for the circuit.
EVENTS: Final[Mapping[str, str]] = {
    "started": "the compressor was switched on",
    "stopped": "the compressor was switched off",
    "opened": "the circuit was opened to the air",
    "pressurised": "nitrogen or another test gas was let in",
    "evacuating": "the vacuum pump was started",
    "isolated": "the pump was valved off",
    "vacuum broken": "refrigerant or dry gas was let in on the vacuum",
    "cylinder changed": "another cylinder stands on the scale",
    "hose left": "a hose was taken off: its bore, length, state and pressure",
    "can emptied": "a small can nobody weighed: its label, volume and pressure at the end",
    "vented": "refrigerant was let out: its mass",
    INSTRUMENT_CHANGED: "another instrument reads from now on: the reading, and its name",
    RULED_OUT: "looked at and in order: leak, blocked tube, air, or a reading that was compared",
    ACKNOWLEDGED: "a caution was read: its key, by whom",
}

# Events after which what was in the circuit is no longer there.
EMPTIED: Final = ("opened", "evacuating", "pressurised")

LARGEST_ADDITION: Final = 20.0
"""Mass beyond which nobody lets refrigerant into such a machine at once. [kg]"""


def in_order(what: str) -> str:
    """What is said by ruling it out: one of `RULED_OUT_BY`, or a reading."""
    return RULED_OUT_BY.get(what, f"the {what} was compared and reads right")


def kind_of(name: str) -> Kind:
    """Kind of quantity of a channel; of an addition, which is weighed, mass."""
    return CHANNELS[name].kind if name in CHANNELS else "mass"
