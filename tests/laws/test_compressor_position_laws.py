"""A compressor that stands in the machine's air warms it, and is cooled by it."""

from functools import cache
from pathlib import Path

import pytest
from tests.closure import closure

from sweatline.air.moist import enthalpy
from sweatline.assembly.build import build_for
from sweatline.job.reading import read_job_text
from sweatline.machine.balance import SteadyState, filled, solve

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"
COMPRESSORS = (0, 1)  # reciprocating, rotary


@cache
def standing(compressor: int, where: str) -> tuple[SteadyState, float]:
    """The balance, and what its air gains. [W]"""
    text = SEED.read_text(encoding="utf-8")
    if where:
        text = text.replace("[fan]\n", f'[fan]\ncompressor_position = "{where}"\n')
    build = build_for(read_job_text(text), compressor=compressor, refrigerant="R-134a", capillary=1)
    table, line, machine = build.refrigerant.table, build.line, build.machine
    target = filled(superheat=5.0)
    b = solve(table, line, machine, target, near=build.designed, profiles=True)
    assert max(closure(table, machine, target, b).energy.values()) < 1e-6
    air = machine.air
    gained = air.flow * (enthalpy(*b.air_out) - enthalpy(air.temperature, air.humidity))
    return b, gained


@pytest.mark.parametrize("compressor", COMPRESSORS)
def test_the_heat_of_the_shell_goes_where_the_job_says(compressor: int) -> None:
    """What the air gains beside the watts, and what runs off, differs by the heat of the shell."""
    b, gained = standing(compressor, "after")
    water = gained - b.total_power
    b, gained = standing(compressor, "between")
    assert gained - b.total_power == pytest.approx(water, abs=1.0)
    for where in ("outside", ""):
        b, gained = standing(compressor, where)
        assert b.shell_heat > 0.1 * b.compressor_power
        assert gained + b.shell_heat - b.total_power == pytest.approx(water, abs=1.0)


@pytest.mark.parametrize("compressor", COMPRESSORS)
def test_what_it_warms_is_behind_it(compressor: int) -> None:
    """Between the coils it warms the condenser's air, so the head rises; after them it does not."""
    between, after, outside = (
        standing(compressor, where)[0] for where in ("between", "after", "outside")
    )
    assert between.air_between_temperature > outside.air_between_temperature + 0.5
    assert between.discharge_pressure > outside.discharge_pressure
    assert after.air_between_temperature == pytest.approx(outside.air_between_temperature, abs=0.2)
    assert after.discharge_pressure == pytest.approx(outside.discharge_pressure, rel=5e-3)
    assert after.air_out_temperature > outside.air_out_temperature + 0.25
    # Cool air behind the evaporator takes more of the shell's heat than warm air does.
    assert between.shell_heat > after.shell_heat
