r"""How much flammable refrigerant a room allows, and what a full leak would make of its air.

The room rule of IEC 60335-2-40, Annex GG, ties the charge to the floor area because a leak sinks
and spreads from the height at which it comes out:

.. math:: m_{max} = 2.5\,\mathrm{LFL}^{5/4}\,h_0\,\sqrt{A}

It holds between the thresholds :math:`m_1` and :math:`m_2`; at or below :math:`m_1` the floor area
does not matter. The standard has further clauses with larger charges for machines that were built
and type-tested for them. A converted machine cannot claim those, so they are left out.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    lfl     lower flammable limit [kg/m3]
    height  release height h0 [m]
    area    floor area [m2]
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.errors import check_positive
from sweatline.refrigerant.safety_data import safety_data

Installation = Literal["floor", "window", "wall", "ceiling"]

ANNEX_GG: Final = "IEC 60335-2-40, Annex GG"

FIELD_CONVERSION: Final = (
    "A converted machine cannot claim the clauses for leak-tested, enhanced-tightness or "
    "ventilated appliances: those are granted to a design that was tested at the factory."
)
LOCAL_CODE: Final = "Local code and a licensed person decide; this is a sum, not a permission."

# PUBLISHED: height above the floor at which a leak is taken to come out. [m]
RELEASE_HEIGHT: Final = {"floor": 0.6, "window": 1.0, "wall": 1.8, "ceiling": 2.2}

# PUBLISHED: thresholds as volumes of gas at the flammable limit. [m3]
_M1_VOLUME: Final = 4.0
_M2_VOLUME: Final = 26.0
_ROOT_FACTOR: Final = 2.5  # PUBLISHED: m_max = 2.5 LFL^(5/4) h0 sqrt(A)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """Charges at which the rule changes. [kg]"""

    m1: float  # at or below: no rule on the room
    m2: float  # above: no charge from the floor area alone


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLimit:
    """Largest charge that the room rule allows, and how it came about."""

    safety_class: str
    allowed: float  # kg per refrigerant circuit; inf when the rule sets no limit
    lfl: float | None  # kg/m3
    source: str
    status: str
    statements: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Concentration:
    """Air of a room after the whole charge has leaked into it, evenly mixed."""

    concentration: float  # kg/m3
    limit: float | None  # kg/m3, refrigerant concentration limit
    limit_status: str
    limit_source: str


_positive = functools.partial(check_positive, "charge limit cannot be worked out")


def thresholds(lfl: float) -> Thresholds:
    """Charges m1 and m2 of the annex."""
    _positive("lower flammable limit", lfl, "kg/m3")
    return Thresholds(m1=_M1_VOLUME * lfl, m2=_M2_VOLUME * lfl)


def room_charge(*, lfl: float, height: float, area: float) -> float:
    """Charge that the floor area allows: m_max = 2.5 LFL^(5/4) h0 sqrt(A). [kg]"""
    _positive("lower flammable limit", lfl, "kg/m3")
    _positive("release height", height, "m")
    _positive("floor area", area, "m2")
    return _ROOT_FACTOR * math.pow(lfl, 1.25) * height * math.sqrt(area)


def charge_limit(
    refrigerant: str,
    *,
    installation: Installation = "floor",
    floor_area: float | None = None,
) -> ChargeLimit:
    """Largest charge of one circuit that the room rule allows a converted machine.

    Parameters
    ----------
    refrigerant : str
        Name such as ``R-290``.
    installation : str
        How the machine stands or hangs.
    floor_area : float or None
        Of the room. Without it only the charge that needs no room rule is allowed. [m2]

    Raises
    ------
    OutOfRange
        A floor area that is not positive.
    """
    data = safety_data(refrigerant)
    known = data.provenance["lfl"]
    statements = [LOCAL_CODE]
    remark = f": {known.note}" if known.note else ""
    if known.status == "CONFLICT":
        statements.append(f"Print disagrees on the flammable limit of {refrigerant}{remark}.")
    elif known.to_confirm:
        statements.append(f"The flammable limit of {refrigerant} is not checked in print{remark}.")
    elif known.status == "COMPUTED":
        statements.append(f"The flammable limit of {refrigerant} is worked out: {known.source}.")
    allowed = math.inf
    if data.lfl is not None:
        statements.insert(0, FIELD_CONVERSION)
        steps = thresholds(data.lfl)
        allowed = steps.m1
        if floor_area is not None:
            height = RELEASE_HEIGHT[installation]
            by_area = room_charge(lfl=data.lfl, height=height, area=floor_area)
            allowed = min(max(by_area, steps.m1), steps.m2)
    return ChargeLimit(
        safety_class=data.safety_class,
        allowed=allowed,
        lfl=data.lfl,
        source=ANNEX_GG,
        status="PUBLISHED",
        statements=tuple(statements),
    )


def room_concentration(refrigerant: str, *, charge: float, room_volume: float) -> Concentration:
    """Concentration after the whole charge has leaked, against the refrigerant's limit.

    The refrigerant concentration limit of ASHRAE 34 is the lowest of the toxicity limit, the
    oxygen limit and a quarter of the flammable limit.

    Parameters
    ----------
    refrigerant : str
        Name such as ``R-1270``.
    charge : float
        Whole charge. [kg]
    room_volume : float
        Of the room, doors shut. [m3]
    """
    _positive("room volume", room_volume, "m3")
    _positive("charge", charge, "kg")
    data = safety_data(refrigerant)
    known = data.provenance["rcl"]
    return Concentration(
        concentration=charge / room_volume,
        limit=data.rcl,
        limit_status=known.status,
        limit_source=known.source,
    )
