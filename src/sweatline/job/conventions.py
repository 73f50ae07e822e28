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
from sweatline.units import one_line

__all__ = ["CONVENTIONS", "Convention", "convention", "fahrenheit_to_celsius", "in_celsius"]

_WATT_PER_BTU_PER_HOUR: Final = 1055.05585262 / 3600.0


def _fahrenheit(t: float) -> float:
    return (t + 459.67) * 5.0 / 9.0


def _celsius(t: float) -> float:
    return t + ZERO_CELSIUS


@dataclass(frozen=True, slots=True, kw_only=True)
class Convention:
    """One rating condition; dew temperatures, all in kelvin."""

    name: str
    evaporating: float  # K
    condensing: float  # K
    suction: float  # K, return gas
    liquid: float  # K, entering the expansion device
    source: str


_ALL: Final = (
    Convention(
        name="ASHRAE LBP",
        evaporating=_fahrenheit(-10.0),
        condensing=_fahrenheit(130.0),
        suction=_fahrenheit(90.0),
        liquid=_fahrenheit(90.0),
        source="household low back pressure: -23.3/54.4 °C, return gas 32.2 °C, liquid 32.2 °C",
    ),
    Convention(
        name="ASHRAE HBP",
        evaporating=_fahrenheit(45.0),
        condensing=_fahrenheit(130.0),
        suction=_fahrenheit(95.0),
        liquid=_fahrenheit(115.0),
        source="high back pressure: 7.2/54.4 °C, return gas 35 °C, liquid 46.1 °C",
    ),
    Convention(
        name="CECOMAF",
        evaporating=_celsius(-25.0),
        condensing=_celsius(55.0),
        suction=_celsius(32.0),
        liquid=_celsius(55.0),
        source="household: -25/55 °C, return gas 32 °C, no subcooling",
    ),
    Convention(
        name="EN 12900 household",
        evaporating=_celsius(-35.0),
        condensing=_celsius(40.0),
        suction=_celsius(20.0),
        liquid=_celsius(40.0),
        source="-35/40 °C, return gas 20 °C, no subcooling",
    ),
    Convention(
        name="EN 12900 AC",
        evaporating=_celsius(5.0),
        condensing=_celsius(50.0),
        suction=_celsius(15.0),
        liquid=_celsius(50.0),
        source="air conditioning: 5/50 °C, 10 K superheat, no subcooling",
    ),
    Convention(
        name="ARI AC",
        evaporating=_fahrenheit(45.0),
        condensing=_fahrenheit(130.0),
        suction=_fahrenheit(65.0),
        liquid=_fahrenheit(115.0),
        source="air conditioning: 7.2/54.4 °C, return gas 18.3 °C, liquid 46.1 °C",
    ),
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
