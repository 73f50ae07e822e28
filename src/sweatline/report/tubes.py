"""Capillary tubes in words: which length of which bore, and what one tube passes."""

from __future__ import annotations

from sweatline.design.capillary import CapillaryAnswer
from sweatline.design.metering import MeteringAnswer, StockCut
from sweatline.parts.capillary_flow import SHORTEST
from sweatline.report.sentences import between
from sweatline.units import Scale


def headline_of_metering(answer: MeteringAnswer) -> str:
    """What the lengths are for."""
    return f"Capillary for {answer.compressor} with {answer.refrigerant}"


def cut_line(c: StockCut, scale: Scale) -> str:
    """What to do with one tube, in a line."""
    cut = c.cut
    shelf = scale.show(c.on_the_shelf, "length")
    if cut.length is None or cut.start_length is None or cut.shortest is None:
        least = scale.show(SHORTEST, "length", 2)
        return f"too narrow: cannot pass the flow at a length of {least} or more"
    if c.fitted and c.on_the_shelf is not None:
        relation = "shorter" if c.on_the_shelf < cut.length else "longer"
        share = abs(c.on_the_shelf / cut.length - 1.0)
        inside = cut.shortest <= c.on_the_shelf <= cut.start_length
        fits = "within the likely range" if inside else "outside the likely range"
        return f"fitted, {shelf}: {100 * share:.0f} % {relation} than right, {fits}"
    if cut.too_short:
        right = scale.show(cut.length, "length")
        return f"too short for a capillary: {right} is right; take a wider bore"
    first = f"cut to {scale.show(cut.start_length, 'length')} first"
    if c.on_the_shelf is None:
        return f"{first}; the length on the shelf is not written in the job"
    if c.enough:
        return f"{first}; enough on the shelf, {shelf}"
    if c.on_the_shelf >= cut.length:
        return f"just enough: {shelf} on the shelf, with little to trim away"
    return f"not enough: {shelf} on the shelf, {scale.show(cut.length, 'length')} is right"


def cut_ends(c: StockCut, scale: Scale) -> str:
    """Between which lengths a tube ends up; a dash for one that cannot serve."""
    unit, (low, high) = scale.column([c.cut.shortest, c.cut.start_length], "length")
    return "-" if c.cut.shortest is None else f"{low} to {high} {unit}".rstrip()


def wanted_line(answer: MeteringAnswer, scale: Scale) -> str:
    """Flow and pressures that the lengths are for."""
    s, bands = answer.steady, answer.bands
    flow = scale.show(s.flow, "mass flow") + between(bands.get("flow_kg_per_s"), "mass flow", scale)
    liquid = scale.show(s.liquid_pressure, "pressure")
    liquid += between(bands.get("liquid_pressure_Pa"), "pressure", scale)
    evaporating = scale.show(s.evaporating_pressure, "pressure")
    evaporating += between(bands.get("evaporating_pressure_Pa"), "pressure", scale)
    subcooling = scale.show(s.subcooling, "temperature difference", 2)
    return f"Wanted: {flow} from {liquid} with {subcooling} of subcooling to {evaporating}."


def approach(answer: MeteringAnswer, scale: Scale) -> str:
    """How to come to the right length from the first cut."""
    superheat = scale.show(answer.job.target_superheat, "temperature difference", 2)
    return (
        'A capillary can be shortened, not lengthened. Cut to "cut first": 19 times in 20 it is '
        f"not too short. Charge until the superheat stands at {superheat} and read the subcooling. "
        "Too much of it: the tube is too tight, recover, shorten by one trim step or two, and try "
        "again. Flash gas before the tube or hardly any subcooling: the tube passes too much and "
        "must be replaced by a longer one."
    )


RANGE_OF_LENGTHS = (
    "The range is that of the tube (its model, its bore, its roughness) and of the flow "
    "and pressures the machine will want. A bore measured by the liquid it holds narrows it most."
)


def headline_of_capillary(answer: CapillaryAnswer, scale: Scale) -> str:
    """What one tube passes."""
    flow = scale.show(answer.mass_flow, "mass flow")
    flow += between(answer.mass_flow_band, "mass flow", scale)
    length = scale.show(answer.length, "length") + between(answer.length_band, "length", scale)
    bore = scale.show(answer.bore, "bore")
    return f"{length} of {bore} bore passes {flow} of {answer.refrigerant}."


def conditions_of_capillary(answer: CapillaryAnswer, scale: Scale) -> str:
    """Between which states, and what the ranges hold."""
    entering = "liquid"
    if answer.inlet_quality > 0.0:
        entering = f"{100 * answer.inlet_quality:.1f} % gas by mass"
    return (
        f"From {scale.show(answer.inlet_pressure, 'pressure')} and "
        f"{scale.show(answer.inlet_temperature, 'temperature')} "
        f"({entering}) to {scale.show(answer.outlet_pressure, 'pressure')}. In brackets: "
        "likely range (9 in 10) from the model, the bore and the roughness; pressures and "
        "subcooling are taken as given."
    )


def way_through(answer: CapillaryAnswer, scale: Scale) -> list[tuple[str, str]]:
    """Whether the flow chokes, and how far liquid runs."""
    choked = "no: the flow still answers to the pressure behind the tube"
    if answer.choked:
        end = scale.show(answer.end_pressure, "pressure")
        end += between(answer.end_pressure_band, "pressure", scale)
        choked = (
            f"yes: the pressure at the end of the tube is {end}, and a lower pressure behind "
            "it changes nothing"
        )
    liquid = scale.show(answer.liquid_length, "length")
    liquid += between(answer.liquid_length_band, "length", scale)
    return [("choked", choked), ("liquid", f"over the first {liquid}")]


def opinions(answer: CapillaryAnswer, scale: Scale) -> list[tuple[str, str]]:
    """The flow by other correlations, and what they are good for."""
    return [
        (
            scale.show(o.mass_flow, "mass flow"),
            f"{o.name}; {o.note}" + ("" if o.within_range else "; outside of that here"),
        )
        for o in answer.opinions
    ]
