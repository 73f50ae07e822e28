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
from sweatline.refrigerant.safety_data import SafetyData, safety_data

Installation = Literal["floor", "window", "wall", "ceiling"]
Edition = Literal["area rule", "A2L 2018"]
Branch = Literal[
    "no flammable limit",
    "no room rule",
    "floor area unknown",
    "floor area, root",
    "floor area, linear",
    "largest charge of the rule",
]

ANNEX_GG: Final = "IEC 60335-2-40, Annex GG"

FIELD_CONVERSION: Final = (
    "A converted machine cannot claim the clauses for leak-tested, enhanced-tightness or "
    "ventilated appliances: those are granted to a design that was tested at the factory."
)
LOCAL_CODE: Final = "Local code and a licensed person decide; this is a sum, not a permission."

# PUBLISHED: later text takes these heights of the machine's underside or opening. [m]
_INSTALLED_HEIGHT: Final = {"floor": 0.0, "window": 1.0, "wall": 1.8, "ceiling": 2.2}
_LOWEST_RELEASE: Final = 0.6  # m

# PUBLISHED: thresholds as volumes of gas at the flammable limit. [m3]
_M1_VOLUME: Final = 4.0
_M1_VOLUME_A2L: Final = 6.0  # edition of 2018, class A2L only
_M2_VOLUME: Final = 26.0
_M3_VOLUME: Final = 130.0

_ROOT_FACTOR: Final = 2.5  # PUBLISHED: m_max = 2.5 LFL^(5/4) h0 sqrt(A)
_LINEAR_FACTOR: Final = 0.75  # reproduces the printed tables of the 2018 edition


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """Charges at which the rule changes. [kg]"""

    m1: float  # at or below: no rule on the room
    m2: float  # above: no charge from the floor area alone
    m3: float  # above: not covered by the standard


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLimit:
    """Largest charge that the room rule allows, and how it came about."""

    refrigerant: str
    safety_class: str
    allowed: float  # kg per refrigerant circuit; inf when the rule sets no limit
    branch: Branch
    lfl: float | None  # kg/m3
    lfl_status: str
    release_height: float  # m
    floor_area: float | None  # m2
    thresholds: Thresholds | None
    source: str
    status: str
    statements: tuple[str, ...]

    def allows(self, charge: float) -> bool:
        """Whether a charge [kg] is within the limit."""
        return charge <= self.allowed


@dataclass(frozen=True, slots=True, kw_only=True)
class Concentration:
    """Air of a room after the whole charge has leaked into it, evenly mixed."""

    refrigerant: str
    concentration: float  # kg/m3
    limit: float | None  # kg/m3, refrigerant concentration limit
    limit_status: str
    limit_source: str
    flammable_share: float | None  # of the lower flammable limit
    allowed: float | None  # kg, charge that reaches the limit in this room

    @property
    def share(self) -> float | None:
        """Concentration over its limit; above 1 the limit is exceeded."""
        return None if self.limit is None else self.concentration / self.limit

    @property
    def within(self) -> bool | None:
        """Whether the limit is kept; None when there is no limit to compare with."""
        return None if self.limit is None else self.concentration <= self.limit


_positive = functools.partial(check_positive, "charge limit cannot be worked out")


def release_height(installation: Installation, *, opening: float = 0.0) -> float:
    """Height above the floor at which a leak is taken to come out. [m]

    Parameters
    ----------
    installation : str
        How the machine stands or hangs.
    opening : float
        Height of the lowest opening above the machine's underside, 0 when not measured. [m]

    Notes
    -----
    The later text of the annex, h0 = max(installed height + opening, 0.6 m); with no opening
    measured it gives the four heights of the earlier text.
    """
    return max(_INSTALLED_HEIGHT[installation] + opening, _LOWEST_RELEASE)


def thresholds(
    *, lfl: float, safety_class: str = "A3", edition: Edition = "area rule"
) -> Thresholds:
    """Charges m1, m2 and m3 of the annex.

    Parameters
    ----------
    safety_class : str
        Only class A2L has a higher m1, and only in the 2018 edition.
    edition : str
        ``area rule``, or ``A2L 2018``.
    """
    _positive("lower flammable limit", lfl, "kg/m3")
    mild = edition == "A2L 2018" and safety_class == "A2L"
    return Thresholds(
        m1=(_M1_VOLUME_A2L if mild else _M1_VOLUME) * lfl,
        m2=_M2_VOLUME * lfl,
        m3=_M3_VOLUME * lfl,
    )


