"""Inside volume of a job's circuit, piece by piece."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.assembly.assemble import (
    circuit_pieces,
    side_volume,
    total_volume,
)
from sweatline.assembly.parameters import Sample
from sweatline.assembly.pumping import compressor_parameters
from sweatline.job.model import CompressorMap
from sweatline.job.reading import read_job
from sweatline.parts.compressor import parameters_from_map

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


def test_a_map_is_fitted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """No sample moves what a map says, and the frequency of the mains only moves the speed."""
    found = CompressorMap(
        refrigerant="R-134a",
        capacity=(900.0, 32.0, -6.0, 0.4, -0.2, 0.01, 0.0, 0.0, 0.0, 0.0),
        power=(180.0, 1.5, 3.0, 0.0, 0.05, 0.0, 0.0, 0.0, 0.0, 0.0),
        suction_temperature=291.0,
        subcooling=0.0,
        evaporating_range=(258.15, 283.15),
        condensing_range=(303.15, 333.15),
        frequency=50.0,
    )
    compressor = replace(read_job(str(SEED)).compressors[0], ratings=(), map=found)
    fits = []

    def counted(*args: object, **kw: object) -> object:
        fits.append(args)
        return parameters_from_map(*args, **kw)  # type: ignore[arg-type]

    monkeypatch.setattr("sweatline.assembly.pumping.parameters_from_map", counted)
    known = [
        compressor_parameters(compressor, hertz, Sample(), "R-134a") for hertz in (49.9, 50.0, 60.0)
    ]
    assert len(fits) == 1
    assert known[2].speed / known[1].speed == pytest.approx(1.2)
    assert known[2]._replace(speed=known[1].speed) == known[1]
