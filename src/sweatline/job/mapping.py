"""Ten-term compressor maps written in other units, brought to watts and degrees Celsius."""

from __future__ import annotations

from typing import Final

from sweatline.job.schema import MapSection

__all__ = ["fahrenheit_to_celsius", "in_celsius"]

_WATT_PER_BTU_PER_HOUR: Final = 1055.05585262 / 3600.0


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


def in_celsius(section: MapSection) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Capacity and power coefficients in watts from degrees Celsius."""
    if section.coefficients == "W, °C":
        return section.capacity, section.power
    capacity = fahrenheit_to_celsius(section.capacity)
    return (
        tuple(_WATT_PER_BTU_PER_HOUR * c for c in capacity),
        fahrenheit_to_celsius(section.power),
    )
