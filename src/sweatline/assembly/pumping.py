"""Parameters of a compressor from what is known of it: map, rating points, displacement, plate.

What is fitted is fitted once for a compressor and then moved with each sample.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple

from sweatline.assembly.parameters import Sample
from sweatline.assembly.plate import input_on_plate, known_by_plate
from sweatline.constants import ZERO_CELSIUS
from sweatline.job.explanation import KnownCompressor
from sweatline.job.model import Compressor, CompressorMap, Job, Rating, Standing
from sweatline.parts.compressor import (
    COMMERCIAL_LOW_TEMPERATURE,
    DEFAULTS,
    HIGH_PRESSURE,
    HOUSEHOLD_LOW_TEMPERATURE,
    MEDIUM_PRESSURE,
    RATING_CONDITIONS,
    CompressorParameters,
    Kind,
    KindDefaults,
    MapConvention,
    Operation,
    RatingCondition,
    displacement_from_rating,
    generic,
    in_usual_shell,
    operate,
    parameters_from_map,
)
from sweatline.parts.compressor_shell import IN_THE_STREAM, NOT_STATED, STANDING
from sweatline.parts.compressor_table import (
    FILLING_SD,
    FittedTable,
    RatedPoint,
    parameters_from_points,
)
from sweatline.refrigerant.names import hydrocarbon_shares
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table, enthalpy_vapour, state
from sweatline.units import Scale

# A low-temperature compressor is rated at -10 °F (-23.3 °C) or below, a person may write -23. With
# a refrigerant that refrigerators and freezers hold it is taken as made for one of them.
_LOW_TEMPERATURE: Final = ZERO_CELSIUS - 22.5
_WARM: Final = ZERO_CELSIUS + 40.0
_PARTED: Final = 12e5  # Pa at that dew temperature, between R-134a (10.2) and R-290 (13.7)
_HOUSEHOLD: Final = frozenset(
    {"R-12", "R-134a", "R-152a", "R-290", "R-450A", "R-500", "R-600a", "R-1270", "R-1234yf"}
    | {"R-1234ze(E)", "R-513A"}
)


_SHELLS: Final = {
    "unknown": NOT_STATED,
    "outside": STANDING,
    "between": IN_THE_STREAM,
    "after": IN_THE_STREAM,
}


# Fixed loss over the size of a motor at its shaft. Thirteen welded machines of 1/2 to 1 3/4 hp draw
# 1100 to 2200 W a horsepower at their rating point, a quarter of it fixed; household ones some 800
# (MEMORY 0.5) with as large a share.
_LOSS_OF_SIZE: Final = 0.4
_LOSS_OF_SIZE_SD: Final = 0.3  # relative


@functools.lru_cache(maxsize=256)
def usual_of(compressor: Compressor) -> KindDefaults:
    """What is assumed of a compressor where nothing it says tells better."""
    known_by = _known_by(compressor)
    if compressor.kind != "reciprocating" or known_by is None:
        return DEFAULTS[compressor.kind]
    if _at_low_temperature(compressor):
        household = _for_a_household(known_by)
        return HOUSEHOLD_LOW_TEMPERATURE if household else COMMERCIAL_LOW_TEMPERATURE
    high = load(known_by).saturation_pressure_dew(_WARM) > _PARTED
    return HIGH_PRESSURE if high else MEDIUM_PRESSURE


def _at_low_temperature(compressor: Compressor) -> bool:
    """Whether it was made for it, by its rating points or else by its plate."""
    if compressor.ratings:
        return any(p.evaporating_temperature <= _LOW_TEMPERATURE for p in compressor.ratings)
    return compressor.application == "LBP"


def _for_a_household(refrigerant: str) -> bool:
    """Whether refrigerators and freezers hold it."""
    return refrigerant in _HOUSEHOLD or bool(hydrocarbon_shares(refrigerant))


def _usual_rating(compressor: Compressor) -> RatingCondition:
    """Where such machines are rated."""
    if _at_low_temperature(compressor):
        household = _for_a_household(compressor.refrigerant or "R-134a")
        return RATING_CONDITIONS["ASHRAE LBP" if household else "commercial LBP"]
    warm = "commercial MBP" if compressor.application == "MBP" else "ARI air-conditioning"
    return RATING_CONDITIONS[warm]


def compressor_parameters(
    compressor: Compressor,
    frequency: float,
    sample: Sample,
    refrigerant: str,
    standing: Standing = "unknown",
) -> CompressorParameters:
    """Parameters of a compressor from whatever is known of it: map, rating points, displacement.

    A map or several points are fitted with the physical form so that they carry to another
    refrigerant. One point gives the displacement when that is unknown, and clearance and filling
    when it is known. The rated watts set the size of the motor's fixed loss. Where the plate is all
    there is, the cylinder is as large as its watts drive at the usual rating point.

    Parameters
    ----------
    frequency : float
        Of the mains. [Hz]
    refrigerant : str
        Name of the one it is to pump.
    standing : str
        Where it stands to the machine's air.
    """
    name, rating = compressor.name, compressor.rating
    usual = usual_of(compressor)
    clearance_sd = usual.clearance_sd
    if compressor.map is not None:
        found = _from_map(compressor, compressor.map, frequency)
    elif len(compressor.ratings) > 1 or (rating and compressor.displacement):
        found = _from_points(compressor, frequency, sample)
        clearance_sd = fitted(compressor).clearance_sd
        rating = compressor.ratings[len(compressor.ratings) // 2]
    elif rating is not None:
        found = _from_rating(compressor, rating, frequency, sample)
    else:
        found = _from_kind(compressor, frequency, sample)
    if compressor.map is None:  # a map tells the clearance
        key = ("compressor", name, "clearance")
        note = "re-expansion, by kind"
        clearance = sample.offset(key, found.clearance, clearance_sd, note)
        moved = found._replace(clearance=max(clearance, 0.002))
        if rating is not None and moved != found:
            moved = _as_rated(rating, found, moved)
        found = moved
    efficiency = 1.0
    if rating is None and compressor.map is None:
        key = ("compressor", name, "efficiency")
        sd = usual.overall_sd / usual.overall
        efficiency += sample.offset(key, 0.0, sd, "efficiency known by kind")
    found = found._replace(proportional=min(max(found.proportional * efficiency, 0.2), 0.95))
    if known_by_plate(compressor):
        found = _driven_by(compressor, found, input_on_plate(compressor, sample))
    power = sample.multiplier("compressor power")
    if refrigerant != _known_by(compressor):
        power *= sample.multiplier("other refrigerant")
    found = in_usual_shell(found, _SHELLS[standing])
    tube = found.discharge_tube
    if found.oil_at_discharge < 0.5:  # discharge gas fills the shell of a rotary
        tube *= sample.multiplier("discharge tube")
    return found._replace(
        shell_conductance=found.shell_conductance * sample.multiplier("shell to air"),
        discharge_tube=tube,
        flow_multiplier=sample.multiplier("volumetric"),
        power_multiplier=power,
    )


def _from_map(compressor: Compressor, m: CompressorMap, frequency: float) -> CompressorParameters:
    found, _quality = _of_map(compressor.kind, m)
    return found._replace(speed=found.speed * frequency / m.frequency)


@functools.lru_cache(maxsize=256)
def _of_map(kind: Kind, m: CompressorMap) -> tuple[CompressorParameters, dict[str, float]]:
    """Parameters at the map's own frequency, and how well they meet it."""
    return parameters_from_map(
        load(m.refrigerant).table,
        kind,
        capacity_terms=m.capacity,
        power_terms=m.power,
        convention=MapConvention(
            suction=m.suction_temperature,
            superheat=m.superheat,
            subcooling=m.subcooling,
            evaporating_range=m.evaporating_range,
            condensing_range=m.condensing_range,
        ),
        frequency=m.frequency,
        map_frequency=m.frequency,
    )


