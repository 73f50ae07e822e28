"""Orders that physics demands of readings taken together, in one table.

Each row says which of two things is never above the other, by how much instruments and places may
hide that, when it holds, and why. A pair of readings that breaks a row cannot both be right,
whatever is wrong with the machine: a starved or restricted one keeps all of them.

Margins are two common instruments together (gauges of class 1.6, clamp thermometers 1 K,
hygrometers 3 %RH, plug-in meters 2 %; common practice), wide enough that an honest reading is
rarely asked about.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.air.moist import humidity_ratio
from sweatline.log.channels import CHANNELS

Order = Literal[
    "suction above head",
    "below saturation",
    "above saturation",
    "suction warmer than discharge",
    "suction warmer than shell",
    "liquid warmer than discharge",
    "liquid colder than coil",
    "condenser warmer than discharge",
    "condenser colder than evaporator",
    "evaporator below saturation",
    "coil below saturation",
    "evaporating above the air",
    "air out colder than coil",
    "air between colder than coil",
    "air between warmer than air in",
    "air between warmer than air out",
    "liquid colder than air between",
    "air gained water",
    "more watts than volts and amps",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known beside the readings."""

    atmosphere: float  # Pa
    dew: Callable[[float], float] | None = None  # K at Pa, None where nothing is in the circuit
    bubble: Callable[[float], float] | None = None  # K at Pa
    running: bool = False
    disturbed_at: float | None = None  # s, last start, stop, opening or addition
    # s, of the row written last; None: the latest of the readings before.
    last_written: float | None = None
    air: float | None = None  # K, the warmest at the machine
    simulated: bool = False  # its time is not that of the clock


@dataclass(frozen=True, slots=True)
class Term:
    """One side of an order: a reading, or what follows from one or two."""

    channels: tuple[str, ...]
    of: Callable[[Circumstances, tuple[float, ...]], float | None]
    saturation: bool = False  # a temperature that a gauge stands for

    def value(self, values: Mapping[str, float], c: Circumstances) -> float | None:
        """SI; None where something for it is not known."""
        if not all(name in values for name in self.channels):
            return None
        return self.of(c, tuple(values[name] for name in self.channels))


def _read(name: str) -> Term:
    return Term((name,), lambda _c, v: v[0])


def _dew(gauge: str) -> Term:
    return Term((gauge,), lambda c, v: c.dew(v[0]) if c.dew else None, saturation=True)


def _bubble(gauge: str) -> Term:
    return Term((gauge,), lambda c, v: c.bubble(v[0]) if c.bubble else None, saturation=True)


def _in_atmospheres(gauge: str) -> Term:
    return Term((gauge,), lambda c, v: v[0] / c.atmosphere)


def _water(air: str, humidity: str) -> Term:
    """Of the air, relative to what its margin is a share of. [kg/kg]"""
    return Term((air, humidity), lambda c, v: humidity_ratio(v[0], min(v[1], 1.0), c.atmosphere))


_AIR: Final = Term((), lambda c, _v: c.air)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """`lower` is never above `upper`."""

    key: Order
    lower: Term
    upper: Term
    margin: float  # K, atmospheres, or a share where `relative`
    relative: bool = False
    at_rest: float | None = None  # margin while nobody said that it runs; None: says nothing then
    after: float = 0.0  # s since something was done, for what follows slowly
    most: float | None = None  # K that `upper` is above `lower`, at most, in a reading put right
    because: str  # ends the sentence; {limit} is the saturation temperature
    check: str = "look at the thermometers' seats and names"  # where no single slip explains it
    exchanged: str = "are the two swapped?"

    @property
    def channels(self) -> tuple[str, ...]:
        """Readings it compares."""
        return self.lower.channels + self.upper.channels

    @property
    def may_be_swapped(self) -> bool:
        """Whether it compares two readings as they stand, of one kind."""
        if len(self.lower.channels) != 1 or len(self.upper.channels) != 1:
            return False
        kinds = {CHANNELS[name].kind for name in self.channels}
        return len(kinds) == 1 and not (self.lower.saturation or self.upper.saturation)

    def holds(self, now: float, c: Circumstances) -> bool:
        """Whether it is to be asked of readings at a moment."""
        settled = c.disturbed_at is None or now - c.disturbed_at >= self.after
        return settled and (c.running or self.at_rest is not None)

    def gap(self, values: Mapping[str, float], c: Circumstances) -> float | None:
        """By how much `upper` is above `lower`; None where one is not known."""
        lower, upper = self.lower.value(values, c), self.upper.value(values, c)
        if lower is None or upper is None:
            return None
        return (upper - lower) / lower if self.relative else upper - lower

    def broken(self, values: Mapping[str, float], c: Circumstances) -> bool:
        """Whether the readings cannot all be right."""
        gap = self.gap(values, c)
        margin = self.margin if c.running or self.at_rest is None else self.at_rest
        return gap is not None and gap < -margin

    def fits(self, values: Mapping[str, float], c: Circumstances) -> bool:
        """Whether readings that were put right would be in order."""
        gap = self.gap(values, c)
        if gap is None or self.most is None:
            return not self.broken(values, c)
        return 0.0 < gap < self.most


