"""How makers tell what a compressor does: named rating conditions, ten-term maps and their units.

The temperatures of the older conditions are round numbers of degrees Fahrenheit and are kept so:
-10 °F is -23.3 °C to one digit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.units import System, one_line, show

_WATT_PER_BTU_PER_HOUR: Final = 1055.05585262 / 3600.0


@dataclass(frozen=True, slots=True)
class Convention:
    """One rating condition; dew temperatures, all in kelvin."""

    name: str
    evaporating: float  # K
    condensing: float  # K
    suction: float  # K, return gas
    liquid: float  # K, entering the expansion device
    purpose: str

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


def _fahrenheit(name: str, temperatures: _Four, purpose: str) -> Convention:
    a, b, c, d = ((t + 459.67) * 5.0 / 9.0 for t in temperatures)
    return Convention(name, a, b, c, d, purpose)


def _celsius(name: str, temperatures: _Four, purpose: str) -> Convention:
    a, b, c, d = (t + ZERO_CELSIUS for t in temperatures)
    return Convention(name, a, b, c, d, purpose)


# Evaporating, condensing, return gas, liquid.
_ALL: Final = (
    _fahrenheit("ASHRAE LBP", (-10.0, 130.0, 90.0, 90.0), "household low back pressure"),
    _fahrenheit("ASHRAE HBP", (45.0, 130.0, 95.0, 115.0), "high back pressure"),
    _celsius("CECOMAF", (-25.0, 55.0, 32.0, 55.0), "household"),
    _celsius("EN 12900 household", (-35.0, 40.0, 20.0, 40.0), "household"),
    _celsius("EN 12900 AC", (5.0, 50.0, 15.0, 50.0), "air conditioning"),
    _fahrenheit("ARI AC", (45.0, 130.0, 65.0, 115.0), "air conditioning"),
)

CONVENTIONS: Final[Mapping[str, Convention]] = {c.name: c for c in _ALL}


def _key(name: str) -> str:
    return "".join(c for c in name.casefold() if c.isalnum())


_BY_KEY: Final = {_key(name): c for name, c in CONVENTIONS.items()}


def convention(name: str) -> Convention:
    """Rating condition of a name, however it is spaced and capitalised.

    Raises
    ------
    JobError
        No condition of that name.
    """
    found = _BY_KEY.get(_key(name))
    if found is not None:
        return found
    import difflib

    near = difflib.get_close_matches(_key(name), list(_BY_KEY), n=1, cutoff=0.7)
    hint = f"nearest: {_BY_KEY[near[0]].name}; " if near else ""
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


def in_celsius(
    capacity: tuple[float, ...], power: tuple[float, ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Coefficients in watts from degrees Celsius, of those in BTU/h and W from Fahrenheit."""
    return (
        tuple(_WATT_PER_BTU_PER_HOUR * c for c in fahrenheit_to_celsius(capacity)),
        fahrenheit_to_celsius(power),
    )
