"""The judge after a practice and the adviser at the log hold a person to the same thing."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import prepare
from sweatline.job.reading import read_job
from sweatline.log.logbook import open_log
from sweatline.training.debrief import exercise_judged
from sweatline.training.gauge_readout import Pad
from sweatline.training.session import Exercise
from sweatline.training.simulated_machine import unseen

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
LONG = 960.0  # s: nobody is asked to wait longer than a quarter of an hour


def test_whoever_does_what_the_log_advises_is_praised(tmp_path: Path) -> None:
    job = read_job(SEED)
    prepared = prepare(job, compressor=2, refrigerant="R-134a", capillary=1, draws=24)
    assert prepared.prior is not None
    machine = unseen(prepared.build, prepared.full, 5)
    atmosphere = job.place.atmospheric_pressure
    advised = []
    with open_log(
        str(tmp_path / "shelf.sweat"), new=True, refrigerant="R-134a", atmosphere=atmosphere
    ) as book:
        exercise = Exercise(
            machine=machine,
            pad=Pad("SI", atmosphere),
            refrigerant="R-134a",
            book=book,
            begun_at=1.7e9,
        )
        exercise.open()
        adviser = Adviser(prepared, book.about())
        for _ in range(12):
            exercise.wait(LONG)
            told = adviser.advise_on(book)
            if told.action != "add":
                break
            assert told.dose is not None
            advised.append(told)
            exercise.add(told.dose, "vapour")
            # Asked again at once, both say to wait.
            if len(advised) == 1:
                assert adviser.advise_on(book).action in ("wait", "read")
        assert told.action == "stop"
    assert 2 <= len(advised) <= 11
    record = exercise_judged(exercise, prepared.prior, prepared.full, 5)
    assert [d.advised for d in record.doses] == ["add"] * len(advised)
    for dose, said in zip(record.doses, advised, strict=True):
        assert dose.advised_kg is not None
        assert said.best_charge is not None
        assert dose.best_then_kg is not None
        # The log's adviser takes each reading's own step and the scale's into its errors.
        assert dose.advised_kg == pytest.approx(said.dose, rel=0.3, abs=4e-3)
        assert dose.best_then_kg.middle == pytest.approx(said.best_charge.middle, rel=0.05)
    assert record.next == "stop"
    assert record.charge_kg == pytest.approx(record.mended_charge_kg, rel=0.08)
    assert {p.what for p in record.limits} <= {"frozen coil", "vacuum"}