_LAGS: Final = 120.0  # s in which a pipe and its clamp follow a pressure
_WARMS: Final = 300.0  # s in which shell and discharge line have passed the rest (common practice)
_LARGEST_SUPERHEAT: Final = 35.0  # K that explains a reading written in another unit

_COMPRESSED = "a compressor heats the gas that it compresses"
_CONDENSES = "discharge gas is the hottest there is in a circuit, and only cools on its way"
_GAUGE = "check the gauge's zero, the thermometer's seat and the refrigerant"
_HOSES = "are the hoses swapped, or the names?"
_COOLED = "a coil cools air to its own temperature at most"

ROWS: Final[tuple[Row, ...]] = (
    Row(key="suction above head", lower=_in_atmospheres("suction gauge"),
        upper=_in_atmospheres("head gauge"), margin=0.1, at_rest=0.35,
        because="a compressor lifts the pressure", check=_HOSES + " Then correct both",
        exchanged=_HOSES),
    Row(key="suction warmer than discharge", lower=_read("suction gas"),
        upper=_read("discharge gas"), margin=4.0, after=_LAGS, because=_COMPRESSED),
    Row(key="below saturation", lower=_dew("suction gauge"), upper=_read("suction gas"),
        margin=4.0, at_rest=14.0, most=_LARGEST_SUPERHEAT,
        because="the gas would be colder than its saturation, {limit}", check=_GAUGE),
    # At rest liquid may stand anywhere, and be warmer than the pressure of the rest says.
    Row(key="above saturation", lower=_read("liquid line"), upper=_bubble("head gauge"),
        margin=4.0, most=_LARGEST_SUPERHEAT,
        because="the liquid would be warmer than its saturation, {limit}", check=_GAUGE),
    Row(key="liquid warmer than discharge", lower=_read("liquid line"),
        upper=_read("discharge gas"), margin=4.0, after=_WARMS, because=_CONDENSES),
    Row(key="condenser warmer than discharge", lower=_read("condenser bend"),
        upper=_read("discharge gas"), margin=4.0, after=_WARMS, because=_CONDENSES),
    Row(key="liquid colder than coil", lower=_read("coil"), upper=_read("liquid line"),
        margin=4.0, after=_LAGS,
        because="liquid is throttled on its way to the coil, and that cools it"),
    Row(key="condenser colder than evaporator", lower=_read("evaporator bend"),
        upper=_read("condenser bend"), margin=4.0, after=_LAGS,
        because="the condenser gives off the heat that the evaporator takes in"),
    Row(key="suction warmer than shell", lower=_read("suction gas"), upper=_read("shell"),
        margin=6.0, after=_WARMS, because="the motor heats the shell and the gas in it"),
    Row(key="evaporator below saturation", lower=_bubble("suction gauge"),
        upper=_read("evaporator bend"), margin=5.0, after=_LAGS,
        because="what boils in the pipe is at the pressure of the gauge or above it, and no colder "
        "than {limit}", check=_GAUGE),
    Row(key="coil below saturation", lower=_bubble("suction gauge"), upper=_read("coil"),
        margin=5.0, after=_LAGS,
        because="what boils in the coil is at the pressure of the gauge or above it, and no colder "
        "than {limit}", check=_GAUGE),
    Row(key="evaporating above the air", lower=_dew("suction gauge"), upper=_AIR,
        margin=8.0, after=_LAGS,
        because="it would boil at {limit}, and takes heat from the air only while it is colder",
        check=_GAUGE),
    Row(key="air out colder than coil", lower=_read("coil"), upper=_read("air out"),
        margin=3.0, after=_LAGS, because=_COOLED),
    Row(key="air between colder than coil", lower=_read("coil"), upper=_read("air between"),
        margin=3.0, after=_LAGS, because=_COOLED),
    Row(key="air between warmer than air in", lower=_read("air between"), upper=_read("air in"),
        margin=3.0, after=_LAGS, because="the evaporator cools the air that passes it"),
    Row(key="air between warmer than air out", lower=_read("air between"),
        upper=_read("air out"), margin=3.0, after=_LAGS,
        because="the condenser warms the air that passes it"),
    Row(key="liquid colder than air between", lower=_read("air between"),
        upper=_read("liquid line"), margin=5.0, after=_LAGS,
        because="the air that cools the condenser cools the liquid to its own temperature at most"),
    Row(key="air gained water", lower=_water("air out", "air out humidity"),
        upper=_water("air in", "room humidity"), margin=0.2, relative=True, after=_WARMS,
        because="the air would leave with more water than it brought, and a cold coil adds none",
        check="look at both hygrometers side by side in the room"),
    Row(key="more watts than volts and amps", lower=_read("watts"),
        upper=Term(("volts", "amps"), lambda _c, v: v[0] * v[1]), margin=0.1, relative=True,
        because="no motor takes more watts than volts times amps",
        check="does the clamp hold one wire, of the whole machine?"),
)  # fmt: skip

BY_KEY: Final[Mapping[str, Row]] = {row.key: row for row in ROWS}
# Rows that compare a channel with others.
ROWS_OF: Final[Mapping[str, tuple[Row, ...]]] = {
    name: tuple(row for row in ROWS if name in row.channels) for name in CHANNELS
}
