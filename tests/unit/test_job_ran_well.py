"""The machine as it ran, and its readings, as a job file tells them."""

from pathlib import Path

import pytest

from sweatline.errors import JobError
from sweatline.job.explanation import explain
from sweatline.job.model import Job
from sweatline.job.reading import JobFaults, read_job_text
from sweatline.units import Scale

EXAMPLES = Path(__file__).parents[2] / "examples"
TIMBER = (EXAMPLES / "timber-store.toml").read_text(encoding="utf-8")


def changed(*pairs: tuple[str, str]) -> str:
    text = TIMBER
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def read(*pairs: tuple[str, str]) -> Job:
    return read_job_text(changed(*pairs), "j.toml")


def without(text: str, table: str) -> str:
    """The text without one table."""
    head, _, tail = text.partition(table)
    rest = tail.partition("\n[")[2]
    return f"{head}[{rest}"


def test_readings_in_si_with_the_errors_of_their_instruments() -> None:
    job = read()
    april, september = job.ran_well
    zero = job.place.atmospheric_pressure
    assert april.name == "April"
    assert april.suction_pressure.value == pytest.approx(zero + 3.8e5)
    assert april.suction_pressure.sd == pytest.approx(1e4)  # 0.1 bar, more than 2 %
    assert april.head_pressure.sd == pytest.approx(0.02 * (zero + 10.7e5))
    assert april.discharge_temperature.sd == 3.0
    assert april.liquid_temperature.sd == 1.0
    assert april.power.sd == pytest.approx(0.02 * 372.0)
    assert april.water.value == pytest.approx(14.2 * 0.9982 / 86400.0)
    assert april.relative_humidity.sd == pytest.approx(0.03)
    assert september.liquid_temperature is None
    assert {april.power.origin, april.water.origin} == {"measured"}


def test_a_stated_error_beats_the_instrument() -> None:
    job = read(('power = "372 W"', 'power = "372 ± 20 W"'))
    assert job.ran_well[0].power.sd == pytest.approx(20.0)


def test_trade_units_and_vacuum_count_from_the_local_atmosphere() -> None:
    liquid = ('liquid_temperature = "21 °C"', 'liquid_temperature = "70 °F"')
    job = read(('"3.8 bar(g)"', '"55 psig"'), liquid)
    assert job.ran_well[0].suction_pressure.value == pytest.approx(
        job.place.atmospheric_pressure + 55 * 6894.757293168
    )
    assert job.ran_well[0].liquid_temperature.value == pytest.approx(294.2611, abs=1e-3)


def test_the_plate_of_a_machine_is_worth_less_than_a_meter() -> None:
    job = read()
    assert job.original.power.sd == pytest.approx(0.08 * 530.0)
    assert job.original.power.origin == "nameplate"


def test_the_fitted_capillary_is_the_one_it_ran_with() -> None:
    job = read()
    assert job.original.capillary is job.capillaries[0]
    assert job.original.compressor.name == "original compressor"
    assert job.original.compressor.kind == "rotary"


def test_a_part_still_on_the_bench_is_named_and_not_described_again() -> None:
    job = read(
        (
            'kind = "rotary"\ndisplacement = "8.2 cm3"\nrated_power = "430 W"\noil = "MO"',
            'name = "Drinks Cooler"\n\n[original.capillary]\nname = "1.5 on the reel"',
        )
    )
    assert job.original.compressor is job.compressors[0]
    assert job.original.capillary is job.capillaries[1]


def test_a_capillary_that_is_gone_is_described() -> None:
    job = read(
        ("[[ran_well]]", '[original.capillary]\nbore = "1.1 mm"\nlength = "0.8 m"\n\n[[ran_well]]')
    )
    assert job.original.capillary.name == "original capillary"
    assert job.original.capillary.length.value == 0.8


def test_one_set_of_readings_may_stand_in_single_brackets() -> None:
    text = without(TIMBER, '[[ran_well]]\nname = "September"')
    assert text != TIMBER
    job = read_job_text(text.replace("[[ran_well]]", "[ran_well]"))
    assert [r.name for r in job.ran_well] == ["April"]


def test_sets_without_a_name_are_counted() -> None:
    job = read(('name = "April"\n', ""), ('name = "September"\n', ""))
    assert [r.name for r in job.ran_well] == ["reading 1", "reading 2"]