@functools.lru_cache(maxsize=256)
def fitted(compressor: Compressor) -> FittedTable:
    """What the rating points of a compressor, and its displacement if known, say of it.

    At the frequency of its plate.
    """
    first = compressor.ratings[0]
    known = compressor.displacement
    return parameters_from_points(
        load(first.refrigerant).table,
        compressor.kind,
        [
            RatedPoint(
                condition=_condition(point),
                capacity=point.capacity.value,
                power=None if point.power is None else point.power.value,
                mass_flow=None if point.mass_flow is None else point.mass_flow.value,
            )
            for point in compressor.ratings
        ],
        usual=usual_of(compressor),
        frequency=compressor.rated_frequency,
        displacement=None if known is None else known.value,
    )


@functools.lru_cache(maxsize=256)
def _clearance_slope(compressor: Compressor) -> float:
    """Change of the fitted clearance with the logarithm of a displacement that is known."""
    known, step = compressor.displacement, 0.02
    assert known is not None
    larger = replace(known, value=known.value * math.exp(step))
    moved = fitted(replace(compressor, displacement=larger)).parameters.clearance
    return (moved - fitted(compressor).parameters.clearance) / step


def _from_points(compressor: Compressor, frequency: float, sample: Sample) -> CompressorParameters:
    """The fitted numbers; one point is as uncertain as its maker's tolerance, a table is not."""
    found = fitted(compressor).parameters
    found = found._replace(speed=found.speed * frequency / compressor.rated_frequency)
    name, rating = compressor.name, compressor.ratings[0]
    known = compressor.displacement
    if known is not None:
        size = sample.number(("compressor", name, "displacement"), known)
        off = math.log(size / known.value)
        if off != 0.0:  # a larger cylinder that passes the same fills less and re-expands more
            clearance = found.clearance + off * _clearance_slope(compressor)
            moved = found._replace(displacement=size, clearance=max(clearance, 0.002))
            found = _as_rated(compressor.ratings[len(compressor.ratings) // 2], found, moved)
    if len(compressor.ratings) > 1:
        return found
    more = sample.number(("compressor", name, "rated_capacity"), rating.capacity)
    more /= rating.capacity.value
    found = found._replace(filling=found.filling * more)
    if rating.power is None:
        return found
    watts = sample.number(("compressor", name, "rating_power"), rating.power) / rating.power.value
    return found._replace(
        fixed_loss=found.fixed_loss * watts, proportional=found.proportional * more / watts
    )


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
        usual=usual_of(compressor),
    )
    return rated._replace(speed=frequency * (1.0 - DEFAULTS[compressor.kind].slip))


def _from_kind(compressor: Compressor, frequency: float, sample: Sample) -> CompressorParameters:
    """A compressor of which the swept volume is known, or no more than the plate."""
    name, usual, known = compressor.name, usual_of(compressor), compressor.displacement
    size = 8e-6 if known is None else sample.number(("compressor", name, "displacement"), known)
    trial = generic(
        compressor.kind, displacement=size, frequency=frequency, fixed_loss=0.0, usual=usual
    )
    key, note = ("compressor", name, "filling"), "filling of the cylinder, by kind"
    filling = sample.offset(key, trial.filling, FILLING_SD * trial.filling, note)
    found = trial._replace(filling=min(max(filling, 0.5), 1.0))
    if known is None:
        return found
    return found._replace(fixed_loss=_fixed_loss(compressor, trial, usual.fixed_share, sample))


def _driven_by(
    compressor: Compressor, trial: CompressorParameters, power: float
) -> CompressorParameters:
    """The cylinder that takes this input where such machines are rated. [W]

    The displacement goes with what the fixed loss leaves of it.
    """
    table, at = load(compressor.refrigerant or "R-134a").table, _usual_rating(compressor)
    share = usual_of(compressor).fixed_share
    speed = compressor.rated_frequency * (1.0 - DEFAULTS[compressor.kind].slip)
    found = trial._replace(fixed_loss=share * power, speed=speed)
    for _ in range(20):
        more = (1.0 - share) * power / (_run(table, found, at).power - found.fixed_loss)
        found = found._replace(displacement=found.displacement * more)
        if abs(more - 1.0) < 1e-10:
            break
    return found._replace(speed=trial.speed)


def _fixed_loss(
    compressor: Compressor, trial: CompressorParameters, share: float, sample: Sample
) -> float:
    """Fixed loss of a motor known by its watts, its size or nothing but what it has to drive. [W]

    Parameters
    ----------
    trial : CompressorParameters
        Without fixed loss.
    share : float
        Of the input at the rating point.
    """
    name = compressor.name
    if compressor.rated_power is not None:
        return share * sample.number(("compressor", name, "rated_power"), compressor.rated_power)
    size = compressor.motor_size
    if size is not None:
        scatter = math.hypot(size.sd, _LOSS_OF_SIZE_SD * size.value)
        known = replace(size, sd=scatter, note="motors of one size lose more or less")
        return _LOSS_OF_SIZE * sample.number(("compressor", name, "motor_size"), known)
    # The motor is taken to suit the machine's own rating point.
    fluid = load(compressor.refrigerant or "R-134a").table
    run = _run(fluid, trial, _usual_rating(compressor))
    return share * run.power / (1.0 - share)


def rated_input(compressor: Compressor, found: CompressorParameters) -> float:
    """Input of a compressor where it is rated, or where one like it would be. [W]"""
    source = _source(compressor)
    return _run(load(source.refrigerant).table, found, source.at).power


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
        evaporating=rating.evaporating_temperature,
        condensing=rating.condensing_temperature,
        suction=rating.suction_temperature,
        liquid=rating.liquid_temperature,
    )


