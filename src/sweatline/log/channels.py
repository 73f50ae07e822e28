"""What can be read at a machine: one table of channels that everything else loops over.

Each channel says what kind of quantity it is, what a table calls it, which quantity of a machine's
steady state it shows, how well it is read when nobody described the instrument, how it settles, and
how finely its scale is read. Errors are those of a careful person: gauges of class 1.6 on their
usual scales, clamp thermometers, a plug-in watt-meter (common practice). Scale steps are half a
division of common manifold gauges (0.1 and 0.2 bar, 1 and 5 psi) and the last digit of displays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from sweatline.units import Kind, System


@dataclass(frozen=True, slots=True, kw_only=True)
class Readout:
    """How finely an instrument is read off."""

    unit: str
    step: float  # half a division, in the unit
    decimals: int
    other: str = ""  # unit of its other scale


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
    # Gauge whose saturation a thermometer is held against, and which end of it.
    gauge: str = ""
    saturation: Literal["", "dew", "bubble"] = ""
    # How it settles, in SI: scatter of one reading, usual step of a change, rest without matter.
    noise: float = 0.0
    span: float = 0.0
    tolerance: float = 0.0
    readout: Mapping[System, Readout] = field(default_factory=dict)

    @property
    def heading(self) -> str:
        """What a table calls it."""
        return self.title or self.name

    @property
    def settles(self) -> bool:
        """Whether it is followed while it settles."""
        return self.span > 0.0


def _gauge(
    name: str, title: str = "", *, kind: Kind = "pressure", sd: float = 0.0, state: str = "",
    saturation: Literal["", "dew", "bubble"] = "", also: tuple[str, ...] = (),
    settling: tuple[float, float, float] = (0.0, 0.0, 0.0), steps: tuple[float, float] = (0.0, 0.0),
    decimals: tuple[int, int] = (2, 1),
) -> Channel:  # fmt: skip
    """A pressure gauge; its own saturation is that of its reading."""
    readout: dict[System, Readout] = {}
    if steps[0]:
        readout["SI"] = Readout(unit="bar(g)", step=steps[0], decimals=decimals[0], other="psig")
        readout["US"] = Readout(unit="psig", step=steps[1], decimals=decimals[1], other="bar(g)")
    noise, span, tolerance = settling
    return Channel(
        name=name, title=title, kind=kind, sd=sd, state=state, saturation=saturation, also=also,
        believable=(20.0, 3e5), noise=noise, span=span, tolerance=tolerance, readout=readout,
    )  # fmt: skip


_DEGREES: Final[Mapping[System, Readout]] = {
    "SI": Readout(unit="°C", step=0.1, decimals=1, other="°F"),
    "US": Readout(unit="°F", step=0.1, decimals=1, other="°C"),
}


def _thermometer(
    name: str, title: str = "", *, state: str = "", gauge: str = "", also: tuple[str, ...] = (),
    saturation: Literal["", "dew", "bubble"] = "",
    settling: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> Channel:  # fmt: skip
    """A clamp thermometer, or one in the air."""
    noise, span, tolerance = settling
    return Channel(
        name=name, title=title, kind="temperature", sd=0.5, state=state, gauge=gauge, also=also,
        saturation=saturation, noise=noise, span=span, tolerance=tolerance, readout=_DEGREES,
    )  # fmt: skip


def _other(name: str, kind: Kind, also: tuple[str, ...] = ()) -> Channel:
    return Channel(name=name, kind=kind, also=also)


_WATTS: Final = Readout(unit="W", step=1.0, decimals=0)

_ALL: Final = (
    _gauge("suction gauge", "suction", state="suction_pressure", sd=4e3, saturation="dew",
           also=("low side", "low gauge"), settling=(1.5e3, 4e4, 3e3), steps=(0.05, 0.5)),
    _gauge("head gauge", "head", state="discharge_pressure", sd=10e3, saturation="bubble",
           also=("high side", "high gauge"), settling=(4e3, 1e5, 8e3), steps=(0.1, 2.5),
           decimals=(1, 1)),
    _gauge("vacuum gauge", kind="absolute pressure"),
    _thermometer("suction gas", gauge="suction gauge", saturation="dew",
                 settling=(0.15, 5.0, 0.5)),
    _thermometer("return gas", state="suction_temperature", gauge="suction gauge",
                 saturation="dew", settling=(0.15, 5.0, 0.5)),
    _thermometer("discharge gas", state="discharge_temperature", settling=(0.3, 12.0, 1.5)),
    _thermometer("liquid line", state="liquid_temperature", gauge="head gauge",
                 saturation="bubble", settling=(0.15, 4.0, 0.5)),
    _thermometer("evaporator bend"),
    _thermometer("condenser bend"),
    _thermometer("coil", "coldest coil", state="coil_temperature", settling=(0.15, 4.0, 0.5)),
    _thermometer("circuit"),
    _thermometer("shell"),
    _thermometer("air in"),
    _thermometer("air between"),
    _thermometer("air out"),
    _other("room humidity", "relative humidity"),
    _other("air out humidity", "relative humidity"),
    Channel(name="watts", kind="power", also=("power",), state="total_power", sd=0.01,
            relative=True, believable=(0.02, 500.0), noise=1.0, span=20.0, tolerance=2.0,
            readout={"SI": _WATTS, "US": _WATTS}),
    _other("amps", "current", ("current",)),
    _other("volts", "voltage", ("voltage",)),
    _other("water", "volume"),
    _other("scale", "mass"),
    _gauge("barometer", kind="absolute pressure"),
    _gauge("cylinder gauge"),
    _thermometer("cylinder"),
)  # fmt: skip

CHANNELS: Final[Mapping[str, Channel]] = {c.name: c for c in _ALL}


def kind_of(name: str) -> Kind:
    """Kind of quantity of a channel; of an addition, which is weighed, mass."""
    return CHANNELS[name].kind if name in CHANNELS else "mass"
