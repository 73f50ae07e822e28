"""Which refrigerants are known, and how well?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Annotated

from sweatline.answers import Answer, Q
from sweatline.refrigerant.safety_data import known_names, safety_data, unchecked


@dataclass(frozen=True, slots=True, kw_only=True)
class RefrigerantFacts(Answer):
    """What is known about one refrigerant; statuses say how well."""

    name: str
    family: str
    safety_class: str
    tabulated: bool
    """Its property table is installed."""
    boiling_point: Annotated[float | None, Q("temperature", "", "At 101.325 kPa; of the bubble.")]
    lower_flammable_limit: Annotated[float | None, Q("concentration")]
    concentration_limit: Annotated[float | None, Q("concentration")]
    gwp_ar4: float | None
    gwp_ar5: float | None
    gwp_ar6: float | None
    odp: float | None
    oils: tuple[str, ...]
    oils_limited: tuple[str, ...]
    charge_as: str
    status: Mapping[str, str]
    """Of each value: PUBLISHED, MEMORY with its confidence, COMPUTED, CONFLICT, unknown."""

    def in_doubt(self, key: str) -> bool:
        """Whether a value is known, but not checked in print."""
        status = self.status.get(key, "unknown")
        return status != "unknown" and unchecked(status)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefrigerantsAnswer(Answer):
    """`sweatline refrigerants --json`."""

    refrigerants: tuple[RefrigerantFacts, ...]


def refrigerants() -> RefrigerantsAnswer:
    """All refrigerants with safety data."""
    # Looked for by name: importing the reader of tables would bring the compiler along.
    tables = files("sweatline.refrigerant") / "tables"
    found = []
    for name in known_names():
        d = safety_data(name)
        found.append(
            RefrigerantFacts(
                name=name,
                family=d.family,
                safety_class=d.safety_class,
                tabulated=(tables / f"{name}.npz").is_file(),
                boiling_point=d.boiling_point,
                lower_flammable_limit=d.lfl,
                concentration_limit=d.rcl,
                gwp_ar4=d.gwp_ar4,
                gwp_ar5=d.gwp_ar5,
                gwp_ar6=d.gwp_ar6,
                odp=d.odp,
                oils=d.oils,
                oils_limited=d.oils_limited,
                charge_as=d.charge_as,
                status={key: p.status for key, p in d.provenance.items()},
            )
        )
    return RefrigerantsAnswer(refrigerants=tuple(found))
