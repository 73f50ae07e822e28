"""One point of a refrigerant's saturation line, and one capillary tube between two pressures."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import sweatline
from sweatline.answers import Range
from sweatline.design.records import (
    CapillaryRecord,
    OpinionRecord,
    SaturatedRecord,
    SaturationRecord,
)
from sweatline.errors import JobError

if TYPE_CHECKING:
    from sweatline.parts.capillary_flow import CapillaryFlow
    from sweatline.refrigerant.refrigerant import Refrigerant, State

__all__ = ["atmosphere_at", "saturation_point", "tube"]

_NINE_TENTHS: Final = 1.645  # standard deviations either side of the mean


def atmosphere_at(altitude: float) -> float:
    """Atmospheric pressure, the zero of every gauge, at an altitude in metres. [Pa]"""
    from sweatline.job.defaults import atmospheric_pressure

    return atmospheric_pressure(altitude)


def saturation_point(
    name: str,
    *,
    pressure: float | None = None,
    temperature: float | None = None,
    atmosphere: float,
) -> SaturationRecord:
    """Bubble and dew of a refrigerant at a pressure or at a temperature.

    Parameters
    ----------
    pressure, temperature : float
        Exactly one of them. Absolute [Pa], [K]
    atmosphere : float
        Kept in the record for showing gauge pressures. [Pa]

    Raises
    ------
    JobError
        No such refrigerant.
    OutOfRange
        Outside the refrigerant's table.
    """
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.safety_data import safety_data

    fluid = load(name)
    if temperature is not None:
        at_bubble = fluid.saturation_pressure_bubble(temperature)
        at_dew = fluid.saturation_pressure_dew(temperature)
    elif pressure is not None:
        at_bubble = at_dew = pressure
    else:
        raise TypeError("saturation_point() needs a pressure or a temperature")
    bubble, dew = fluid.saturation_temperature(at_bubble)  # refuses what is outside the table
    return SaturationRecord(
        command="saturation",
        version=sweatline.__version__,
        refrigerant=fluid.name,
        safety_class=safety_data(fluid.name).safety_class,
        kind=fluid.kind,
        atmospheric_pressure_Pa=atmosphere,
        given="pressure" if temperature is None else "temperature",
        bubble=_saturated(fluid, at_bubble, vapour=False),
        dew=_saturated(fluid, at_dew, vapour=True),
        glide_K=max(dew - bubble, 0.0),
        latent_heat_J_per_kg=fluid.latent_heat(at_bubble),
    )


def _saturated(fluid: Refrigerant, pressure: float, *, vapour: bool) -> SaturatedRecord:
    from sweatline.refrigerant.table import saturation

    # One kernel gives it all; at a cold start each further one costs its loading.
    tb, td, hl, hg, vl, vg, _sl, _sg = saturation(fluid.table, pressure)
    return SaturatedRecord(
        pressure_Pa=pressure,
        temperature_K=td if vapour else tb,
        density_kg_per_m3=1.0 / (vg if vapour else vl),
        enthalpy_J_per_kg=hg if vapour else hl,
    )


def tube(
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
) -> CapillaryRecord:
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
    from sweatline.parts.capillary_flow import flow_through, length_for
    from sweatline.refrigerant.refrigerant import load

    fluid = load(name)
    if outlet_pressure >= inlet_pressure:
        raise JobError(
            what="the pressure behind the capillary must be below the pressure before it",
            field="--outlet-pressure",
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

    lengths: tuple[float, float] | None = None
    moved = wide.moved(bore_sd, roughness_sd)
    if length is not None:
        found = passes(wide, length)
    elif mass_flow is not None:
        found = cut(wide, mass_flow)
        if found.length <= 0.0:
            raise JobError(
                what="this bore cannot pass the wanted flow at any length",
                allowed="use a wider bore or ask for less flow",
                field="--flow",
            )
        others = [(cut(a, mass_flow).length, cut(b, mass_flow).length) for a, b in moved]
        lengths = _nine_tenths(found.length, others)
    else:
        raise TypeError("tube() needs a length or a mass flow")
    pairs = [(passes(a, found.length), passes(b, found.length)) for a, b in moved]

    def between(of: Callable[[CapillaryFlow], float]) -> tuple[float, float]:
        return _nine_tenths(of(found), [(of(low), of(high)) for low, high in pairs])

    flow = between(lambda f: f.mass_flow)
    end, liquid = between(lambda f: f.end_pressure), between(lambda f: f.liquid_length)
    return CapillaryRecord(
        command="capillary",
        version=sweatline.__version__,
        refrigerant=fluid.name,
        asked="flow" if length is not None else "length",
        atmospheric_pressure_Pa=atmosphere,
        bore_m=bore,
        length_m=found.length,
        length_low_m=lengths[0] if lengths is not None else None,
        length_high_m=lengths[1] if lengths is not None else None,
        mass_flow_kg_per_s=found.mass_flow,
        mass_flow_low_kg_per_s=flow[0],
        mass_flow_high_kg_per_s=flow[1],
        inlet_pressure_Pa=inlet_pressure,
        inlet_temperature_K=inlet.temperature,
        inlet_quality=inlet.quality,
        outlet_pressure_Pa=outlet_pressure,
        end_pressure_Pa=found.end_pressure,
        end_pressure_band_Pa=Range(low=end[0], middle=found.end_pressure, high=end[1]),
        choked=bool(found.choked),
        liquid_length_m=found.liquid_length,
        liquid_length_band_m=Range(low=liquid[0], middle=found.liquid_length, high=liquid[1]),
        roughness_m=roughness,
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
        from sweatline.assembly.parameters import MODELS

        model = MODELS["capillary flow"].sd

        def side(z: float) -> tuple[_Tube, _Tube, _Tube]:
            return (
                replace(self, multiplier=math.exp(z * model)),
                replace(self, bore=max(self.bore + z * bore_sd, 0.5 * self.bore)),
                replace(self, roughness=max(self.roughness + z * roughness_sd, 0.0)),
            )

        return list(zip(side(-1.0), side(1.0), strict=True))


def _nine_tenths(middle: float, pairs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Range about a positive answer from what it is with each number moved down and up."""
    if middle <= 0.0:
        return middle, middle
    steps = [
        0.5 * math.log(max(high, 1e-3 * middle) / max(low, 1e-3 * middle)) for low, high in pairs
    ]
    far = math.exp(_NINE_TENTHS * math.hypot(*steps))
    return middle / far, middle * far


