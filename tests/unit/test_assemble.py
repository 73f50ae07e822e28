"""Inside volume of a job's circuit, piece by piece."""

import math
from pathlib import Path

import pytest

from sweatline.assembly.assemble import circuit_pieces, side_volume, total_volume
from sweatline.job.reading import read_job

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"


def test_the_sides_make_the_whole_and_errors_add_in_squares() -> None:
    job = read_job(str(SEED))
    pieces = circuit_pieces(job, job.compressors[0])
    low, high = side_volume(pieces, "low"), side_volume(pieces, "high")
    whole = total_volume(pieces)
    assert low[0] + high[0] == pytest.approx(whole[0])
    assert math.hypot(low[1], high[1]) == pytest.approx(whole[1])
    assert all(p.volume > 0.0 and p.sd >= 0.0 and p.joints > 0 for p in pieces)


def test_a_coil_is_its_tubes() -> None:
    job = read_job(str(SEED))
    evaporator = circuit_pieces(job, job.compressors[0])[0]
    # 20 tubes of 260 mm, 9.52 mm outside and 0.35 mm wall, and a share for the bends
    straight = 20 * 0.260 * math.pi / 4 * (9.52e-3 - 0.70e-3) ** 2
    assert straight < evaporator.volume < 1.3 * straight


def test_the_shell_of_a_rotary_stands_at_head_pressure() -> None:
    job = read_job(str(SEED))
    for compressor, side in zip(job.compressors, ("low", "high", "low"), strict=True):
        shell = next(p for p in circuit_pieces(job, compressor) if p.name == "compressor shell")
        assert shell.side == side
