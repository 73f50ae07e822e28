"""An air conditioner whose evaporator gets less air, against laboratory tests of two units.

Rodriguez, O'Neal, Davis and Kondepudi 1996 (abstract read): two residential units at 0 to 50 % less
air than recommended. At 35 °C outdoors the power of neither falls by 4 %, and the capacity of the
one with an orifice falls by more than that of the one with a thermostatic valve.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from tests.dehumidifiers import air_conditioner

from sweatline.machine.balance import SteadyState, design, fixed_charge, solve
from sweatline.machine.capillary_cut import cut_for

SOURCE = "Rodriguez, O'Neal, Davis and Kondepudi 1996, Energy and Buildings 24:195"
AIM = design(superheat=6.0, subcooling=6.0)


@cache
def unit(share: float) -> tuple[SteadyState, SteadyState]:
    """A small R-22 unit at a share of its air: with the tube cut for full air, and with a valve."""
    table, line, machine = air_conditioner("rotary")
    air = machine.air
    full = solve(table, line, machine, AIM)
    bore = machine.expansion.bore
    cut = cut_for(table, full, bore=bore, bore_sd=0.02e-3)
    tube = machine._replace(expansion=machine.expansion._replace(length=cut.length))
    target = fixed_charge(full.charge)
    metered = valved = solve(table, line, tube, target, near=full)
    while air.flow * 0.9 > share * machine.air.flow:
        air = air._replace(flow=max(0.9 * air.flow, share * machine.air.flow))
        metered = solve(table, line, tube._replace(air=air), target, near=metered)
        valved = solve(table, line, machine._replace(air=air), AIM, near=valved)
    air = air._replace(flow=share * machine.air.flow)
    metered = solve(table, line, tube._replace(air=air), target, near=metered)
    valved = solve(table, line, machine._replace(air=air), AIM, near=valved)
    return metered, valved


@pytest.mark.parametrize("which", [0, 1], ids=["tube", "valve"])
def test_power_at_half_the_air(published: Callable[..., Any], which: int) -> None:
    full, half = unit(1.0)[which], unit(0.5)[which]
    published(
        model="Less air over an evaporator",
        source=SOURCE,
        status="PUBLISHED",
        basis="similar",
        quantity=f"loss of compressor power at half the air, {'valve' if which else 'fixed tube'}",
        unit="%",
        printed=2.0,
        ours=100.0 * (1.0 - half.compressor_power / full.compressor_power),
        tolerance=2.0,
        kind="absolute",
        reason="printed as less than 4 %, of another unit",
    )


@pytest.mark.parametrize("share", [2 / 3, 0.5])
def test_a_fixed_tube_loses_more_than_a_valve(published: Callable[..., Any], share: float) -> None:
    (full_tube, full_valve), (tube, valve) = unit(1.0), unit(share)
    more = (1.0 - tube.cooling / full_tube.cooling) - (1.0 - valve.cooling / full_valve.cooling)
    published(
        model="Less air over an evaporator",
        source=SOURCE,
        status="PUBLISHED",
        basis="similar",
        quantity=f"direction: capacity lost by the tube beyond the valve, {share:.2f} of the air",
        unit="",
        printed=1.0,
        ours=1.0 if more > 0.0 else -1.0,
        tolerance=0.5,
        kind="absolute",
        reason="an orifice in print, a capillary here",
    )
