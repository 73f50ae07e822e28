"""Quantities as scripts write them: a float is SI, a string carries its unit."""

from __future__ import annotations

from typing import Any

from sweatline.answers.fields import members_of
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units import Kind
from sweatline.units import quantity as si

__all__ = ["Written", "in_si", "maybe_si", "si"]

Written = float | str


def in_si(part: object, *, atmosphere: float = STANDARD_ATMOSPHERE) -> dict[str, Any]:
    """Fields of a part by name, in SI where they are quantities."""
    return {
        m.name: getattr(part, m.name)
        if m.q is None
        else si(getattr(part, m.name), m.q.kind, m.name, atmosphere=atmosphere)
        for m in members_of(type(part))
    }


def maybe_si(
    value: Written | None, kind: Kind, name: str, *, atmosphere: float = STANDARD_ATMOSPHERE
) -> float | None:
    """As :func:`sweatline.units.quantity`; None stays None."""
    return None if value is None else si(value, kind, name, atmosphere=atmosphere)
