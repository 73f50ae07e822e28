"""Names of refrigerants, however people write them; read without the property tables."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from typing import Final

from sweatline.errors import JobError

NAMES: Final = (
    "R-12",
    "R-22",
    "R-32",
    "R-134a",
    "R-152a",
    "R-290",
    "R-404A",
    "R-407C",
    "R-410A",
    "R-417A",
    "R-422B",
    "R-422D",
    "R-427A",
    "R-436A",
    "R-436B",
    "R-448A",
    "R-449A",
    "R-450A",
    "R-452A",
    "R-454B",
    "R-454C",
    "R-455A",
    "R-500",
    "R-507A",
    "R-513A",
    "R-600a",
    "R-1234yf",
    "R-1234ze(E)",
    "R-1270",
)

# Mixtures of propylene, propane and isobutane have one table for all; mass shares after ASHRAE 34.
_NAMED_MIXTURES: Final[Mapping[str, Mapping[str, float]]] = {
    "R-436A": {"R-290": 0.56, "R-600a": 0.44},
    "R-436B": {"R-290": 0.52, "R-600a": 0.48},
}
COMPONENTS: Final = ("R-1270", "R-290", "R-600a")  # as boiling points rise

# Blends that workshops know, and the pair in each for which no checked equation is at hand.
_WITHOUT_EQUATION: Final[Mapping[str, str]] = {
    "R-401A": "R-22 with R-124",
    "R-401B": "R-22 with R-124",
    "R-402A": "R-22 with R-125",
    "R-402B": "R-22 with R-125",
    "R-403B": "propane with R-218",
    "R-406A": "R-22 with isobutane",
    "R-408A": "R-22 with R-125",
    "R-409A": "R-22 with R-124",
    "R-409B": "R-22 with R-124",
    "R-413A": "R-218 with isobutane",
    "R-414A": "R-22 with R-124",
    "R-414B": "R-22 with R-124",
    "R-416A": "R-124 with butane",
    "R-424A": "R-125 with isopentane",
    "R-426A": "R-125 with isopentane",
    "R-437A": "R-125 with pentane",
    "R-438A": "R-125 with isopentane",
    "R-453A": "R-125 with isopentane",
    "R-502": "R-115, of which no viscosity is known",
}

_CHEMICAL_NAMES: Final = {
    "dichlorodifluoromethane": "R-12",
    "chlorodifluoromethane": "R-22",
    "difluoromethane": "R-32",
    "tetrafluoroethane": "R-134a",
    "difluoroethane": "R-152a",
    "propane": "R-290",
    "isobutane": "R-600a",
    "propylene": "R-1270",
    "propene": "R-1270",
    "1234ze": "R-1234ze(E)",
}
_PREFIX: Final = re.compile(r"^(?:refrigerant|hydrofluoroolefin|hcfc|cfc|hfc|hfo|hc|r)?(?=\d)")


def _plain(name: str) -> str:
    return _PREFIX.sub("", "".join(c for c in name.casefold() if c.isalnum()))


@functools.cache
def _spellings() -> dict[str, str]:
    return {_plain(name): name for name in NAMES} | _CHEMICAL_NAMES


def find(name: str) -> str:
    """The name used here of a refrigerant written in any usual way.

    "r152a", "R-152A", "HFC-152a", "R 152 a" and "difluoroethane" are all R-152a. A mixture of
    propylene, propane and isobutane is written by mass, as "R-290/R-600a 60/40" or
    "propane/isobutane 60/40"; it is named with the lightest first.

    Raises
    ------
    JobError
        No such refrigerant, and the nearest names are listed; a blend without a checked
        equation; a mixture that does not add up to 100 or has another component.
    """
    if "/" in name:
        return _mixture(name)
    spellings = _spellings()
    plain = _plain(name)
    if plain in spellings:
        return spellings[plain]
    unknown = {_plain(blend): blend for blend in _WITHOUT_EQUATION}
    if plain in unknown:
        blend = unknown[plain]
        raise JobError(
            what=f"{blend} cannot be calculated: no equation checked against measurements is at "
            f"hand for {_WITHOUT_EQUATION[blend]}",
            read=name,
            field="refrigerant",
            allowed="use the pressure-temperature card of its maker, or choose another refrigerant",
        )
    import difflib  # only a mistake pays for it

    near = difflib.get_close_matches(plain, spellings, n=4, cutoff=0.5)
    nearest = list(dict.fromkeys(spellings[key] for key in near))
    raise JobError(
        what="no such refrigerant",
        read=name,
        field="refrigerant",
        allowed=(f"nearest: {', '.join(nearest)}" if nearest else f"known: {', '.join(NAMES)}"),
    )


def _mixture(name: str) -> str:
    """The name of a hydrocarbon mixture: components as boiling points rise, per cent by mass."""
    what = None
    written = re.fullmatch(r"\s*(\D.*?)[\s(]+([\d./\s]+?)\s*%?\s*\)?\s*", name)
    parts = [part.strip() for part in written[1].split("/")] if written else []
    numbers = [text.strip() for text in written[2].split("/")] if written else []
    shares: dict[str, float] = {}
    if len(parts) < 2 or len(parts) != len(numbers):
        what = "a mixture needs a share by mass for each of its components"
    elif not all(re.fullmatch(r"\d+(\.\d*)?", text) for text in numbers):
        what = "a share of a mixture is a plain number"
    else:
        for part, text in zip(parts, numbers, strict=True):
            component = _spellings().get(_plain(part), part)
            if component not in COMPONENTS:
                what = f"mixtures of {component} cannot be calculated"
            elif component in shares:
                what = f"{component} stands twice in the mixture"
            shares[component] = float(text)
        if what is None and not min(shares.values()) >= 0.1:
            what = "a share of a mixture is at least 0.1 %"
        if what is None and not abs(sum(shares.values()) - 100.0) <= 0.1 + 1e-9:
            what = "the shares of a mixture do not add up to 100"
    if what is not None:
        raise JobError(
            what=what,
            read=name,
            field="refrigerant",
            allowed="mass shares of propane (R-290), isobutane (R-600a) and propylene (R-1270), "
            'as "R-290/R-600a 60/40"',
        )
    here = [component for component in COMPONENTS if component in shares]
    return f"{'/'.join(here)} {'/'.join(f'{shares[c]:g}' for c in here)}"


def hydrocarbon_shares(name: str) -> dict[str, float]:
    """Mass shares of a mixture of propylene, propane and isobutane; empty for all others.

    Parameters
    ----------
    name : str
        As `find` returns it.
    """
    if name in _NAMED_MIXTURES:
        return dict(_NAMED_MIXTURES[name])
    if "/" not in name:
        return {}
    parts, numbers = (text.split("/") for text in name.split(" "))
    total = sum(map(float, numbers))
    return {part: float(n) / total for part, n in zip(parts, numbers, strict=True)}


def table_file(name: str) -> str:
    """File of the property table of a refrigerant, by the name that `find` returns."""
    return "hydrocarbons.npz" if hydrocarbon_shares(name) else f"{name}.npz"
