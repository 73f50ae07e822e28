"""Names a job file may use: refrigerants, rating conditions, units of ten-term maps, instruments.

Refrigerants stand under the names people write, with the pressures that size their circuits. The
temperatures of the older rating conditions are round numbers of degrees Fahrenheit and are kept so:
-10 °F is -23.3 °C to one digit. A reading without a stated uncertainty gets the one of its
instrument, from one table for the whole project. Except where a source is named, its figures are
common practice: the graduation or class of an ordinary instrument, taken as one standard deviation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.uncertainty.parameter import Instrument, Measured, Origin
from sweatline.units import Kind, Parsed, Scale, System, one_line, show

# Bubble pressure at 26.7 and 63 degrees Celsius [bar absolute], reference equations of state as
# implemented in CoolProp 8.0.0.
_DESIGN: Final[Mapping[str, tuple[float, float]]] = {
    "R-12": (6.81, 16.24),
    "R-22": (10.93, 25.89),
    "R-32": (17.68, 41.99),
    "R-134a": (7.00, 18.04),
    "R-152a": (6.27, 16.10),
    "R-290": (9.94, 22.50),
    "R-404A": (13.12, 30.78),
    "R-407C": (12.46, 29.54),
    "R-410A": (17.34, 41.02),
    "R-417A": (10.31, 24.70),
    "R-422B": (11.08, 26.30),
    "R-422D": (11.86, 27.93),
    "R-427A": (11.99, 28.37),
    "R-436A": (7.40, 16.90),
    "R-436B": (7.15, 16.38),
    "R-448A": (13.49, 31.50),
    "R-449A": (13.31, 31.10),
    "R-450A": (6.25, 16.09),
    "R-452A": (13.68, 31.66),
    "R-454B": (16.57, 38.87),
    "R-454C": (12.30, 28.05),
    "R-455A": (14.44, 31.62),
    "R-500": (8.14, 19.45),
    "R-507A": (13.41, 31.47),
    "R-513A": (7.45, 18.55),
    "R-600a": (3.68, 9.31),
    "R-1234yf": (7.16, 17.56),
    "R-1234ze(E)": (5.25, 13.71),
    "R-1270": (12.04, 26.85),
}

REFRIGERANTS: Final = tuple(_DESIGN)


def design_pressures(refrigerant: str) -> tuple[float, float]:
    """Saturation pressure of a refrigerant at 26.7 and at 63 degrees Celsius. [Pa]"""
    if refrigerant in _DESIGN:
        low, high = _DESIGN[refrigerant]
        return low * 1e5, high * 1e5
    from sweatline.refrigerant.refrigerant import load  # brings the compiler along

    fluid = load(refrigerant)
    cool, hot = (fluid.saturation_pressure_bubble(t + ZERO_CELSIUS) for t in (26.7, 63.0))
    return cool, hot


@dataclass(frozen=True, slots=True)
class Convention:
    """One rating condition; dew temperatures, all in kelvin."""

    name: str
    evaporating: float  # K
    condensing: float  # K
    suction: float  # K, return gas
    liquid: float  # K, entering the expansion device
    purpose: str
    # What stays at the other points of a table: superheat or else return gas, subcooling or liquid.
    superheat_stays: bool = False
    subcooling_stays: bool = False

    def suction_at(self, evaporating: float) -> float:
        """Return gas at a point of a table made by this convention. [K]"""
        if self.superheat_stays:
            return self.suction - self.evaporating + evaporating
        return max(self.suction, evaporating)

    def liquid_at(self, condensing: float) -> float:
        """Liquid at a point of a table made by this convention. [K]"""
        if self.subcooling_stays:
            return self.liquid - self.condensing + condensing
        return min(self.liquid, condensing)

    def words(self, system: System) -> str:
        """What it is for, and its temperatures in a unit system."""
        evaporating, condensing, suction, liquid = (
            show(t, "temperature", system)
            for t in (self.evaporating, self.condensing, self.suction, self.liquid)
        )
        return (
            f"{self.purpose}: {evaporating} evaporating, {condensing} condensing, "
            f"return gas {suction}, liquid {liquid}"
        )


_Four = tuple[float, float, float, float]


def _fahrenheit(
    name: str, temperatures: _Four, purpose: str, *, subcooled: bool = False
) -> Convention:
    a, b, c, d = ((t + 459.67) * 5.0 / 9.0 for t in temperatures)
    return Convention(name, a, b, c, d, purpose, subcooling_stays=subcooled)


def _celsius(
    name: str, temperatures: _Four, purpose: str, *, superheated: bool = False
) -> Convention:
    a, b, c, d = (t + ZERO_CELSIUS for t in temperatures)
    return Convention(name, a, b, c, d, purpose, superheat_stays=superheated, subcooling_stays=True)


# Evaporating, condensing, return gas, liquid.
_ALL: Final = (
    _fahrenheit("ASHRAE LBP", (-10.0, 130.0, 90.0, 90.0), "household low back pressure"),
    _fahrenheit("ASHRAE HBP", (45.0, 130.0, 95.0, 115.0), "high back pressure", subcooled=True),
    _celsius("CECOMAF", (-25.0, 55.0, 32.0, 55.0), "household"),
    _celsius("EN 12900 household", (-35.0, 40.0, 20.0, 40.0), "household"),
    _celsius("EN 12900 AC", (5.0, 50.0, 15.0, 50.0), "air conditioning", superheated=True),
    _fahrenheit("ARI AC", (45.0, 130.0, 65.0, 115.0), "air conditioning", subcooled=True),
    _fahrenheit("commercial HBP", (45.0, 130.0, 65.0, 130.0), "commercial", subcooled=True),
    _fahrenheit("commercial MBP", (20.0, 120.0, 65.0, 120.0), "commercial", subcooled=True),
    _fahrenheit("commercial LBP", (-25.0, 105.0, 65.0, 105.0), "commercial", subcooled=True),
)

CONVENTIONS: Final[Mapping[str, Convention]] = {c.name: c for c in _ALL}


def _convention_key(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())


_CONVENTION_BY_KEY: Final = {_convention_key(name): c for name, c in CONVENTIONS.items()}


def convention(name: str) -> Convention:
    """Rating condition of a name, however it is spaced and capitalised.

    Raises
    ------
    JobError
        No condition of that name.
    """
    found = _CONVENTION_BY_KEY.get(_convention_key(name))
    if found is not None:
        return found
    import difflib

    near = difflib.get_close_matches(
        _convention_key(name), list(_CONVENTION_BY_KEY), n=1, cutoff=0.7
    )
    hint = f"nearest: {_CONVENTION_BY_KEY[near[0]].name}; " if near else ""
    raise JobError(
        what="no rating condition of this name",
        read=one_line(name[:40]),
        allowed=f"{hint}known: {', '.join(CONVENTIONS)}; or write the temperatures",
    )


def fahrenheit_to_celsius(coefficients: tuple[float, ...]) -> tuple[float, ...]:
    """Coefficients of the same polynomial in degrees Celsius.

    The ten terms, in the order of AHRI 540, are 1, s, d, s2, s d, d2, s3, d s2, s d2, d3 with s
    the suction and d the discharge dew temperature. Substituting 1.8 t + 32 for both and
    collecting powers is exact.
    """
    powers = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
    out = dict.fromkeys(powers, 0.0)
    for coefficient, (m, n) in zip(coefficients, powers, strict=True):
        for i, a in enumerate(_shifted(m)):
            for j, b in enumerate(_shifted(n)):
                out[i, j] += coefficient * a * b
    return tuple(out[p] for p in powers)


def _shifted(power: int) -> list[float]:
    """Coefficients of (1.8 t + 32) to a power, ascending in t."""
    out = [1.0]
    for _ in range(power):
        longer = [32.0 * c for c in out] + [0.0]
        for n, c in enumerate(out):
            longer[n + 1] += 1.8 * c
        out = longer
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool(Instrument):
    """An instrument that a key of the job file names.

    Parameters
    ----------
    kind : str
        Kind of quantity of the absolute part.
    origin : str
        Origin that a number known this way has.
    """

    kind: Kind = "ratio"
    origin: Origin = "measured"

    def words(self, system: System) -> str:
        """What it is and how well it reads, in a unit system."""
        parts = []
        if self.absolute:
            # The value only chooses the unit: that of a usual reading of the instrument.
            usual = 100.0 * self.absolute
            parts.append(Scale(system).spread(self.absolute, usual, self.kind, 1))
        if self.relative:
            parts.append(f"{100.0 * self.relative:g} %")
        return ", ".join([self.name, " or ".join(parts)]) if parts else self.name


def _plate(name: str, relative: float = 0.0) -> Tool:
    return Tool(name, relative=relative, origin="nameplate")


INSTRUMENTS: Final = {
    "calliper": Tool("calliper", kind="length", absolute=0.02e-3),
    "micrometer": Tool("micrometer", kind="length", absolute=0.01e-3),
    "tape": Tool("tape", kind="length", absolute=1e-3, relative=0.005),
    "room tape": Tool("room measure", relative=0.03),
    "fin count": Tool("fins counted along a rule", relative=0.02),
    "bore gauge": Tool("bore gauge or marking", kind="length", absolute=0.02e-3),
    "thermometer": Tool("thermometer", kind="temperature", absolute=0.5),
    "hygrometer": Tool("hygrometer", kind="relative humidity", absolute=0.03),
    "anemometer": Tool("anemometer or plate airflow", relative=0.10),
    "wattmeter": Tool("wattmeter or plate", relative=0.05),
    "measuring cup": Tool("measured out or plate", relative=0.10),
    "estimate": Tool("estimate by eye", relative=0.25),
    "mains": Tool("mains", relative=0.02),
    "mains frequency": Tool("mains frequency", relative=0.001),
    "plate": _plate("plate", 0.05),
    # A maker's figure holds for the type; one machine of it lies some per cent beside it.
    "machine plate": _plate("plate of the machine", 0.08),
    "plate charge": _plate("plate charge", 0.02),
    "plate condition": _plate("condition as printed"),
    "plate limit": _plate("limit as printed"),
    "displacement": _plate("maker's displacement", 0.02),
    # Makers' ratings hold within about 5 % in the normal envelope (AHRI 540 practice).
    "rating": _plate("maker's rating", 0.05),
    # A class 1.6 gauge errs by up to 1.6 % of its span, 0.2 bar on the low side of a manifold
    # (EN 837-1, MEMORY 0.8).
    "gauge": Tool("manifold gauge", kind="pressure", absolute=1e4, relative=0.02),
    "clamp": Tool("clamp thermometer on a cleaned tube", kind="temperature", absolute=1.0),
    "clamp, hot": Tool("clamp thermometer on hot tube", kind="temperature", absolute=3.0),
    "air out": Tool("thermometer in air that is not mixed", kind="temperature", absolute=1.0),
    "plug meter": Tool("plug-in wattmeter", kind="power", absolute=2.0, relative=0.02),
    "clamp meter": Tool("clamp meter", kind="current", absolute=0.05, relative=0.03),
    "flow meter": Tool("flow meter for gas", relative=0.03),
    "bucket": Tool("bucket, scale and watch", relative=0.05),
    "scale": Tool("weighed in", kind="mass", absolute=5e-3, relative=0.02),
    "climate": Tool("from a climate table or memory", kind="temperature", absolute=1.5),
    "judgement": Tool("judged by eye", relative=0.10),
}


# What "about" is worth: common practice, a value rounded to the next easy number.
_ABOUT: Final = 0.05  # of the value
_ABOUT_KELVIN: Final = 2.0  # of a temperature, whose zero says nothing


def reading(parsed: Parsed, instrument: Tool, system: System) -> Measured:
    """A quantity as written, with the stated uncertainty or else that of its instrument.

    A value that is only *about* right is known three times worse than the instrument reads, and
    no better than to a twentieth of itself or 2 K.
    """
    if parsed.sd is not None:
        sd, note = parsed.sd, "as stated"
    elif parsed.about:
        least = _ABOUT_KELVIN if instrument.kind == "temperature" else _ABOUT * abs(parsed.value)
        sd, note = max(3.0 * instrument.sd(parsed.value), least), "stated as about"
    else:
        sd, note = instrument.sd(parsed.value), instrument.words(system)
    return Measured(value=parsed.value, sd=sd, origin=instrument.origin, note=note)
