"""What a job says of its compressors together: rating points, displacement, tables."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from tests.published.test_low_temperature_compressors import rows

from sweatline.assembly.parameters import Sample
from sweatline.assembly.plate import plate_power
from sweatline.assembly.pumping import (
    compressor_parameters,
    fitted,
    known_compressors,
    usual_of,
)
from sweatline.errors import JobError
from sweatline.job.explanation import check, explain
from sweatline.job.model import Compressor, Job
from sweatline.job.reading import read_job_text
from sweatline.parts.compressor import (
    COMMERCIAL_LOW_TEMPERATURE,
    DEFAULTS,
    HIGH_PRESSURE,
    HOUSEHOLD_LOW_TEMPERATURE,
    MEDIUM_PRESSURE,
    RatingCondition,
    operate,
)
from sweatline.refrigerant.refrigerant import load

SEED = (Path(__file__).parents[2] / "examples" / "seed-store.toml").read_text("utf-8")
HEAD, _, TAIL = SEED.partition("[compressor.rating]")
TAIL = TAIL[TAIL.index("[[capillary]]") :]
ONE = """[compressor.rating]
refrigerant = "R-134a"
capacity = "830 W"
power = "340 W"
conditions = "ASHRAE HBP"

"""


def job_with(rating: str, displacement: str = "") -> Job:
    """The seed store with another third compressor."""
    size = f'displacement = "{displacement}"\n' if displacement else ""
    head = HEAD.replace('name = "drinks cooler"\n', f'name = "drinks cooler"\n{size}')
    return read_job_text(head + rating + TAIL)


def table(speed: str, *chosen: tuple[float, float], power: bool = True) -> str:
    found = ""
    for row in rows(speed):
        if row.at in chosen or not chosen:
            te, tc = row.at
            found += (
                f'[[compressor.rating]]\nrefrigerant = "R-600a"\nconditions = "CECOMAF"\n'
                f'evaporating = "{te} °C"\ncondensing = "{tc} °C"\n'
                f'capacity = "{row.point.capacity} W"\n'
            )
            found += f'power = "{row.point.power} W"\n' if power else ""
    return found + "\n"


def at_rating(job: Job, sample: Sample) -> tuple[float, float]:
    """Capacity and watts of the third compressor at its first rating point."""
    one = job.compressors[2]
    assert one.rating is not None
    numbers = compressor_parameters(one, one.rated_frequency, sample, one.rating.refrigerant)
    r = one.rating
    run = operate(
        load(r.refrigerant).table,
        numbers,
        evaporating=r.evaporating_temperature,
        condensing=r.condensing_temperature,
        suction=r.suction_temperature,
        liquid=r.liquid_temperature,
    )
    return run.capacity, run.power


@pytest.mark.parametrize("size", ["8.9 cm3", "9.5 cm3", "15 cm3", "6 cm3"])
def test_a_rating_is_met_whatever_displacement_stands_beside_it(size: str) -> None:
    capacity, power = at_rating(job_with(ONE, size), Sample())
    assert math.isclose(capacity, 830.0, rel_tol=1e-6)
    assert math.isclose(power, 340.0, rel_tol=1e-6)
    name = ("compressor", "drinks cooler")
    moved = Sample(z={(*name, "clearance"): 1.5, (*name, "rated_capacity"): 1.0})
    capacity, _power = at_rating(job_with(ONE, size), moved)
    assert math.isclose(capacity, 830.0 * 1.05, rel_tol=0.01)


def test_displacement_and_rating_fix_clearance_and_filling() -> None:
    tight, loose = (fitted(job_with(ONE, size).compressors[2]) for size in ("8.9 cc", "10.5 cc"))
    assert loose.parameters.clearance > tight.parameters.clearance
    assert loose.parameters.filling < tight.parameters.filling
    assert loose.clearance_sd < DEFAULTS["reciprocating"].clearance_sd


def test_a_contradiction_is_said_in_a_sentence() -> None:
    agrees, not_ = (known_compressors(job_with(ONE, size))[2] for size in ("9.2 cc", "15 cc"))
    assert agrees.doubts == ()
    (said,) = not_.doubts
    assert said.startswith("rating and displacement contradict each other")
    assert "15.0 cm³ is written" in said
    (said,) = known_compressors(job_with(ONE.replace("340 W", "150 W")))[2].doubts
    assert "asks for an efficiency of" in said


def test_a_table_is_read_and_met() -> None:
    job = job_with(table("V1 2000"))
    one = job.compressors[2]
    assert len(one.ratings) == 24
    assert one.ratings[0].convention == "CECOMAF"
    assert math.isclose(one.ratings[0].liquid_temperature, one.ratings[0].condensing_temperature)
    assert math.isclose(one.ratings[0].suction_temperature, 305.15)
    known = known_compressors(job)[2]
    assert known.capacity_miss is not None
    assert known.watts_miss is not None
    assert known.capacity_miss < 0.02
    assert known.watts_miss < 0.04
    assert known.source == "24 rating points"
    limit = plate_power(one)
    assert limit is not None
    assert limit.value == 80.0  # the hardest point of its table
    answer = check(job, known_compressors(job))
    assert answer.compressors[2] == known
    assert "compressor[3].rating[24].capacity" in {item.key for item in explain(job)}


def test_a_table_is_fitted_once() -> None:
    job = job_with(table("V1 2000"))
    fitted.cache_clear()
    for n in range(5):
        at_rating(job, Sample(z={("model", "volumetric"): float(n)}))
    assert fitted.cache_info().misses == 1


def test_a_table_without_watts_is_enough_for_its_flow() -> None:
    one = job_with(table("V1 2000", (-35.0, 35.0), (0.0, 55.0), power=False)).compressors[2]
    assert fitted(one).watts_miss is None
    assert plate_power(one) is None


def test_mistakes_in_a_table_name_the_point() -> None:
    text = table("V1 2000", (-35.0, 35.0), (0.0, 55.0))
    first, second = text.split("[[compressor.rating]]")[1:]
    wrong = second.replace("R-600a", "R-290")
    both = f"[[compressor.rating]]{first}[[compressor.rating]]{wrong}"
    with pytest.raises(JobError, match=r"rating\[2\]\.refrigerant.*one refrigerant"):
        job_with(both)
    wrong = second.replace('condensing = "55.0 °C"\n', "")
    with pytest.raises(JobError, match="already says this temperature"):
        job_with(f"[[compressor.rating]]{first}[[compressor.rating]]{wrong}")


def test_prior_of_a_compressor_goes_by_its_refrigerant_and_rating() -> None:
    def usual(rating: str) -> object:
        return usual_of(job_with(rating).compressors[2])

    low = ONE.replace("ASHRAE HBP", "ASHRAE LBP").replace("830 W", "190 W")
    assert usual(low) == HOUSEHOLD_LOW_TEMPERATURE
    assert usual(low.replace("R-134a", "R-404A")) == COMMERCIAL_LOW_TEMPERATURE
    assert usual(ONE) == MEDIUM_PRESSURE
    assert usual(ONE.replace("R-134a", "R-404A")) == HIGH_PRESSURE
    nothing = replace(job_with(ONE).compressors[2], ratings=(), refrigerant=None)
    assert usual_of(nothing) == DEFAULTS["reciprocating"]


def test_a_plate_rated_cold_carries_to_a_warm_evaporator() -> None:
    """Rated at -30/55 °C, at -10/45: 30 to 60 % high before these machines had their own prior."""
    (cold,) = [row for row in rows("V1 2000") if row.at == (-30.0, 55.0)]
    (warm,) = [row for row in rows("V1 2000") if row.at == (-10.0, 45.0)]
    job = job_with(table("V1 2000", cold.at))
    one: Compressor = job.compressors[2]
    numbers = compressor_parameters(one, one.rated_frequency, Sample(), "R-600a")
    found = operate(warm.table, numbers, **RatingCondition(*warm.point.condition)._asdict())
    assert math.isclose(found.capacity, warm.point.capacity, rel_tol=0.08)
    assert warm.point.power is not None
    assert math.isclose(found.power, warm.point.power, rel_tol=0.08)


def by_plate(*left_out: str, application: str = "LBP") -> Job:
    """The seed store of whose third compressor only the plate is known."""
    plate = f'name = "drinks cooler"\napplication = "{application}"\nrated_current = "0.65 A"\n'
    before, _, after = HEAD.partition('name = "drinks cooler"\n')
    lines = [line for line in (plate + after).splitlines() if not line.startswith(left_out)]
    return read_job_text(before + "\n".join(lines) + "\n" + TAIL)


def test_a_plate_says_how_large_the_cylinder_is() -> None:
    job = by_plate("nothing")
    known = known_compressors(job)[2]
    assert known.source == "plate"
    assert 4e-6 < known.displacement < 9e-6
    assert math.isclose(known.power, 0.78 * 0.65 * 230.0, rel_tol=0.25)
    (item,) = [one for one in explain(job) if one.key == "compressor[3].displacement"]
    assert item.note == "worked out from the plate"
    # The same watts drive a smaller cylinder where the gas is denser.
    warm = known_compressors(by_plate("nothing", application="HBP"))[2]
    assert warm.displacement < 0.7 * known.displacement


@pytest.mark.parametrize("left_out", ["application", "rated_voltage", "rated_current"])
def test_a_plate_that_says_too_little_is_refused(left_out: str) -> None:
    named = "application" if left_out == "application" else "rated_power"
    with pytest.raises(JobError, match=rf"nothing says how much .* what its plate says: {named}"):
        by_plate(left_out)
