"""What flow does one capillary tube pass, or how long must it be?"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, Literal, NamedTuple

from sweatline.answers import Answer, Q, Range
from sweatline.constants import NINE_TENTHS
from sweatline.errors import JobError
from sweatline.parts.capillary_flow import (
    FLOW_SCATTER,
    SHORTEST,
    CapillaryFlow,
    flow_hermes,
    flow_rp762,
    flow_through,
    length_for,
)
from sweatline.refrigerant.refrigerant import Refrigerant, State, load
from sweatline.units import Kind


class Asked(NamedTuple):
    """A quantity that the question takes: its kind, and what is believable. [SI]"""

    label: str
    kind: Kind
    low: float | None = None
    high: float | None = None


ASKED: Final[Mapping[str, Asked]] = {
    "bore": Asked("bore", "bore", 0.1e-3, 6e-3),
    "length": Asked("length", "length", 0.01, 100.0),
    "mass_flow": Asked("flow", "mass flow", 1e-7, 1.0),
    "inlet_pressure": Asked("pressure before it", "pressure"),
    "subcooling": Asked("subcooling before it", "temperature difference", 0.0, 100.0),
    "quality": Asked("gas share before it", "ratio", 0.0, 1.0),
    "outlet_pressure": Asked("pressure behind it", "pressure"),
    "roughness": Asked("roughness", "roughness", 0.0, 50e-6),
    "bore_sd": Asked("error of the bore", "bore", 0.0, 1e-3),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Opinion(Answer):
    """The same tube by another correlation."""

    name: str
    mass_flow: Annotated[float | None, Q("mass flow")]
    within_range: bool
    """The correlation's data covered such a tube."""
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryAnswer(Answer):
    """`sweatline capillary --json`: one tube between two pressures."""

    refrigerant: str
    asked: Literal["flow", "length"]
    atmospheric_pressure: Annotated[float, Q("absolute pressure", "", "Zero of every gauge.")]
    bore: Annotated[float, Q("bore")]
    length: Annotated[float, Q("length")]
    length_band: Annotated[
        Range | None, Q("length", "", "For the wanted flow; null when a length was given.")
    ]
    mass_flow: Annotated[float, Q("mass flow")]
    mass_flow_band: Annotated[
        Range, Q("mass flow", "", "From the model's scatter, the bore and the roughness.")
    ]
    inlet_pressure: Annotated[float, Q("pressure")]
    inlet_temperature: Annotated[float, Q("temperature")]
    inlet_quality: float
    """Below 0 when subcooled."""
    outlet_pressure: Annotated[float, Q("pressure")]
    end_pressure: Annotated[float, Q("pressure", "", "In the tube's end.")]
    end_pressure_band: Annotated[Range, Q("pressure")]
    choked: bool
    liquid_length: Annotated[float, Q("length", "", "Until the liquid flashes.")]
    liquid_length_band: Annotated[Range, Q("length")]
    roughness: Annotated[float, Q("roughness")]
    metastable: bool
    opinions: tuple[Opinion, ...]
    notes: tuple[str, ...]


