"""Before gas goes into a machine that only looks starved, the advice asks for a look."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from sweatline.assembly.build import build_for
from sweatline.charging.preparation import Prepared, prepare_build, well_charged
from sweatline.diagnosis.faults import fault_of
from sweatline.job.reading import read_job
from sweatline.training.session import Attempt, by_advice
from sweatline.training.simulated_machine import simulated_machine

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"


@cache
def prepared() -> Prepared:
    build = build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)
    return prepare_build(build, well_charged(build), simulated=True)


def charged(seed: int, fault: str | None) -> Attempt:
    known = prepared()
    card = known.full
    wrong = None if fault is None else fault_of(fault, seed, card.charge)
    return by_advice(simulated_machine(known.build, card, seed, fault=wrong), known)


def test_a_blocked_tube_is_looked_at_before_it_is_charged_away() -> None:
    for seed in (51001, 51004):
        found = charged(seed, "restriction")
        assert found.obstacle == "look first"
        assert found.most < 1.1 * found.best


def test_a_machine_in_order_is_charged() -> None:
    """Three of four within 5 %, none more than 8 % over, none told to look."""
    found = [charged(seed, None) for seed in (52100, 52102, 52104, 52106)]
    assert not any(one.obstacle for one in found)
    assert max(one.miss for one in found) < 0.08
    assert sum(abs(one.miss) < 0.05 for one in found) >= 3