def _inlet(fluid: Refrigerant, pressure: float, subcooling: float, quality: float | None) -> State:
    if quality is not None:
        return fluid.state(p=pressure, quality=quality)
    if subcooling <= 0.0:
        return fluid.state(p=pressure, quality=0.0)
    return fluid.state(p=pressure, T=fluid.saturation_temperature(pressure).bubble - subcooling)


def _opinions(
    fluid: Refrigerant, found: CapillaryFlow, inlet: State, outlet_pressure: float
) -> tuple[OpinionRecord, ...]:
    """The same tube by two correlations, each with whether its data covered such a tube."""
    from sweatline.parts.capillary_correlations import flow_hermes, flow_rp762

    subcooling = fluid.subcooling(p=inlet.pressure, T=inlet.temperature)
    liquid = inlet.quality <= 0.0 and subcooling > 0.0
    # Both are made for liquid that flashes on its way.
    flashes = fluid.saturation_pressure_bubble(inlet.temperature) > outlet_pressure

    def number(value: float) -> float | None:
        return value if math.isfinite(value) and value > 0.0 else None

    rp762 = None
    if liquid and flashes:
        rp762 = number(
            flow_rp762(
                fluid.table,
                bore=found.bore,
                length=found.length,
                inlet_pressure=inlet.pressure,
                inlet_temperature=inlet.temperature,
            )
        )
    covered = fluid.name in ("R-134a", "R-22", "R-410A") and 1.0 <= subcooling <= 16.0
    hermes = None
    if inlet.quality <= 0.0 and flashes:
        hermes = number(
            flow_hermes(
                fluid.table,
                bore=found.bore,
                length=found.length,
                inlet_pressure=inlet.pressure,
                inlet_temperature=inlet.temperature,
                outlet_pressure=outlet_pressure,
            )
        )
    small = fluid.name in ("R-134a", "R-600a") and found.bore <= 1.2e-3
    return (
        OpinionRecord(
            name="dimensionless correlation of Wolf, Bittle and Pate (1995)",
            mass_flow_kg_per_s=rp762,
            within_range=rp762 is not None and covered and found.choked,
            note="fitted to choked flow of R-134a, R-22 and R-410A with 1 to 16 K of subcooling",
        ),
        OpinionRecord(
            name="closed form of Hermes, Melo and Knabben (2010)",
            mass_flow_kg_per_s=hermes,
            within_range=hermes is not None and small,
            note="fitted to R-134a and R-600a; neglects inertia, low for bores above 1.2 mm",
        ),
    )
