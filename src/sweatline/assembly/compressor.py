"""A compressor's numbers from whatever is known of it: map, rating, displacement, plate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sweatline.uncertainty.measured import Measured

if TYPE_CHECKING:
    from sweatline.assembly.parameters import Sample
    from sweatline.job.model import Compressor, Rating
    from sweatline.parts.compressor import CompressorParameters

__all__ = ["compressor_parameters", "plate_power"]


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
    """Numbers of a compressor from whatever is known of it: map, rating, displacement.

    A map is fitted with the physical form so that it carries to another refrigerant. A rating
    gives the displacement when that is unknown, and corrects the filling when it is known. The
    rated watts set the size of the motor's fixed loss.
    """
    from sweatline.parts.compressor import (
        DEFAULTS,
        RATING_CONDITIONS,
        MapConvention,
        RatingCondition,
        displacement_from_rating,
        generic,
        operate,
        parameters_from_map,
    )
    from sweatline.refrigerant.refrigerant import load

    name = compressor.name
    d = DEFAULTS[compressor.kind]
    if compressor.map is not None:
        m = compressor.map
        numbers, _quality = parameters_from_map(
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
    elif compressor.rating is not None:
        r = compressor.rating
        table = load(r.refrigerant).table
        condition = RatingCondition(
            name=r.convention,
            evaporating=r.evaporating_temperature,
            condensing=r.condensing_temperature,
            suction=r.suction_temperature,
            liquid=r.liquid_temperature,
            status="as written in the job",
        )
        rated = displacement_from_rating(
            table,
            compressor.kind,
            capacity=sample.number(("compressor", name, "rated_capacity"), r.capacity),
            frequency=compressor.rated_frequency,
            condition=condition,
            power=sample.number(("compressor", name, "rating_power"), r.power)
            if r.power is not None
            else None,
        )
        numbers = rated._replace(speed=frequency * (1.0 - d.slip))
        if compressor.displacement is not None:
            known = sample.number(("compressor", name, "displacement"), compressor.displacement)
            filling = rated.filling * rated.displacement / known
            numbers = numbers._replace(displacement=known, filling=min(max(filling, 0.7), 1.0))
    else:
        if compressor.displacement is None:
            raise ValueError("a compressor needs a displacement, a rating or a map")
        displacement = sample.number(("compressor", name, "displacement"), compressor.displacement)
        trial = generic(
            compressor.kind, displacement=displacement, frequency=frequency, fixed_loss=0.0
        )
        plate = compressor.rated_power
        if plate is not None:
            fixed = d.fixed_share * sample.number(("compressor", name, "rated_power"), plate)
        else:
            # No watts on the plate: the motor is taken to suit the machine's own rating point.
            c = RATING_CONDITIONS["ARI air-conditioning"]
            fluid = load(compressor.refrigerant or "R-134a").table
            run = operate(
                fluid,
                trial,
                evaporating=c.evaporating,
                condensing=c.condensing,
                suction=c.suction,
                liquid=c.liquid,
            )
            fixed = d.fixed_share * run.power * (1.0 - d.fixed_share) ** -1
        numbers = trial._replace(fixed_loss=fixed)
    if compressor.map is None:  # a map tells the clearance
        clearance = sample.offset(
            ("compressor", name, "clearance"),
            numbers.clearance,
            d.clearance_sd,
            "re-expansion, by kind",
        )
        moved = numbers._replace(clearance=max(clearance, 0.002))
        if compressor.rating is not None and moved != numbers:
            moved = _as_rated(compressor.rating, numbers, moved)
        numbers = moved
    loss = sample.offset(
        ("compressor", name, "shell_loss"),
        numbers.shell_loss,
        d.shell_loss_sd,
        "share lost from the shell",
    )
    spread = 1.0
    if compressor.rating is None and compressor.map is None:
        spread = 1.0 + sample.offset(
            ("compressor", name, "efficiency"),
            0.0,
            d.overall_sd / d.overall,
            "efficiency known by kind",
        )
    power = sample.multiplier("compressor power")
    if refrigerant != _known_by(compressor):
        power *= sample.multiplier("other refrigerant")
    return numbers._replace(
        shell_loss=min(max(loss, 0.02), 0.7),
        # A rotary's oil sits in the discharge gas, whatever its shell passes to the air.
        shell_conductance=numbers.shell_conductance * sample.multiplier("shell to air")
        if numbers.oil_at_discharge < 0.5
        else numbers.shell_conductance,
        proportional=min(max(numbers.proportional * spread, 0.2), 0.95),
        flow_multiplier=sample.multiplier("volumetric"),
        power_multiplier=power,
    )


def _known_by(compressor: Compressor) -> str | None:
    """Refrigerant with which a compressor was mapped or rated, or for which it was made."""
    told = compressor.map if compressor.map is not None else compressor.rating
    return told.refrigerant if told is not None else compressor.refrigerant


def _as_rated(
    rating: Rating, numbers: CompressorParameters, moved: CompressorParameters
) -> CompressorParameters:
    """A compressor of another clearance that passes at its rating point what it was rated for."""
    from sweatline.parts.compressor import operate
    from sweatline.refrigerant.refrigerant import load

    table = load(rating.refrigerant).table
    before, after = (
        operate(
            table,
            c,
            evaporating=rating.evaporating_temperature,
            condensing=rating.condensing_temperature,
            suction=rating.suction_temperature,
            liquid=rating.liquid_temperature,
        ).mass_flow
        for c in (numbers, moved)
    )
    return moved._replace(filling=moved.filling * before / after)
