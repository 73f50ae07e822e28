"""Leaks, holds and vacuum against plain arithmetic done apart from this code."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sweatline.air.moist import saturation_pressure
from sweatline.air.permanent_gas import AIR, HELIUM, NITROGEN
from sweatline.bench.evacuation.pump_down import Circuit, Segment, air_way, pump_down, vapour_volume
from sweatline.bench.leak_channel import LeakGas, throughput
from sweatline.bench.tightness.pressure_hold import expected_pressure
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.parts.hose import Hose, hose_content
from sweatline.refrigerant.refrigerant import load

YEAR = 3.15576e7
PSI = 6894.757293168361
PSIA = STANDARD_ATMOSPHERE / PSI


def fahrenheit(t: float) -> float:
    return (t + 459.67) / 1.8


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("R-134a", 7.57e-6),
        ("R-290", 1.75e-5),
        ("R-600a", 1.33e-5),
        ("R-22", 8.93e-6),
        ("R-410A", 1.06e-5),
        ("R-32", 1.485e-5),
    ],
)
def test_a_gram_a_year_as_throughput(
    computed: Callable[..., None], name: str, printed: float
) -> None:
    gas = LeakGas(name=name, molar_mass=load(name).molar_mass, viscosity=1e-5, temperature=293.15)
    computed(
        source="law of the ideal gas at 20 °C",
        quantity=f"1 g/yr of {name}",
        unit="mbar L/s",
        expected=printed,
        ours=1e-3 / YEAR * gas.per_amount / gas.molar_mass * 10.0,
        tolerance=5e-3,
        reason="three printed digits",
    )


def _thin(molar_mass: float, viscosity: float) -> LeakGas:
    return LeakGas(name="", molar_mass=molar_mass, viscosity=viscosity, temperature=293.15)


def _through(gas: LeakGas, bore: float, inside: float, outside: float) -> float:
    q = throughput(np.array([bore]), np.array([1.0]), inside=inside, outside=outside, gas=gas)
    return float(q[0])


@pytest.mark.parametrize(("over", "printed"), [(AIR, 2.690), (NITROGEN, 2.646)])
def test_helium_through_a_molecular_leak(
    computed: Callable[..., None], over: Any, printed: float
) -> None:
    mean = [_through(_thin(g.molar_mass, g.viscosity(293.15)), 1e-3, 1e-3, 0.0) for g in
            (HELIUM, over)]  # fmt: skip
    computed(
        source="root of the molar masses",
        quantity=f"helium over {over.name}, molecular",
        unit="",
        expected=printed,
        ours=mean[0] / mean[1],
        tolerance=2e-3,
        reason="four printed digits, a last thousandth of viscous flow",
    )


def _viscosity(name: str) -> float:
    fluid = load(name)
    return float(fluid.state(p=fluid.pressure_range[0], T=293.15).viscosity)


@pytest.mark.parametrize(
    ("name", "printed"),
    [("helium", 0.896), ("R-134a", 1.512), ("R-290", 2.193), ("R-600a", 2.383)],
)
def test_other_gases_through_a_viscous_leak(
    computed: Callable[..., None], name: str, printed: float
) -> None:
    n2 = _thin(NITROGEN.molar_mass, NITROGEN.viscosity(293.15))
    if name == "helium":
        other = _thin(HELIUM.molar_mass, HELIUM.viscosity(293.15))
    else:
        other = _thin(load(name).molar_mass, _viscosity(name))
    # Wide and very long, so that neither slip nor inertia has a say.
    ratio = _through(other, 1e-4, 3e5, 1e5) / _through(n2, 1e-4, 3e5, 1e5)
    computed(
        source="ratio of viscosities at 20 °C, reference correlations",
        quantity=f"{name} over nitrogen, viscous",
        unit="",
        expected=printed,
        ours=ratio,
        tolerance=0.012,
        reason="viscosities of thin gases differ by 1 % between correlations; slip adds 0.2 %",
    )


PUMP = 2.0 * 0.3048**3 / 60.0  # m3/s, 2 cfm
WIDE = Segment(bore=0.1, length=0.01)
MICRON = 0.133322


def _one_volume(bore: float | None) -> float:
    way = air_way([WIDE] if bore is None else [Segment(bore=bore, length=1.0)], 293.15)
    run = pump_down(
        Circuit(
            low_volume=1.5e-3,
            high_volume=1.5e-3,
            capillary=air_way([WIDE], 293.15),
            low=way,
            high=None,
            speed=PUMP,
            ultimate=0.0,
        ),
        start=STANDARD_ATMOSPHERE,
        target=500.0 * MICRON,
    )
    assert run.reached_after is not None
    return run.reached_after


@pytest.mark.parametrize(
    ("what", "bore", "printed", "tolerance", "reason"),
    [
        ("without a hose", None, 23.3, 2e-3, "three printed digits"),
        (
            "through 1 m of 4.8 mm",
            4.8e-3,
            123.0,
            0.1,
            "the figure takes the pump's end as empty at every moment; here it is solved for, "
            "which lets more through",
        ),
        (
            "through 1 m of 9.5 mm",
            9.5e-3,
            30.5,
            0.1,
            "the figure takes the pump's end as empty at every moment; here it is solved for, "
            "which lets more through",
        ),
    ],
)
def test_time_to_pump_three_litres_to_500_micron(
    computed: Callable[..., None],
    what: str,
    bore: float | None,
    printed: float,
    tolerance: float,
    reason: str,
) -> None:
    computed(
        source="(V/S) ln(p1/p2) with the conductance of the hose, pump of 2 cfm",
        quantity=f"3 L to 500 micron {what}",
        unit="s",
        expected=printed,
        ours=_one_volume(bore),
        tolerance=tolerance,
        reason=reason,
    )


def test_a_high_side_drawn_through_its_capillary(computed: Callable[..., None]) -> None:
    run = pump_down(
        Circuit(
            low_volume=1.5e-3,
            high_volume=1.5e-3,
            capillary=air_way([Segment(bore=0.8e-3, length=3.0)], 293.15),
            low=air_way([WIDE], 293.15),
            high=None,
            speed=PUMP,
            ultimate=0.0,
        ),
        start=STANDARD_ATMOSPHERE,
        target=500.0 * MICRON,
    )
    assert run.reached_after is not None
    computed(
        source="conductance at the mean pressure, pump's end taken as empty",
        quantity="1.5 L to 500 micron through a capillary of 0.8 mm and 3 m only",
        unit="h",
        expected=29.7,
        ours=run.reached_after / 3600.0,
        tolerance=0.01,
        reason="three printed digits",
    )


@pytest.mark.parametrize(("bore", "printed"), [(4.8e-3, 0.061), (9.5e-3, 0.837)])
def test_conductance_of_a_hose_at_500_micron(
    computed: Callable[..., None], bore: float, printed: float
) -> None:
    way = air_way([Segment(bore=bore, length=1.0)], 293.15)
    computed(
        source="vacuum handbook formula for air at 20 °C, sum of viscous and molecular",
        quantity=f"hose of {1e3 * bore:g} mm and 1 m at 500 micron",
        unit="L/s",
        expected=printed,
        ours=1e3 * way.conductance(500.0 * MICRON),
        tolerance=0.015,
        reason="rounded constants, two to three printed digits",
    )


@pytest.mark.parametrize(
    ("pressure", "printed", "at"),
    [(None, 57.8, "its saturation at 20 °C"), (500.0 * MICRON, 2030.0, "500 micron")],
)
def test_a_gram_of_water_as_vapour(
    computed: Callable[..., None], pressure: float | None, printed: float, at: str
) -> None:
    p = saturation_pressure(293.15) if pressure is None else pressure
    computed(
        source="law of the ideal gas at 20 °C",
        quantity=f"volume of 1 g as vapour at {at}",
        unit="L",
        expected=printed,
        ours=1e3 * vapour_volume(1e-3, pressure=float(p), temperature=293.15),
        tolerance=2e-3,
        reason="three printed digits",
    )


@pytest.mark.parametrize(
    ("micron", "celsius"),
    [
        (20000, 22.13),
        (10000, 11.23),
        (5000, 1.20),
        (2000, -9.71),
        (1000, -17.31),
        (500, -24.48),
        (300, -29.51),
        (200, -33.36),
        (100, -39.67),
        (50, -45.65),
    ],
)
def test_vapour_pressure_of_water_and_ice_on_a_vacuum_gauge(
    computed: Callable[..., None], micron: float, celsius: float
) -> None:
    computed(
        source="reference equation of water; sublimation after IAPWS",
        quantity=f"vapour pressure at {celsius:g} °C",
        unit="micron",
        expected=micron,
        ours=saturation_pressure(celsius + 273.15) / MICRON,
        tolerance=1.2e-3,
        reason="a hundredth of a kelvin, the last printed digit, is 0.1 % of the pressure",
    )


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("R-290", 9.05),
        ("R-600a", 10.1),
        ("R-1270", 9.3),
        ("R-152a", 16.5),
        ("R-32", 17.8),
        ("R-410A", 19.6),
        ("R-22", 21.9),
        ("R-134a", 22.2),
        ("R-12", 24.0),
    ],
)
def test_liquid_in_a_metre_of_hose(
    computed: Callable[..., None], name: str, printed: float
) -> None:
    hose = Hose(bore=4.8e-3, length=1.0, state="liquid")
    computed(
        source="liquid density of reference equations of state at 20 °C, bore 4.8 mm",
        quantity=f"{name} in 1 m",
        unit="g",
        expected=printed,
        ours=1e3 * hose_content(load(name), hose, 293.15).mass,
        tolerance=6e-3,
        reason="two to three printed digits",
    )


@pytest.mark.parametrize(("name", "printed"), [("R-290", 0.33), ("R-600a", 0.14), ("R-134a", 0.50)])
def test_vapour_in_a_metre_of_hose(
    computed: Callable[..., None], name: str, printed: float
) -> None:
    hose = Hose(bore=4.8e-3, length=1.0, state="gas")
    computed(
        source="saturated vapour of reference equations of state at 20 °C, bore 4.8 mm",
        quantity=f"{name} vapour in 1 m",
        unit="g",
        expected=printed,
        ours=1e3 * hose_content(load(name), hose, 293.15).mass,
        tolerance=0.035,
        reason="two printed digits",
    )


def test_nitrogen_in_a_shut_volume_follows_the_temperature(computed: Callable[..., None]) -> None:
    hot = expected_pressure(
        NITROGEN, pressure=(500.0 + PSIA) * PSI, temperature=fahrenheit(70.0),
        later=fahrenheit(71.0),
    )  # fmt: skip
    per_degree = hot / PSI - PSIA - 500.0
    computed(
        source="reference equation of state of nitrogen",
        quantity="rise of a hold at 500 psig for each degree Fahrenheit",
        unit="psi",
        expected=1.054,
        ours=per_degree,
        tolerance=5e-3,
        reason="virial series with two terms, last digit of the figure",
    )
    cold = expected_pressure(
        NITROGEN, pressure=(150.0 + PSIA) * PSI, temperature=fahrenheit(75.0),
        later=fahrenheit(60.0),
    )  # fmt: skip
    computed(
        source="law of the ideal gas",
        quantity="hold of 150 psig at 75 °F, later at 60 °F",
        unit="psig",
        expected=145.38,
        ours=cold / PSI - PSIA,
        tolerance=0.2,
        kind="absolute",
        reason="the ideal gas leaves out 3 % of the change with temperature at this pressure",
    )
    cold = expected_pressure(
        NITROGEN, pressure=10e5 + STANDARD_ATMOSPHERE, temperature=298.15, later=288.15
    )
    computed(
        source="law of the ideal gas",
        quantity="hold of 10.00 bar gauge at 25 °C, later at 15 °C",
        unit="bar(g)",
        expected=9.631,
        ours=(cold - STANDARD_ATMOSPHERE) / 1e5,
        tolerance=0.015,
        kind="absolute",
        reason="the ideal gas leaves out 3 % of the change with temperature at this pressure",
    )
