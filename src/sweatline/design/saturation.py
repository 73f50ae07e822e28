"""What are bubble and dew of a refrigerant? One point of its saturation line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.answers import Answer, Q
from sweatline.refrigerant.refrigerant import Refrigerant, load
from sweatline.refrigerant.safety_data import safety_data
from sweatline.refrigerant.table import saturation as saturated


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
    fluid = load(name)
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
        bubble=_saturated(fluid, at_bubble, vapour=False),
        dew=_saturated(fluid, at_dew, vapour=True),
        glide=max(dew - bubble, 0.0),
        latent_heat=fluid.latent_heat(at_bubble),
    )


def _saturated(fluid: Refrigerant, pressure: float, *, vapour: bool) -> Saturated:
    # One kernel gives it all; at a cold start each further one costs its loading.
    tb, td, hl, hg, vl, vg, _sl, _sg = saturated(fluid.table, pressure)
    return Saturated(
        pressure=pressure,
        temperature=td if vapour else tb,
        density=1.0 / (vg if vapour else vl),
        enthalpy=hg if vapour else hl,
    )
