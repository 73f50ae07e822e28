"""Names of refrigerants, however people write them; read without the property tables."""

from __future__ import annotations

import functools
import re
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
    "R-448A",
    "R-454B",
    "R-454C",
    "R-455A",
    "R-513A",
    "R-600a",
    "R-1234yf",
    "R-1234ze(E)",
    "R-1270",
)

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

    "r152a", "R-152A", "HFC-152a", "R 152 a" and "difluoroethane" are all R-152a.

    Raises
    ------
    JobError
        No such refrigerant; the nearest names are listed.
    """
    spellings = _spellings()
    plain = _plain(name)
    if plain in spellings:
        return spellings[plain]
    import difflib  # only a mistake pays for it

    near = difflib.get_close_matches(plain, spellings, n=4, cutoff=0.5)
    nearest = list(dict.fromkeys(spellings[key] for key in near))
    raise JobError(
        what="no such refrigerant",
        read=name,
        field="refrigerant",
        allowed=(f"nearest: {', '.join(nearest)}" if nearest else f"known: {', '.join(NAMES)}"),
    )