def room_charge(*, lfl: float, height: float, area: float) -> float:
    """Charge that the floor area allows: m_max = 2.5 LFL^(5/4) h0 sqrt(A). [kg]"""
    _positive("lower flammable limit", lfl, "kg/m3")
    _positive("release height", height, "m")
    _positive("floor area", area, "m2")
    return _ROOT_FACTOR * math.pow(lfl, 1.25) * height * math.sqrt(area)


def room_charge_a2l(*, lfl: float, height: float, area: float) -> float:
    """Charge that the floor area allows for class A2L in the 2018 edition. [kg]

    The lesser of the root form and 0.75 LFL h0 A, which governs small rooms. The linear form is
    derived from the printed tables and gives back every row tried.
    """
    root = room_charge(lfl=lfl, height=height, area=area)
    return min(root, _LINEAR_FACTOR * lfl * height * area)


def minimum_area(*, charge: float, lfl: float, height: float) -> float:
    """Floor area that a charge needs: A_min = (M / (2.5 LFL^(5/4) h0))^2. [m2]

    Parameters
    ----------
    charge : float
        Charge M. [kg]
    """
    _positive("charge", charge, "kg")
    return (charge / room_charge(lfl=lfl, height=height, area=1.0)) ** 2


def minimum_area_a2l(*, charge: float, lfl: float, height: float) -> float:
    """Floor area that a charge of class A2L needs in the 2018 edition. [m2]

    Parameters
    ----------
    charge : float
        Charge. [kg]
    """
    root = minimum_area(charge=charge, lfl=lfl, height=height)
    return max(root, charge / (_LINEAR_FACTOR * lfl * height))


def _from_area(
    data: SafetyData, lfl: float, height: float, area: float, edition: Edition
) -> tuple[float, Branch]:
    root = room_charge(lfl=lfl, height=height, area=area)
    if edition == "A2L 2018" and data.safety_class == "A2L":
        mild = room_charge_a2l(lfl=lfl, height=height, area=area)
        if mild < root:
            return mild, "floor area, linear"
    return root, "floor area, root"


def charge_limit(
    refrigerant: str,
    *,
    installation: Installation = "floor",
    floor_area: float | None = None,
    edition: Edition = "area rule",
    opening: float = 0.0,
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
    edition : str
        ``area rule``, the cautious default, or ``A2L 2018`` for class A2L.
    opening : float
        Height of the lowest opening above the machine's underside. [m]

    Raises
    ------
    OutOfRange
        A floor area that is not positive.
    """
    data = safety_data(refrigerant)
    height = release_height(installation, opening=opening)
    known = data.provenance["lfl"]
    statements = [LOCAL_CODE]
    if known.to_confirm and known.status != "not applicable":
        remark = f": {known.note}" if known.note else ""
        statements.append(f"The flammable limit of {refrigerant} is not checked in print{remark}.")
    steps: Thresholds | None = None
    branch: Branch
    if data.lfl is None:
        allowed, branch = math.inf, "no flammable limit"
    else:
        statements.insert(0, FIELD_CONVERSION)
        steps = thresholds(lfl=data.lfl, safety_class=data.safety_class, edition=edition)
        if floor_area is None:
            allowed, branch = steps.m1, "floor area unknown"
        else:
            allowed, branch = _from_area(data, data.lfl, height, floor_area, edition)
            if allowed <= steps.m1:
                allowed, branch = steps.m1, "no room rule"
            elif allowed > steps.m2:
                allowed, branch = steps.m2, "largest charge of the rule"
    return ChargeLimit(
        refrigerant=refrigerant,
        safety_class=data.safety_class,
        allowed=allowed,
        branch=branch,
        lfl=data.lfl,
        lfl_status=known.status,
        release_height=height,
        floor_area=floor_area,
        thresholds=steps,
        source=ANNEX_GG if edition == "area rule" else f"{ANNEX_GG}, GG.2 of the 2018 edition",
        status="PUBLISHED" if edition == "area rule" else "PUBLISHED tables, derived formula",
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
    concentration = charge / room_volume
    return Concentration(
        refrigerant=refrigerant,
        concentration=concentration,
        limit=data.rcl,
        limit_status=known.status,
        limit_source=known.source,
        flammable_share=None if data.lfl is None else concentration / data.lfl,
        allowed=None if data.rcl is None else data.rcl * room_volume,
    )