def _run(table: Table, compressor: CompressorParameters, at: RatingCondition) -> Operation:
    return operate(table, compressor, **at._asdict())


# A rated point and a displacement contradict each other beyond this many standard deviations.
_CONTRADICTION: Final = 2.0
# Share of a compressor's watts that becomes isentropic work: no small hermetic is better.
_BEST_OVERALL: Final = 0.75


class _Source(NamedTuple):
    """What the parameters of a compressor were taken from, and where it is looked at."""

    words: str
    at: RatingCondition
    refrigerant: str
    capacity_miss: float | None = None
    watts_miss: float | None = None
    throughput_miss: float | None = None


def known_compressors(job: Job) -> tuple[KnownCompressor, ...]:
    """What is inferred of each compressor of a bench, and how well its table or map is met."""
    ran, bench = job.original.compressor, job.compressors
    every = bench if ran is None or ran in bench else (*bench, ran)
    return tuple(_known(one, Scale(job.unit_system)) for one in every)


def _known(compressor: Compressor, scale: Scale) -> KnownCompressor:
    frequency = compressor.rated_frequency
    source = _source(compressor)
    table = load(source.refrigerant).table
    found = compressor_parameters(compressor, frequency, Sample(), source.refrigerant)
    run = _run(table, found, source.at)
    h1 = enthalpy_vapour(table, run.suction_pressure, source.at.suction)
    volume = run.mass_flow * state(table, run.suction_pressure, h1)[1]
    return KnownCompressor(
        name=compressor.name,
        source=source.words,
        refrigerant=source.refrigerant,
        evaporating_temperature=source.at.evaporating,
        condensing_temperature=source.at.condensing,
        displacement=found.displacement,
        clearance=found.clearance,
        volumetric_efficiency=volume / (found.displacement * found.speed),
        cooling=run.capacity,
        power=run.power,
        fixed_loss=found.fixed_loss,
        isentropic_efficiency=run.isentropic_efficiency,
        capacity_miss=source.capacity_miss,
        watts_miss=source.watts_miss,
        throughput_miss=source.throughput_miss,
        doubts=tuple(_doubts(compressor, scale)),
    )


