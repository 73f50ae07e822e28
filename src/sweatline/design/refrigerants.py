"""Which refrigerants are known, and how well? What are bubble and dew of one of them?

The list is made without the property tables: importing their reader would bring the compiler along.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Annotated, Literal

from sweatline.answers import Answer, Q
from sweatline.refrigerant.names import table_file
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
    tables = files("sweatline.refrigerant") / "tables"
    found = []
    for name in known_names():
        d = safety_data(name)
        found.append(
            RefrigerantFacts(
                name=name,
                family=d.family,
                safety_class=d.safety_class,
                tabulated=(tables / table_file(name)).is_file(),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Saturated(Answer):
    """Boiling liquid or condensing vapour."""

    pressure: Annotated[float, Q("pressure")]
    temperature: Annotated[float, Q("temperature")]
    density: Annotated[float, Q("concentration")]
    enthalpy: Annotated[
        float,
        Q("ratio", "", "From the table's own zero; only differences count.", unit="J_per_kg"),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturationAnswer(Answer):
    """`sweatline saturation --json`: one point of the saturation line."""

    refrigerant: str
    safety_class: str
    kind: Literal["pure", "pseudo-pure", "mixture"]
    atmospheric_pressure: Annotated[float, Q("absolute pressure", "", "Zero of every gauge.")]
    given: Literal["pressure", "temperature"]
    bubble: Saturated
    """Subcooling is counted from here."""
    dew: Saturated
    """Superheat is counted from here."""
    glide: Annotated[
        float,
        Q(
            "temperature difference",
            "",
            "Dew minus bubble at the pressure given, else at the bubble pressure.",
        ),
    ]
    latent_heat: Annotated[float, Q("ratio", "", "At the same pressure.", unit="J_per_kg")]


def saturation(
    name: str,
    *,
    pressure: float | None = None,
    temperature: float | None = None,
    atmosphere: float,
) -> SaturationAnswer:
    """Bubble and dew of a refrigerant at a pressure or at a temperature.

    Parameters
    ----------
    pressure, temperature : float
        Exactly one of them. Absolute [Pa], [K]
    atmosphere : float
        Kept in the answer for showing gauge pressures. [Pa]

    Raises
    ------
    JobError
        No such refrigerant.
    OutOfRange
        Outside the refrigerant's table.
    """
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.table import saturation as saturated

    fluid = load(name)

    def point(pressure: float, *, vapour: bool) -> Saturated:
        # One kernel gives it all; at a cold start each further one costs its loading.
        tb, td, hl, hg, vl, vg, _sl, _sg = saturated(fluid.table, pressure)
        return Saturated(
            pressure=pressure,
            temperature=temperature if temperature is not None else td if vapour else tb,
            density=1.0 / (vg if vapour else vl),
            enthalpy=hg if vapour else hl,
        )

    if temperature is not None:
        at_bubble = fluid.saturation_pressure_bubble(temperature)
        at_dew = fluid.saturation_pressure_dew(temperature)
    elif pressure is not None:
        at_bubble = at_dew = pressure
    else:
        raise TypeError("saturation() needs a pressure or a temperature")
    bubble, dew = fluid.saturation_temperature(at_bubble)  # refuses what is outside the table
    return SaturationAnswer(
        refrigerant=fluid.name,
        safety_class=safety_data(fluid.name).safety_class,
        kind=fluid.kind,
        atmospheric_pressure=atmosphere,
        given="pressure" if temperature is None else "temperature",
        bubble=point(at_bubble, vapour=False),
        dew=point(at_dew, vapour=True),
        glide=max(dew - bubble, 0.0),
        latent_heat=fluid.latent_heat(at_bubble),
    )
