"""Proving a running machine: water as people say it, what counts, what cannot be right."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

import sweatline as sl
from sweatline.answers import record_of
from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.from_log import proof_in
from sweatline.errors import JobError
from sweatline.log.extract import read_book
from sweatline.log.logbook import open_log, write_line
from sweatline.units import WATER_DENSITY

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"
PARTS = {"compressor": "drinks", "refrigerant": "R-134a", "capillary": "1.4"}
HOUR = 3600.0


def bucket(text: str) -> Bucket:
    from sweatline.answers import questions_of
    from sweatline.answers.questions import request_of
    from sweatline.bench.proof.proof import ProofRequest

    assert any(q.name == "bucket" for q in questions_of(ProofRequest))
    job = sl.read_job(SEED).bench
    found = request_of(ProofRequest, {"bucket": text}, job=job).bucket
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("text", "amount", "seconds"),
    [
        ("0.7 L in 2 h", 0.7e-3 * WATER_DENSITY, 2 * HOUR),
        ("24 oz in 3 h", 24 * 0.028349523125, 3 * HOUR),
        ("1.5 pints in 2 h", 1.5 * 4.73176473e-4 * WATER_DENSITY, 2 * HOUR),
        ("24 fl oz in 1 h 30 min", 24 * 2.95735295625e-5 * WATER_DENSITY, 1.5 * HOUR),
        ("a cup in 40 min", 2.365882365e-4 * WATER_DENSITY, 2400.0),
        ("half a cup in 20 min", 1.1829411825e-4 * WATER_DENSITY, 1200.0),
        ("640 g in 1 h", 0.64, HOUR),
    ],
)
def test_water_is_said_in_many_ways(text: str, amount: float, seconds: float) -> None:
    found = bucket(text)
    assert found.amount == pytest.approx(amount, rel=1e-6)
    assert found.time == seconds
    assert found.rate == pytest.approx(amount / seconds, rel=1e-6)


def test_a_cup_is_less_sure_than_a_scale() -> None:
    cup, scale = bucket("2 cups in 1 h"), bucket("472 g in 1 h")
    assert cup.rate_sd / cup.rate > 0.06
    assert scale.rate_sd / scale.rate < 0.05
    stated = bucket("0.70 ± 0.01 L in 2 h")
    assert stated.amount_sd == pytest.approx(0.01e-3 * WATER_DENSITY)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0.7 L", "amount and time belong here, with in between"),
        ("-0.7 L in 2 h", "no water that a bucket holds"),
        ("0.7 L in 2 s", "not believable"),
        ("0.7 kWh in 2 h", "unit of energy"),
        ("water in 2 h", "no number"),
    ],
)
def test_water_that_says_nothing_is_refused(text: str, said: str) -> None:
    with pytest.raises(JobError, match=said):
        bucket(text)


def test_a_record_of_water_can_be_made_by_itself() -> None:
    found = record_of(Bucket, ("0.7 L", "2 h"), where="water", zero=1e5)
    assert found.rate == pytest.approx(0.7e-3 * WATER_DENSITY / 7200.0)


@pytest.mark.parametrize(
    ("readings", "field", "said"),
    [
        ({}, "bucket", "nothing of the machine was read"),
        ({"energy": "1 kWh"}, "energy", "with the time"),
        ({"suction": "9 bar(g)", "head": "3 bar(g)"}, "suction, head", "hoses swapped"),
        ({"return_gas": "70 C", "discharge_gas": "10 C"}, "return_gas, discharge_gas", "swapped"),
        ({"watts": "300 W", "energy": "1 kWh", "bucket": "1 L in 2 h"}, "energy", "twice"),
        ({"suction": "2 bar"}, "suction", "gauge or absolute"),
    ],
)
def test_readings_that_cannot_be_are_refused(
    readings: dict[str, str], field: str, said: str
) -> None:
    with pytest.raises(JobError, match=said) as caught:
        sl.prove(sl.read_job(SEED), **PARTS, **readings)
    assert caught.value.field == field


def kept(tmp_path: Path, *lines: tuple[float, str], name: str = "run") -> str:
    """A log; each line with how many minutes ago it happened."""
    path, now = str(tmp_path / f"{name}.log"), time.time()
    with open_log(path, new=True, refrigerant="R-134a", atmosphere=94e3, system="SI") as book:
        for ago, line in sorted(lines, reverse=True):
            write_line(book, line, at=now - 60.0 * ago)
    return path


def looks(watts: float, drift: float = 0.0) -> list[tuple[float, str]]:
    return [(ago, f"watts {watts - drift * ago:.1f} W") for ago in range(40, -1, -5)]


def logged(path: str) -> dict[str, object]:
    with open_log(path) as book:
        found = proof_in(read_book(book)).found
    return {name: one.value for name, one in found.items() if one is not None}


def test_a_log_that_stands_still_counts(tmp_path: Path) -> None:
    found = logged(kept(tmp_path, (90.0, "started"), *looks(290.0), (38.0, "water 0.2 L"),
                        (2.0, "water 0.5 L")))  # fmt: skip
    assert found["steadiness"].verdict == "steady"  # type: ignore[attr-defined]
    assert found["watts"] == pytest.approx(290.0)
    assert found["bucket"].rate == pytest.approx(0.3e-3 * WATER_DENSITY / 2160.0, rel=1e-3)  # type: ignore[attr-defined]


def test_a_log_that_drifts_does_not_count(tmp_path: Path) -> None:
    found = logged(kept(tmp_path, (90.0, "started"), *looks(290.0, drift=0.4)))
    assert found["steadiness"].verdict == "not steady"  # type: ignore[attr-defined]
    assert "watts" in found["steadiness"].reason  # type: ignore[attr-defined]


def test_soon_after_a_start_or_a_dose_nothing_counts(tmp_path: Path) -> None:
    fresh = logged(kept(tmp_path, (12.0, "started"), (1.0, "watts 300 W")))
    assert fresh["steadiness"].verdict == "not steady"  # type: ignore[attr-defined]
    assert "started at" in fresh["steadiness"].reason  # type: ignore[attr-defined]


def test_a_room_that_warmed_is_told_as_the_room(tmp_path: Path) -> None:
    room = [(ago, f"air-in {20.0 - 0.045 * ago:.2f} C") for ago in range(60, -1, -5)]
    still = [(ago, "watts 290 W") for ago in range(60, -1, -5)]
    water = [(60.0, "water 0.1 L"), (0.0, "water 0.6 L")]
    found = logged(kept(tmp_path, (120.0, "started"), *room, *still, *water))
    assert found["steadiness"].reason == "the room changed meanwhile: air in"  # type: ignore[attr-defined]


def test_an_emptied_bucket_costs_only_its_time(tmp_path: Path) -> None:
    water = [(60.0, "water 0.8 L"), (40.0, "water 1.1 L"), (35.0, "water 0.0 L"),
             (5.0, "water 0.45 L")]  # fmt: skip
    found = logged(kept(tmp_path, (120.0, "started"), *water))
    assert found["bucket"].amount == pytest.approx(0.75e-3 * WATER_DENSITY)  # type: ignore[attr-defined]
    assert found["bucket"].time == pytest.approx(50 * 60.0, abs=1.0)  # type: ignore[attr-defined]


def test_a_log_of_nothing_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="was started"):
        logged(kept(tmp_path, (5.0, "watts 300 W")))
    with pytest.raises(JobError, match="nothing was read"):
        logged(kept(tmp_path, (5.0, "started"), name="other"))
