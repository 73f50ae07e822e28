"""Quantities as scripts write them: a float is SI, a string carries its unit."""

from __future__ import annotations

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units import Kind, quantity

__all__ = ["Written", "maybe_si", "si"]

Written = float | str


def si(value: Written, kind: Kind, name: str, *, atmosphere: float = STANDARD_ATMOSPHERE) -> float:
    """Value in SI of a float, or of a string with its unit; pressures are absolute.

    Raises
    ------
    UnitError
        A string that is no quantity of this kind, or anything that is no number.
    """
    return quantity(value, kind, name, atmosphere=atmosphere)


def maybe_si(
    value: Written | None, kind: Kind, name: str, *, atmosphere: float = STANDARD_ATMOSPHERE
) -> float | None:
    """As :func:`si`; None stays None."""
    return None if value is None else si(value, kind, name, atmosphere=atmosphere)
