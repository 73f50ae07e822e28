"""Refrigerant names as people write them, and the pressures that size their circuits."""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib import import_module
from typing import Final

from sweatline.errors import JobError
from sweatline.units import one_line

# Bubble pressure at 26.7 and 63 degrees Celsius [bar absolute], reference equations of state as
# implemented in CoolProp 8.0.0.
_DESIGN: Final[Mapping[str, tuple[float, float]]] = {
    "R-12": (6.81, 16.24),
    "R-22": (10.93, 25.89),
    "R-32": (17.68, 41.99),
    "R-134a": (7.00, 18.04),
    "R-152a": (6.27, 16.10),
    "R-290": (9.94, 22.50),
    "R-600a": (3.68, 9.31),
    "R-1270": (12.04, 26.85),
    "R-1234yf": (7.16, 17.56),
    "R-1234ze(E)": (5.25, 13.71),
    "R-404A": (13.12, 30.78),
    "R-407C": (12.46, 29.54),
    "R-410A": (17.34, 41.02),
    "R-448A": (13.49, 31.50),
    "R-454B": (16.57, 38.87),
    "R-454C": (12.30, 28.05),
    "R-455A": (14.44, 31.62),
    "R-513A": (7.45, 18.55),
}

REFRIGERANTS: Final = tuple(_DESIGN)

_COMMON: Final[Mapping[str, str]] = {
    "propane": "R-290",
    "isobutane": "R-600a",
    "propylene": "R-1270",
    "propene": "R-1270",
    "r1234ze": "R-1234ze(E)",
}

_PREFIX: Final = re.compile(r"^(?:hydrofluoroolefin|hcfc|cfc|hfc|hfo|hc|r)(?=\d)")


def _key(name: str) -> str:
    letters = "".join(c for c in name.casefold() if c.isalnum())
    return _PREFIX.sub("r", f"r{letters}" if letters[:1].isdigit() else letters)


_BY_KEY: Final[Mapping[str, str]] = {
    **{_key(name): name for name in REFRIGERANTS},
    **{_key(name): found for name, found in _COMMON.items()},
}


def canonical(name: str) -> str:
    """Name under which the project knows a refrigerant: ``r134A`` gives ``R-134a``.

    The names below are known without loading the property tables, so that a job is read fast;
    only a name that is not among them is looked for in the tables.

    Raises
    ------
    JobError
        No refrigerant of that name; the nearest names are offered.
    """
    key = _key(name)
    found = _BY_KEY.get(key)
    if found is not None:
        return found
    found = _in_tables(name)
    if found is not None:
        return found
    import difflib

    near = difflib.get_close_matches(key, list(_BY_KEY), n=3, cutoff=0.6)
    names = list(dict.fromkeys(_BY_KEY[n] for n in near)) or list(REFRIGERANTS)
    raise JobError(
        what="no refrigerant of this name",
        read=one_line(name[:40]),
        allowed=("nearest: " if near else "known: ") + ", ".join(names),
    )


def _in_tables(name: str) -> str | None:
    """Name of a refrigerant that only the property tables know."""
    try:
        tables = import_module("sweatline.refrigerant.refrigerant")
        return str(tables.find(name))
    except (ImportError, JobError):
        return None


def design_pressures(refrigerant: str) -> tuple[float, float]:
    """Saturation pressure of a refrigerant at 26.7 and at 63 degrees Celsius. [Pa]"""
    low, high = _DESIGN[refrigerant]
    return low * 1e5, high * 1e5
