"""What a known machine teaches about a rebuild, as a distribution."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweatline.assembly.assemble import assemble
from sweatline.assembly.build import build_for
from sweatline.assembly.parameters import Draw
from sweatline.assembly.prior_transfer import OTHER_REFRIGERANT, carried
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.uncertainty.measured import Learned

BOAT = Path(__file__).parents[2] / "examples" / "boat-shed.toml"

NAMES = ("evaporator air side", "airflow", "boiling", "volumetric", "old one bore")
COVARIANCE = (
    (0.5, -0.3, 0.1, 0.0, 0.0),
    (-0.3, 0.4, 0.0, 0.1, 0.0),
    (0.1, 0.0, 0.9, 0.0, 0.1),
    (0.0, 0.1, 0.0, 0.2, 0.0),
    (0.0, 0.0, 0.1, 0.0, 0.8),
)
LEARNED = Learned(
    names=NAMES,
    mean=(0.5, -1.0, 0.2, 1.5, -0.4),
    covariance=COVARIANCE,
    compressor="worn out",
    capillary="old one",
    oil="MO",
    refrigerant="R-12",
    readings=5,
)


@pytest.fixture(scope="module")
def boat() -> Job:
    return read_job(BOAT)


def test_parts_that_go_take_their_numbers_with_them(boat: Job) -> None:
    compressor, (old, reel) = boat.compressors[0], boat.capillaries
    kept = carried(LEARNED, compressor, "R-134a", old)
    cut = carried(LEARNED, compressor, "R-134a", reel)
    assert kept.names == ("evaporator air side", "airflow", "boiling", "old one bore")
    assert cut.names == ("evaporator air side", "airflow", "boiling")
    same = replace(LEARNED, compressor=compressor.name)
    assert "volumetric" in carried(same, compressor, "R-134a", reel).names


def test_the_root_gives_the_covariance_and_a_new_refrigerant_widens(boat: Job) -> None:
    kept = carried(LEARNED, boat.compressors[0], "R-12", boat.capillaries[0])
    at = [NAMES.index(n) for n in kept.names]
    expected = np.array(COVARIANCE)[np.ix_(at, at)]
    np.testing.assert_allclose(kept.root @ kept.root.T, expected, atol=1e-14)
    np.testing.assert_allclose(kept.root, kept.root.T, atol=1e-14)
    other = carried(LEARNED, boat.compressors[0], "R-134a", boat.capillaries[0])
    covariance = other.root @ other.root.T
    i = other.names.index("boiling")
    d2 = OTHER_REFRIGERANT**2
    assert covariance[i, i] == pytest.approx(0.9 * d2 + 1.0 - d2)
    assert other.mean[i] == pytest.approx(0.2 * OTHER_REFRIGERANT)
    assert covariance[0, 0] == pytest.approx(0.5)


def test_learning_nothing_changes_nothing(boat: Job) -> None:
    nothing = replace(
        LEARNED, mean=(0.0,) * 5, covariance=tuple(tuple(r) for r in np.eye(5).tolist())
    )
    parts = {"compressor": 0, "refrigerant": "R-134a", "capillary": 0}
    plain = build_for(boat, **parts)
    taught = build_for(replace(boat, learned=nothing), **parts)
    z = {u.name: 0.3 * (-1) ** i for i, u in enumerate(plain.uncertain)}
    assert taught.machine == plain.machine
    assert [u.name for u in taught.uncertain] == [u.name for u in plain.uncertain]
    assert taught.drawn(z)[0] == plain.drawn(z)[0]


def test_a_draw_moves_about_what_was_learned(boat: Job) -> None:
    taught = replace(boat, learned=LEARNED)
    draw = Draw()
    parts = (boat.compressors[0], build_for(boat, compressor=0, refrigerant="R-12", capillary=0))
    machine, _line = assemble(
        taught, parts[0], parts[1].refrigerant, boat.capillaries[0], draw=draw
    )
    fresh, _line = assemble(boat, parts[0], parts[1].refrigerant, boat.capillaries[0])
    flow = boat.fan.volume_flow
    assert machine.air.flow / fresh.air.flow == pytest.approx(flow.at(-1.0) / flow.value)
    assert machine.compressor.flow_multiplier == fresh.compressor.flow_multiplier
    assert draw.z == {}
    assert "airflow" in draw.seen


def test_what_readings_have_narrowed_is_told_with_its_number(boat: Job) -> None:
    taught = build_for(
        replace(boat, learned=LEARNED), compressor=0, refrigerant="R-12", capillary=0
    )
    notes = {u.name: u.note for u in taught.uncertain}
    assert notes["airflow"].endswith("leave 63 % of that")  # the root of 0.4
    assert "readings" not in notes["boiling"]  # 95 % is left
    assert "readings" not in notes["fan power"]
    plain = build_for(boat, compressor=0, refrigerant="R-12", capillary=0)
    assert not any("readings of the machine" in u.note for u in plain.uncertain)
