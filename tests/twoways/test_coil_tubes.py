"""The coil tube by tube against the simple form, where both describe the same coil."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import saturation_line
from sweatline.assembly.build import Build, build_for
from sweatline.constants import STANDARD_ATMOSPHERE as P
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled, fixed_charge
from sweatline.parts.circuiting import by_rows
from sweatline.parts.coil import (
    AirInlet,
    CoilParameters,
    CoilResult,
    RefrigerantInlet,
    coil_memory,
    coil_parameters,
    tube_by_tube,
)
from sweatline.parts.coil_march import march
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import dew_pressure, saturation

LINE = saturation_line(P)
EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"
TUBES = 12


def simple(rows: int, circuits: int, cells: int, counter: bool) -> CoilParameters:
    return coil_parameters(
        tube_outer_diameter=7.94e-3,
        tube_wall=0.3e-3,
        rows=rows,
        tubes_per_row=TUBES,
        transverse_pitch=25.4e-3,
        longitudinal_pitch=22e-3,
        finned_length=0.28,
        fin_pitch=1.8e-3,
        fin_thickness=0.11e-3,
        circuits=circuits,
        counter=counter,
        cells=cells,
    )


def both(
    coil: CoilParameters, tubes: CoilParameters, name: str, heated: bool, flow: float
) -> tuple[CoilResult, CoilResult, np.ndarray, np.ndarray]:
    table = load(name).table
    saturated, quality, air_t = (279.15, 0.2, 298.15) if heated else (316.15, 1.2, 296.15)
    p = float(dew_pressure(table, saturated))
    hl, hg = saturation(table, p)[2:4]
    w = float(humidity_ratio(air_t, 0.55, P))
    air = float(0.09 / specific_volume(air_t, w, P))
    inlet = RefrigerantInlet(flow, p, float(hl + quality * (hg - hl)))
    runs, profiles = [], []
    for form in (coil, tubes):
        memory = coil_memory(form, profile=True)
        runs.append(march(table, LINE, form, inlet, AirInlet(air_t, w, air), heated, memory))
        profiles.append(memory.profile)
    return runs[0], runs[1], profiles[0], profiles[1]


@pytest.mark.parametrize("name", ["R-134a", "R-290", "R-454C"])
@pytest.mark.parametrize("heated", [True, False])
@pytest.mark.parametrize("counter", [True, False])
@pytest.mark.parametrize(("rows", "circuits", "tube_cells"), [(1, 1, 1), (2, 1, 2), (3, 2, 1)])
def test_same_circuiting_gives_the_same_coil(
    name: str, heated: bool, counter: bool, rows: int, circuits: int, tube_cells: int
) -> None:
    """Every output and every cell, to what a march is settled to."""
    coil = simple(rows, circuits, TUBES // circuits * tube_cells, counter)
    way = by_rows(rows, TUBES, circuits, counter=counter)
    tubes = tube_by_tube(coil, tubes_per_row=TUBES, circuiting=way, cells=tube_cells)
    flow = 4e-3 * circuits
    a, b, cells_a, cells_b = both(coil, tubes, name, heated, flow)
    assert a.sweeps > 0
    assert b.sweeps > 0
    assert b[:-1] == pytest.approx(a[:-1], rel=1e-8, abs=1e-14)
    order = [c for c in range(cells_a.shape[1]) if c != 1]  # places are counted differently
    assert cells_b[:, order] == pytest.approx(cells_a[:, order], rel=1e-7, abs=1e-11)


def in_tubes(build: Build) -> Build:
    """The machine with both coils tube by tube, circuited as the simple form takes them."""
    m = build.machine
    fine = [
        tube_by_tube(c, tubes_per_row=10, circuiting=by_rows(c.rows, 10, 1, counter=True))
        for c in (m.evaporator, m.condenser)
    ]
    return replace(build, machine=m._replace(evaporator=fine[0], condenser=fine[1]))


def test_a_machine_balances_at_the_same_state_with_either_form() -> None:
    job = read_job(EXAMPLE)
    build = build_for(job, compressor=0, refrigerant="R-134a", capillary=0, cells=10)
    plain, fine = build.solve(filled(superheat=5.0)), in_tubes(build).solve(filled(superheat=5.0))
    for of in ("suction_pressure", "discharge_pressure", "water", "total_power", "charge"):
        assert getattr(fine, of) == pytest.approx(getattr(plain, of), rel=1e-8)
    more = fixed_charge(1.03 * plain.charge)
    a, b = build.solve(more, near=plain), in_tubes(build).solve(more, near=fine)
    assert b.suction_pressure == pytest.approx(a.suction_pressure, rel=1e-7)
    assert b.water == pytest.approx(a.water, rel=1e-7)