def capillary(
    name: str,
    *,
    bore: float,
    length: float | None = None,
    mass_flow: float | None = None,
    inlet_pressure: float,
    outlet_pressure: float,
    subcooling: float = 0.0,
    quality: float | None = None,
    roughness: float = 0.75e-6,
    bore_sd: float = 0.02e-3,
    roughness_sd: float = 0.4e-6,
    metastable: bool = False,
    atmosphere: float,
) -> CapillaryAnswer:
    """Flow of a capillary of known length, or the length for a wanted flow.

    Ranges are linearised in ln of the answer: the model, the bore and the roughness are moved one
    standard deviation up and down, each alone.

    Parameters
    ----------
    bore, bore_sd, length, roughness, roughness_sd : float
        [m]
    mass_flow : float
        Instead of a length. [kg/s]
    inlet_pressure, outlet_pressure, atmosphere : float
        Absolute. [Pa]
    subcooling : float
        Of the liquid before the entrance, against bubble. [K]
    quality : float
        Of what enters, instead of a subcooling. [-]

    Raises
    ------
    JobError
        No such refrigerant, pressures the wrong way round, or a bore that cannot pass the flow.
    OutOfRange
        Outside the refrigerant's table.
    """
    fluid = load(name)
    if outlet_pressure >= inlet_pressure:
        raise JobError(
            what="the pressure behind the capillary must be below the pressure before it",
            field="outlet_pressure",
        )
    inlet = _inlet(fluid, inlet_pressure, subcooling, quality)
    fluid.saturation_temperature(outlet_pressure)  # refuses what lies outside the table
    wide = _Tube(bore=bore, roughness=roughness, multiplier=1.0)
    ends: dict[str, Any] = {
        "inlet_pressure": inlet_pressure,
        "inlet_enthalpy": inlet.enthalpy,
        "outlet_pressure": outlet_pressure,
        "metastable": metastable,
    }

    def passes(t: _Tube, through: float) -> CapillaryFlow:
        found = flow_through(
            fluid.table, bore=t.bore, roughness=t.roughness, length=through, **ends
        )
        # The pressure at which a flow chokes goes with its flux.
        end = found.end_pressure * (t.multiplier if found.choked else 1.0)
        return replace(found, mass_flow=t.multiplier * found.mass_flow, end_pressure=end)

    def cut(t: _Tube, flow: float) -> CapillaryFlow:
        return length_for(
            fluid.table,
            bore=t.bore,
            roughness=t.roughness,
            mass_flow=flow,
            flow_multiplier=t.multiplier,
            **ends,
        )

    lengths: Range | None = None
    moved = wide.moved(bore_sd, roughness_sd)
    if length is not None:
        found = passes(wide, length)
    elif mass_flow is not None:
        found = cut(wide, mass_flow)
        if found.length < SHORTEST:
            raise JobError(
                what="this bore cannot pass the wanted flow at a length of 50 mm (2 in) or more",
                allowed="use a wider bore or ask for less flow",
                field="mass_flow",
            )
        others = [(cut(a, mass_flow).length, cut(b, mass_flow).length) for a, b in moved]
        lengths = _range(found.length, others)
    else:
        raise TypeError("capillary() needs a length or a mass flow")
    pairs = [(passes(a, found.length), passes(b, found.length)) for a, b in moved]

    def band(of: Callable[[CapillaryFlow], float]) -> Range:
        return _range(of(found), [(of(low), of(high)) for low, high in pairs])

    return CapillaryAnswer(
        refrigerant=fluid.name,
        asked="flow" if length is not None else "length",
        atmospheric_pressure=atmosphere,
        bore=bore,
        length=found.length,
        length_band=lengths,
        mass_flow=found.mass_flow,
        mass_flow_band=band(lambda f: f.mass_flow),
        inlet_pressure=inlet_pressure,
        inlet_temperature=inlet.temperature,
        inlet_quality=inlet.quality,
        outlet_pressure=outlet_pressure,
        end_pressure=found.end_pressure,
        end_pressure_band=band(lambda f: f.end_pressure),
        choked=bool(found.choked),
        liquid_length=found.liquid_length,
        liquid_length_band=band(lambda f: f.liquid_length),
        roughness=roughness,
        metastable=metastable,
        opinions=_opinions(fluid, found, inlet, outlet_pressure),
        notes=found.notes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tube:
    """What is uncertain about one tube."""

    bore: float  # m
    roughness: float  # m
    multiplier: float  # of the model's flow

    def moved(self, bore_sd: float, roughness_sd: float) -> list[tuple[_Tube, _Tube]]:
        """Pairs with one number a standard deviation down and up."""

        def side(z: float) -> tuple[_Tube, _Tube, _Tube]:
            return (
                replace(self, multiplier=math.exp(z * FLOW_SCATTER)),
                replace(self, bore=max(self.bore + z * bore_sd, 0.5 * self.bore)),
                replace(self, roughness=max(self.roughness + z * roughness_sd, 0.0)),
            )

        return list(zip(side(-1.0), side(1.0), strict=True))


def _range(middle: float, pairs: Sequence[tuple[float, float]]) -> Range:
    """Likely range about a positive answer, from what it is with each number moved down and up."""
    if middle <= 0.0:
        return Range(low=middle, middle=middle, high=middle)
    steps = [
        0.5 * math.log(max(high, 1e-3 * middle) / max(low, 1e-3 * middle)) for low, high in pairs
    ]
    far = math.exp(NINE_TENTHS * math.hypot(*steps))
    return Range(low=middle / far, middle=middle, high=middle * far)


def _inlet(fluid: Refrigerant, pressure: float, subcooling: float, quality: float | None) -> State:
    if quality is not None:
        return fluid.state(p=pressure, quality=quality)
    if subcooling <= 0.0:
        return fluid.state(p=pressure, quality=0.0)
    return fluid.state(p=pressure, T=fluid.saturation_temperature(pressure).bubble - subcooling)


def _opinions(
    fluid: Refrigerant, found: CapillaryFlow, inlet: State, outlet_pressure: float
) -> tuple[Opinion, ...]:
    """The same tube by two correlations, each with whether its data covered such a tube."""
    subcooling = fluid.subcooling(p=inlet.pressure, T=inlet.temperature)
    liquid = inlet.quality <= 0.0 and subcooling > 0.0
    # Both are made for liquid that flashes on its way.
    flashes = fluid.saturation_pressure_bubble(inlet.temperature) > outlet_pressure

    def number(value: float) -> float | None:
        return value if math.isfinite(value) and value > 0.0 else None

    tube = {
        "bore": found.bore,
        "length": found.length,
        "inlet_pressure": inlet.pressure,
        "inlet_temperature": inlet.temperature,
    }
    rp762 = hermes = None
    if liquid and flashes:
        rp762 = number(flow_rp762(fluid.table, **tube))
    if inlet.quality <= 0.0 and flashes:
        hermes = number(flow_hermes(fluid.table, **tube, outlet_pressure=outlet_pressure))
    covered = fluid.name in ("R-134a", "R-22", "R-410A") and 1.0 <= subcooling <= 16.0
    small = fluid.name in ("R-134a", "R-600a") and found.bore <= 1.2e-3
    return (
        Opinion(
            name="dimensionless correlation of Wolf, Bittle and Pate (1995)",
            mass_flow=rp762,
            within_range=rp762 is not None and covered and found.choked,
            note="fitted to choked flow of R-134a, R-22 and R-410A with 1 to 16 K of subcooling",
        ),
        Opinion(
            name="closed form of Hermes, Melo and Knabben (2010)",
            mass_flow=hermes,
            within_range=hermes is not None and small,
            note="fitted to R-134a and R-600a; neglects inertia, low for bores above 1.2 mm",
        ),
    )
