"""Safety data of the refrigerants: classes, limits, warming potentials, oils.

The numbers stand in ``safety.toml`` beside this module, in the units of the tables they were taken
from and each with its status and source; here they are converted once to SI. The status words:

==============  =================================================================================
PUBLISHED       seen in the source named
MEMORY 0.85     recalled, not seen; the number is the confidence
COMPUTED        worked out from other values
CONFLICT        printed sources disagree; the note says which value was taken and why
unknown         no value at hand
not applicable  the quantity has no meaning for this refrigerant
==============  =================================================================================
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final, Literal

from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.refrigerant.names import hydrocarbon_shares

Family = Literal["CFC", "HCFC", "HFC", "HFO", "HFC/HFO", "HFC/HC", "HC"]

# Field of the file, field of the dataclass, factor and offset that bring it to SI.
_NUMBERS: Final = (
    ("boiling_point_C", "boiling_point", 1.0, ZERO_CELSIUS),
    ("lfl_kg_m3", "lfl", 1.0, 0.0),
    ("lfl_percent", "lfl_volume", 1e-2, 0.0),
    ("rcl_g_m3", "rcl", 1e-3, 0.0),
    ("rcl_ppm", "rcl_volume", 1e-6, 0.0),
    ("atel_odl_kg_m3", "atel_odl", 1.0, 0.0),
    ("burning_velocity_cm_s", "burning_velocity", 1e-2, 0.0),
    ("autoignition_C", "autoignition", 1.0, ZERO_CELSIUS),
    ("gwp_ar4", "gwp_ar4", 1.0, 0.0),
    ("gwp_ar5", "gwp_ar5", 1.0, 0.0),
    ("gwp_ar6", "gwp_ar6", 1.0, 0.0),
    ("odp", "odp", 1.0, 0.0),
)
_WORDS: Final = ("safety_class", "charge_as")
_LISTS: Final = ("oils", "oils_limited")
_FLAMES_ONLY: Final = ("lfl", "lfl_volume", "burning_velocity")


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """How sure a value is and where it came from."""

    status: str  # see the head of the module
    source: str = ""
    note: str = ""
    upper_bound: bool = False  # the truth lies below the value

    @property
    def to_confirm(self) -> bool:
        """Whether the value must be checked against its source before anyone relies on it."""
        return unchecked(self.status)


def unchecked(status: str) -> bool:
    """Whether nobody has seen the value in print, or prints differ."""
    return status.startswith("MEMORY") or status in ("CONFLICT", "unknown")


def sourced(source: str, status: str) -> str:
    """Source as a person reads it, with a warning where nobody has seen it in print."""
    checked = status == "unknown" or not unchecked(status)  # unknown: there is nothing to check
    return source if checked else f"{source}, not checked in print"


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyData:
    """Safety data of one refrigerant. A number is None where it is unknown or has no meaning.

    `oils` lists the kinds that suit, `oils_limited` those that suit in some machines only.
    """

    name: str
    family: Family
    safety_class: str  # A1, A2L, A2 or A3
    boiling_point: float | None = None  # K, bubble point at 101.325 kPa
    lfl: float | None = None  # kg/m3, lower flammable limit
    lfl_volume: float | None = None  # volume fraction of the same
    rcl: float | None = None  # kg/m3, refrigerant concentration limit
    rcl_volume: float | None = None  # volume fraction of the same
    atel_odl: float | None = None  # kg/m3, toxicity or oxygen deprivation, whichever is lower
    burning_velocity: float | None = None  # m/s
    autoignition: float | None = None  # K
    gwp_ar4: float | None = None
    gwp_ar5: float | None = None
    gwp_ar6: float | None = None
    odp: float | None = None
    oils: tuple[str, ...] = ()
    oils_limited: tuple[str, ...] = ()
    charge_as: Literal["liquid", "either"] = "either"
    provenance: Mapping[str, Provenance] = field(default_factory=dict, repr=False)

    @property
    def flammable(self) -> bool:
        """Whether the safety class is anything but 1."""
        return not self.safety_class.endswith("1")

    @property
    def fluorinated(self) -> bool:
        """Whether the molecule carries fluorine: all but the hydrocarbons."""
        return self.family != "HC"

    @property
    def chlorinated(self) -> bool:
        """Whether the molecule carries chlorine."""
        return self.family in ("CFC", "HCFC")


def _entry(name: str, raw: Mapping[str, Any], sources: Mapping[str, str]) -> SafetyData:
    values: dict[str, Any] = {}
    provenance: dict[str, Provenance] = {}
    for key, cell in raw.items():
        if key == "family":
            continue
        target = next((ours for theirs, ours, _, _ in _NUMBERS if theirs == key), key)
        provenance[target] = Provenance(
            status=cell["status"],
            source=sources[cell["source"]] if "source" in cell else "",
            note=cell.get("note", ""),
            upper_bound=cell.get("below", False),
        )
    for theirs, ours, factor, offset in _NUMBERS:
        cell = raw.get(theirs, {})
        if "value" in cell:
            values[ours] = cell["value"] * factor + offset
    for word in _WORDS:
        values[word] = raw[word]["value"]
    for word in _LISTS:
        values[word] = tuple(raw[word]["value"]) if word in raw else ()
    burns = not values["safety_class"].endswith("1")
    for _, ours, _, _ in _NUMBERS:
        meaningless = ours in _FLAMES_ONLY and not burns
        status = "not applicable" if meaningless else "unknown"
        provenance.setdefault(ours, Provenance(status=status))
    return SafetyData(
        name=name, family=raw["family"], provenance=MappingProxyType(provenance), **values
    )


@functools.cache
def _all() -> Mapping[str, SafetyData]:
    text = files("sweatline.refrigerant").joinpath("safety.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    sources = raw.pop("sources")
    return MappingProxyType({name: _entry(name, row, sources) for name, row in raw.items()})


# Lowest printed flammable limits of the components of a mixture, IEC 60079-20-1:2010. [volume]
_LOWEST_LIMIT: Final = {"R-1270": 0.020, "R-290": 0.017, "R-600a": 0.013}
_MOLAR_MASS: Final = {"R-1270": 42.08e-3, "R-290": 44.10e-3, "R-600a": 58.12e-3}  # kg/mol
_MOLAR_VOLUME: Final = 24.30e-3  # m3/mol at 23 °C and 101.325 kPa


@functools.cache
def _mixture(name: str) -> SafetyData:
    """Safety data of a mixture of hydrocarbons that no standard lists, from its components.

    The flammable limit follows Le Chatelier's rule from the lowest printed limits, which is more
    cautious than the standards are with the pure components. The concentration limit is a quarter
    of it, or the toxicity limit by the same rule.
    """
    shares = hydrocarbon_shares(name)
    parts = {c: _all()[c] for c in shares}
    moles = {c: w / _MOLAR_MASS[c] for c, w in shares.items()}
    total = sum(moles.values())
    lfl_volume = total / sum(n / _LOWEST_LIMIT[c] for c, n in moles.items())
    density = 1.0 / (total * _MOLAR_VOLUME)
    toxic = 1.0 / sum(w / (parts[c].atel_odl or math.inf) for c, w in shares.items())
    rcl = min(0.25 * lfl_volume * density, toxic)

    def warming(report: str) -> float:
        return sum(w * (getattr(parts[c], report) or 0.0) for c, w in shares.items())

    rule = {
        "safety_class": "every component is A3",
        "lfl": "Le Chatelier's rule with the lowest printed limits of the components",
        "rcl": "a quarter of the flammable limit, or the toxicity limit by the same rule",
        "atel_odl": "from the limits of the components: their shares of them add up to one",
        "autoignition": "lowest of the components",
        "gwp_ar4": "mass-weighted from the components' values",
        "odp": "no component has any",
        "oils": "oils that suit every component",
        "charge_as": "a mixture changes when it is taken as vapour",
    }
    oils = ("MO", "AB", "POE", "PAG")
    same = {"lfl_volume": "lfl", "rcl_volume": "rcl", "gwp_ar5": "gwp_ar4", "gwp_ar6": "gwp_ar4"}
    computed = {key: Provenance(status="COMPUTED", source=text) for key, text in rule.items()}
    computed |= {key: computed[like] for key, like in same.items()}
    unknown = {key: Provenance(status="unknown") for key in ("boiling_point", "burning_velocity")}
    return SafetyData(
        name=name,
        family="HC",
        safety_class="A3",
        lfl=lfl_volume * density,
        lfl_volume=lfl_volume,
        rcl=rcl,
        rcl_volume=rcl / density,
        atel_odl=toxic,
        autoignition=min(part.autoignition or math.inf for part in parts.values()),
        gwp_ar4=warming("gwp_ar4"),
        gwp_ar5=warming("gwp_ar5"),
        gwp_ar6=warming("gwp_ar6"),
        odp=0.0,
        oils=tuple(oil for oil in oils if all(oil in part.oils for part in parts.values())),
        charge_as="liquid",
        provenance=MappingProxyType(computed | unknown),
    )


def known_names() -> tuple[str, ...]:
    """Names of all refrigerants with safety data."""
    return tuple(_all())


def safety_data(name: str) -> SafetyData:
    """Safety data of the refrigerant of this name, as :func:`~.names.find` returns it.

    Raises
    ------
    JobError
        No refrigerant of that name.
    """
    found = _all().get(name)
    if found is None and hydrocarbon_shares(name):
        return _mixture(name)
    if found is None:
        raise JobError(
            what="no safety data for a refrigerant of this name",
            read=name[:40],
            allowed="known: " + ", ".join(known_names()),
        )
    return found
