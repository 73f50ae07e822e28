"""Quantities as scripts write them: a float is SI, a string carries its unit."""

from __future__ import annotations

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import UnitError
from sweatline.units import EXAMPLES, Kind, parse

__all__ = ["Written", "maybe_si", "si"]

Written = float | str


def si(value: Written, kind: Kind, name: str, *, atmosphere: float = STANDARD_ATMOSPHERE) -> float:
    """Value in SI of a float, or of a string with its unit; pressures are absolute.

    Raises
    ------
    UnitError
        A string that is no quantity of this kind, or anything that is no number.
    """
    if isinstance(value, str):
        try:
            return parse(value, kind, atmosphere=atmosphere).value
        except UnitError as error:
            error.field = name
            raise
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnitError(
            what="not a quantity",
            read=repr(value)[:40],
            allowed=f"a number in SI, or a text with its unit as {EXAMPLES[kind]}",
            field=name,
        )
    return float(value)


def maybe_si(
    value: Written | None, kind: Kind, name: str, *, atmosphere: float = STANDARD_ATMOSPHERE
) -> float | None:
    """As :func:`si`; None stays None."""
    return None if value is None else si(value, kind, name, atmosphere=atmosphere)
