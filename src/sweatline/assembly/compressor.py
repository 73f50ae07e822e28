"""A compressor's parameters from whatever is known of it: map, rating, displacement, plate."""

from __future__ import annotations

from sweatline.assembly.parameters import Sample
from sweatline.job.model import Compressor, CompressorMap, Rating
from sweatline.parts.compressor import (
    DEFAULTS,
    RATING_CONDITIONS,
    CompressorParameters,
    MapConvention,
    Operation,
    RatingCondition,
    displacement_from_rating,
    generic,
    operate,
    parameters_from_map,
)
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table
from sweatline.uncertainty.measured import Measured


def plate_power(compressor: Compressor) -> Measured | None:
    """Rated input of the motor, from the plate or from its rating point. [W]"""
    if compressor.rated_power is not None:
        return compressor.rated_power
    if compressor.rating is not None and compressor.rating.power is not None:
        return compressor.rating.power
    return None


def compressor_parameters(
    compressor: Compressor, frequency: float, sample: Sample, refrigerant: str
) -> CompressorParameters:
    """Parameters of a compressor from whatever is known of it: map, rating, displacement.

    A map is fitted with the physical form so that it carries to another refrigerant. A rating
    gives the displacement when that is unknown, and corrects the filling when it is known. The
    rated watts set the size of the motor's fixed loss.

    Parameters
    ----------
    frequency : float
        Of the mains. [Hz]
    refrigerant : str
        Name of the one it is to pump.
    """
    name, rating = compressor.name, compressor.rating
    usual = DEFAULTS[compressor.kind]
    if compressor.map is not None:
        found = _from_map(compressor, compressor.map, frequency)
    elif rating is not None:
        found = _from_rating(compressor, rating, frequency, sample)
    else:
        found = _from_displacement(compressor, frequency, sample)
    if compressor.map is None:  # a map tells the clearance
        key = ("compressor", name, "clearance")
        note = "re-expansion, by kind"
        clearance = sample.offset(key, found.clearance, usual.clearance_sd, note)
        moved = found._replace(clearance=max(clearance, 0.002))
        if rating is not None and moved != found:
            moved = _as_rated(rating, found, moved)
        found = moved
    key = ("compressor", name, "shell_loss")
    loss = sample.offset(key, found.shell_loss, usual.shell_loss_sd, "share lost from the shell")
    efficiency = 1.0
    if rating is None and compressor.map is None:
        key = ("compressor", name, "efficiency")
        sd = usual.overall_sd / usual.overall
        efficiency += sample.offset(key, 0.0, sd, "efficiency known by kind")
    power = sample.multiplier("compressor power")
    if refrigerant != _known_by(compressor):
        power *= sample.multiplier("other refrigerant")
    conductance = found.shell_conductance
    if found.oil_at_discharge < 0.5:
        # A rotary's oil sits in the discharge gas, whatever its shell passes to the air.
        conductance *= sample.multiplier("shell to air")
    return found._replace(
        shell_loss=min(max(loss, 0.02), 0.7),
        shell_conductance=conductance,
        proportional=min(max(found.proportional * efficiency, 0.2), 0.95),
        flow_multiplier=sample.multiplier("volumetric"),
        power_multiplier=power,
    )


def _from_map(compressor: Compressor, m: CompressorMap, frequency: float) -> CompressorParameters:
    found, _quality = parameters_from_map(
        load(m.refrigerant).table,
        compressor.kind,
        capacity_terms=m.capacity,
        power_terms=m.power,
        convention=MapConvention(
            suction=m.suction_temperature,
            superheat=m.superheat,
            subcooling=m.subcooling,
            evaporating_range=m.evaporating_range,
            condensing_range=m.condensing_range,
        ),
        frequency=frequency,
        map_frequency=m.frequency,
    )
    return found


def _from_rating(
    compressor: Compressor, rating: Rating, frequency: float, sample: Sample
) -> CompressorParameters:
    name = compressor.name
    capacity = sample.number(("compressor", name, "rated_capacity"), rating.capacity)
    power = rating.power
    rated = displacement_from_rating(
        load(rating.refrigerant).table,
        compressor.kind,
        capacity=capacity,
        frequency=compressor.rated_frequency,
        condition=_condition(rating),
        power=None if power is None else sample.number(("compressor", name, "rating_power"), power),
    )
    found = rated._replace(speed=frequency * (1.0 - DEFAULTS[compressor.kind].slip))
    if compressor.displacement is None:
        return found
    known = sample.number(("compressor", name, "displacement"), compressor.displacement)
    filling = rated.filling * rated.displacement / known
    return found._replace(displacement=known, filling=min(max(filling, 0.7), 1.0))


def _from_displacement(
    compressor: Compressor, frequency: float, sample: Sample
) -> CompressorParameters:
    name = compressor.name
    if compressor.displacement is None:
        raise ValueError("a compressor needs a displacement, a rating or a map")
    displacement = sample.number(("compressor", name, "displacement"), compressor.displacement)
    trial = generic(compressor.kind, displacement=displacement, frequency=frequency, fixed_loss=0.0)
    share = DEFAULTS[compressor.kind].fixed_share
    if compressor.rated_power is not None:
        plate = sample.number(("compressor", name, "rated_power"), compressor.rated_power)
        return trial._replace(fixed_loss=share * plate)
    # No watts on the plate: the motor is taken to suit the machine's own rating point.
    fluid = load(compressor.refrigerant or "R-134a").table
    run = _run(fluid, trial, RATING_CONDITIONS["ARI air-conditioning"])
    return trial._replace(fixed_loss=share * run.power * (1.0 - share) ** -1)


def _known_by(compressor: Compressor) -> str | None:
    """Refrigerant with which a compressor was mapped or rated, or for which it was made."""
    told = compressor.map if compressor.map is not None else compressor.rating
    return told.refrigerant if told is not None else compressor.refrigerant


def _as_rated(
    rating: Rating, before: CompressorParameters, moved: CompressorParameters
) -> CompressorParameters:
    """A compressor of another clearance that passes at its rating point what it was rated for."""
    table, condition = load(rating.refrigerant).table, _condition(rating)
    flow, after = (_run(table, c, condition).mass_flow for c in (before, moved))
    return moved._replace(filling=moved.filling * flow / after)


def _condition(rating: Rating) -> RatingCondition:
    return RatingCondition(
        name=rating.convention,
        evaporating=rating.evaporating_temperature,
        condensing=rating.condensing_temperature,
        suction=rating.suction_temperature,
        liquid=rating.liquid_temperature,
        status="as written in the job",
    )


def _run(table: Table, compressor: CompressorParameters, at: RatingCondition) -> Operation:
    return operate(
        table,
        compressor,
        evaporating=at.evaporating,
        condensing=at.condensing,
        suction=at.suction,
        liquid=at.liquid,
    )
