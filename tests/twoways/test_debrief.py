"""The debrief after a practice and the adviser at the log say exactly the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweatline.charging.adviser import Adviser
from sweatline.charging.preparation import prepare
from sweatline.job.reading import read_job
from sweatline.training.debrief import debrief_of_session
from sweatline.training.session import session_on
from sweatline.training.simulated_machine import simulated_machine

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
LONG = 960.0  # s: nobody is asked to wait longer than a quarter of an hour


@pytest.mark.parametrize("in_a_file", [False, True])
def test_whoever_does_what_the_log_advises_is_praised(tmp_path: Path, in_a_file: bool) -> None:
    job = read_job(SEED)
    prepared = prepare(job, compressor=2, refrigerant="R-134a", capillary=1, draws=24)
    machine = simulated_machine(prepared.build, prepared.full, 5)
    advised = []
    path = str(tmp_path / "shelf.sweat") if in_a_file else None
    session = session_on(machine, 5, path=path)
    with session.log as log:
        session.open()
        adviser = Adviser(prepared, log.about())
        for _ in range(12):
            session.wait(LONG)
            told = adviser.advise_on(log)
            if told.action != "add":
                break
            assert told.dose is not None
            advised.append(told)
            session.add(told.dose, "vapour")
            # Asked again at once, both say to wait.
            if len(advised) == 1:
                assert adviser.advise_on(log).action in ("wait", "read")
        assert told.action == "stop"
        assert 2 <= len(advised) <= 11
        found = debrief_of_session(session, prepared, 5)
    assert [d.advised for d in found.doses] == ["add"] * len(advised)
    for dose, said in zip(found.doses, advised, strict=True):
        assert dose.advised_dose == pytest.approx(said.dose, rel=1e-9)
        assert said.best_charge is not None
        assert dose.best_then is not None
        assert dose.best_then.middle == pytest.approx(said.best_charge.middle, rel=1e-9)
    assert found.next == "stop"
    assert found.charge == pytest.approx(found.mended_charge, rel=0.08)
    assert {p.what for p in found.limits} <= {"frozen coil", "vacuum"}
