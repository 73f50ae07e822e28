"""A healthy machine whose gas is hot for want of charge is charged to its best all the same."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweatline.assembly.build import build_for
from sweatline.charging.preparation import prepare_build, well_charged
from sweatline.job.model import in_other_room
from sweatline.job.reading import read_job
from sweatline.training.session import by_advice
from sweatline.training.simulated_machine import simulated_machine

TIMBER = Path(__file__).parents[2] / "examples" / "timber-store.toml"


@pytest.mark.parametrize(
    ("seed", "cooler"),
    [(503_004, 4.0), (572_000, 6.0), (560_000, 4.0), (577_000, 15.0), (590_000, 15.0)],
)
def test_a_starved_machine_in_a_hot_room_is_not_left_short(seed: int, cooler: float) -> None:
    """Builds in rooms of 26 to 36 °C were told to stop at 55 % of their best."""
    chance = np.random.default_rng(seed // 1000)
    room = 273.15 + float(chance.uniform(26.0, 36.0)), float(chance.uniform(0.4, 0.8))
    job = in_other_room(read_job(TIMBER), temperature=room[0], relative_humidity=room[1])
    compressor = int(chance.integers(len(job.compressors)))
    refrigerant = str(chance.choice(job.refrigerants))
    capillary = int(chance.integers(len(job.capillaries)))
    parts = {"compressor": compressor, "refrigerant": refrigerant, "capillary": capillary}
    build = build_for(job, **parts)
    # Its gas is to be too hot while it starves, whatever the models make of its temperature.
    hot = simulated_machine(build, well_charged(build), seed).start.discharge_temperature
    allowed = replace(job.limits.discharge_temperature, value=hot - 5.5)
    job = replace(job, limits=replace(job.limits, discharge_temperature=allowed))
    build = build_for(job, **parts)
    card = well_charged(build)
    machine = simulated_machine(build, card, seed)
    hottest = job.limits.discharge_temperature.value
    assert machine.start.discharge_temperature > hottest + 5.0  # starved, it is too hot
    assert machine.full.discharge_temperature < hottest - cooler  # filled, it is not
    ended = by_advice(machine, prepare_build(build, card, simulated=True))
    assert ended.obstacle == ""
    assert ended.miss > -0.05
    assert ended.most < 1.08 * machine.best