def test_the_check_tells_it_all_back() -> None:
    rows = explain(read())
    parts = {r.part for r in rows}
    assert {"compressor of the original", "ran well: April", "ran well: September"} <= parts
    gauge = next(r for r in rows if r.part == "ran well: April" and r.label == "suction gauge")
    job = read()
    shown = gauge.shown(Scale(job.unit_system, job.place.atmospheric_pressure))
    assert shown == "3.80 bar(g)"
    assert gauge.written == "3.8 bar(g)"
    assert gauge.note == "manifold gauge, 0.1 bar or 2 %"


MISTAKES = [
    (
        'suction_pressure = "3.8 bar(g)"',
        'suction_pressure = "3.8 bar"',
        "ran_well[1].suction_pressure",
        "gauge or absolute",
    ),
    (
        'suction_pressure = "3.8 bar(g)"',
        'suction_pressure = "12 bar(g)"',
        "ran_well[1].head_pressure",
        "the head gauge is not above the suction gauge",
    ),
    (
        'head_pressure = "10.7 bar(g)"',
        'head_pressure = "107 bar(g)"',
        "ran_well[1].head_pressure",
        "outside what a small sealed machine can have",
    ),
    (
        'liquid_temperature = "21 °C"',
        'liquid_temperature = "75 °C"',
        "ran_well[1].discharge_temperature",
        "the discharge tube is not hotter than the liquid tube",
    ),
    (
        'room_humidity = "62 %RH"',
        'room_humidity = "162 %RH"',
        "ran_well[1].room_humidity",
        "between 0 and 100 %",
    ),
    ('room_humidity = "62 %RH"\n', "", "ran_well[1].room_humidity", "this key is needed"),
    (
        'head_pressure = "10.7 bar(g)"',
        'discharge_pressure = "10.7 bar(g)"',
        "ran_well[1].discharge_pressure",
        "nearest: head_pressure",
    ),
    (
        'water = "14.2 L/day"',
        'water_removal = "14.2 L/day"',
        "ran_well[1].water_removal",
        "nearest: water",
    ),
    ('name = "September"', 'name = "april"', "ran_well[2].name", "two readings of one name"),
    ('refrigerant = "R-22"\n', "", "original", "what ran in the original is not said"),
    (
        'displacement = "8.2 cm3"\n',
        "",
        "original.compressor",
        "nothing says how much this compressor pumps",
    ),
    (
        'kind = "rotary"\ndisplacement',
        "displacement",
        "original.compressor",
        "neither described nor on the bench",
    ),
    (
        'kind = "rotary"\n',
        'kind = "rotary"\nname = "drinks cooler"\n',
        "original.compressor.name",
        "on the bench already",
    ),
    (
        "[[ran_well]]",
        '[original.capillary]\nname = "gone"\n\n[[ran_well]]',
        "original.capillary",
        "neither described nor on the bench",
    ),
    (
        "[[ran_well]]",
        '[original.capillary]\nbore = "1.1 mm"\n\n[[ran_well]]',
        "original.capillary",
        "its length is missing",
    ),
    (
        "[[ran_well]]",
        '[original.capillary]\nbore = "1.1 mm"\nlength = "1 m"\nname = "1.5 on the reel"\n'
        "[[ran_well]]",
        "original.capillary.name",
        "on the bench already",
    ),
    ("fitted = true", "fitted = false", "original", "the capillary that it ran with is not said"),
    ("[[ran_well]]", '[[ran-well]]\nname = "May"\n\n[[ran_well]]', "ran-well", "nearest: ran_well"),
]


@pytest.mark.parametrize(("old", "new", "field", "says"), MISTAKES)
def test_each_mistake_has_its_line_field_and_sentence(
    old: str, new: str, field: str, says: str
) -> None:
    with pytest.raises(JobError) as caught:
        read((old, new))
    error = caught.value
    assert not isinstance(error, JobFaults), str(error)
    assert error.field == field
    assert says in str(error)
    assert error.line is not None or field in ("original",)


def test_readings_without_the_compressor_that_ran_mean_nothing() -> None:
    text = without(TIMBER, "[original.compressor]")
    with pytest.raises(JobError, match="mean nothing without the compressor that ran"):
        read_job_text(text)


def test_a_room_without_a_reading_says_so() -> None:
    text = TIMBER.replace('suction_pressure = "4.5 bar(g)"\nhead_pressure = "13.2 bar(g)"\n', "")
    text = text.replace('power = "424 W"\nwater = "17.5 L/day"\n', "")
    with pytest.raises(JobError, match="a room without a reading of the machine") as caught:
        read_job_text(text)
    assert caught.value.field == "ran_well[2]"