def _source(compressor: Compressor) -> _Source:
    if compressor.map is not None:
        m = compressor.map
        _found, quality = _of_map(compressor.kind, m)
        evaporating, condensing = (
            0.5 * (low + high) for low, high in (m.evaporating_range, m.condensing_range)
        )
        if m.suction_temperature is not None:
            suction = m.suction_temperature
        else:
            suction = evaporating + (m.superheat or 0.0)
        at = RatingCondition(evaporating, condensing, suction, condensing - m.subcooling)
        return _Source("map", at, m.refrigerant, quality["capacity"], quality["power"])
    if compressor.ratings:
        n = len(compressor.ratings)
        point = compressor.ratings[n // 2]
        at = _condition(point)
        if n == 1:
            words = "rating and displacement" if compressor.displacement else "rating"
            return _Source(words, at, point.refrigerant)
        fit = fitted(compressor)
        words = f"{n} rating points"
        return _Source(
            words, at, point.refrigerant, fit.capacity_miss, fit.watts_miss, fit.throughput_miss
        )
    words = "plate" if known_by_plate(compressor) else "displacement"
    return _Source(words, _usual_rating(compressor), compressor.refrigerant or "R-134a")


def _doubts(compressor: Compressor, scale: Scale) -> Iterator[str]:
    """Contradictions between what is known of a compressor, a sentence each."""
    rating, written = compressor.rating, compressor.displacement
    if rating is None or compressor.map is not None:
        return
    table, usual = load(rating.refrigerant).table, usual_of(compressor)
    implied = displacement_from_rating(
        table,
        compressor.kind,
        capacity=rating.capacity.value,
        frequency=compressor.rated_frequency,
        condition=_condition(rating),
        usual=usual,
    )
    if written is not None:
        run = _run(table, implied, _condition(rating))
        tighter = implied._replace(clearance=implied.clearance + usual.clearance_sd)
        by_clearance = math.log(run.capacity / _run(table, tighter, _condition(rating)).capacity)
        sd = math.hypot(
            FILLING_SD,
            by_clearance,
            rating.capacity.sd / rating.capacity.value,
            written.sd / written.value,
        )
        off = math.log(implied.displacement / written.value)
        if abs(off) > _CONTRADICTION * sd:
            yield (
                f"rating and displacement contradict each other: the rated capacity needs about "
                f"{scale.show(implied.displacement, 'volume')}, and "
                f"{scale.show(written.value, 'volume')} is written. The rating is kept. Check "
                "both, the rating condition and the frequency of the plate."
            )
    for n, point in enumerate(compressor.ratings, 1):
        if point.power is None:
            continue
        run = _run(table, implied, _condition(point))
        ideal = run.isentropic_efficiency * run.power / run.capacity  # W for each W of capacity
        share = ideal * point.capacity.value / point.power.value
        if share > _BEST_OVERALL:
            where = f"rating point {n}" if len(compressor.ratings) > 1 else "the rating"
            yield (
                f"{where} asks for an efficiency of {100.0 * share:.0f} %, and small compressors "
                f"reach {100.0 * _BEST_OVERALL:.0f} % at most. Check its watts, its capacity and "
                "its rating condition."
            )
