"""Own output, frozen: it guards against change by accident and says nothing about nature.

A change made on purpose is taken over with ``python -m tests.regression.test_own_output``.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.dehumidifiers import PRESSURE, Dehumidifier

from sweatline.air.saturation_line import saturation_line
from sweatline.constants import ZERO_CELSIUS
from sweatline.machine.balance import design, filled, fixed_charge, solve
from sweatline.parts.capillary_flow import flow_hermes, flow_rp762, flow_through
from sweatline.parts.coil import AirInlet, RefrigerantInlet, coil_memory
from sweatline.parts.coil_march import march
from sweatline.parts.compressor import RATING_CONDITIONS, generic, operate
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import bubble_pressure, dew_pressure, enthalpy_liquid, saturation

FROZEN = Path(__file__).with_name("own_output.json")
Values = dict[str, dict[str, float]]
TOLERANCE = {"capillary": 1e-6, "compressor": 1e-6, "coil": 1e-5, "machine": 1e-5}


def capillaries() -> Values:
    found = {}
    for name, bore, length, condensing, subcooling in (
        ("R-134a", 1.1e-3, 3.0, 325.0, 15.0),
        ("R-152a", 0.9e-3, 1.2, 310.0, 4.0),
        ("R-290", 1.0e-3, 0.8, 315.0, 6.0),
        ("R-600a", 0.7e-3, 3.0, 313.0, 8.0),
        ("R-454C", 1.2e-3, 1.0, 318.0, 5.0),
    ):
        table = load(name).table
        p, t = bubble_pressure(table, condensing), condensing - subcooling
        tube = {"bore": bore, "length": length, "inlet_pressure": p}
        flow = flow_through(
            table, inlet_enthalpy=enthalpy_liquid(table, p, t), outlet_pressure=2e5, **tube
        )
        found[name] = {
            "flow": flow.mass_flow,
            "end_pressure": flow.end_pressure,
            "liquid_length": flow.liquid_length,
            "rp762": flow_rp762(table, inlet_temperature=t, **tube),
            "hermes": flow_hermes(table, inlet_temperature=t, outlet_pressure=2e5, **tube),
        }
    return found


def compressors() -> Values:
    found = {}
    for kind, name, rating in (
        ("reciprocating", "R-134a", "commercial MBP"),
        ("reciprocating", "R-600a", "ASHRAE LBP"),
        ("rotary", "R-410A", "ARI air-conditioning"),
        ("rotary", "R-290", "EN 12900 air-conditioning"),
    ):
        c = RATING_CONDITIONS[rating]
        run = operate(
            load(name).table,
            generic(kind, displacement=7e-6, frequency=50.0, fixed_loss=45.0),
            evaporating=c.evaporating,
            condensing=c.condensing,
            suction=c.suction,
            liquid=c.liquid,
        )
        found[f"{kind} {name}"] = {
            "flow": run.mass_flow,
            "power": run.power,
            "capacity": run.capacity,
            "discharge_temperature": run.discharge_temperature,
        }
    return found


def coils() -> Values:
    found = {}
    line = saturation_line(PRESSURE)
    build = Dehumidifier(
        refrigerant="R-134a",
        displacement=9e-6,
        temperature=299.15,
        relative_humidity=0.6,
        airflow=0.09,
    )
    for name, rows, heated, t_sat, quality, air_t in (
        ("R-152a", 2, True, 278.0, 0.2, 300.0),
        ("R-454C", 3, True, 281.0, 0.3, 302.0),
        ("R-290", 3, False, 315.0, 1.25, 293.0),
    ):
        table = load(name).table
        p = dew_pressure(table, t_sat)
        hl, hg = saturation(table, p)[2:4]
        coil = build.coil(rows)
        run = march(
            table,
            line,
            coil,
            RefrigerantInlet(4e-3, p, hl + quality * (hg - hl)),
            AirInlet(air_t, 0.012, 0.1),
            heated,
            coil_memory(coil),
        )
        found[name] = {
            of: float(getattr(run, of))
            for of in ("pressure", "enthalpy", "heat", "water", "air_enthalpy", "charge", "coldest")
        }
    return found


def machines() -> Values:
    found = {}
    for name, displacement, length in (
        ("R-134a", 9e-6, 0.20),
        ("R-152a", 10e-6, 0.40),
        ("R-290", 6e-6, 0.70),
    ):
        table, line, machine = Dehumidifier(
            refrigerant=name,
            displacement=displacement,
            temperature=26.0 + ZERO_CELSIUS,
            relative_humidity=0.6,
            airflow=0.09,
            capillary_length=length,
        ).build()
        full = solve(table, line, machine, filled(superheat=5.0))
        for what, target in (
            ("design", design(superheat=5.0, subcooling=5.0)),
            ("filled", filled(superheat=5.0)),
            ("short", fixed_charge(0.75 * full.charge)),
            ("over", fixed_charge(1.2 * full.charge)),
        ):
            b = solve(table, line, machine, target)
            found[f"{name} {what}"] = {
                of: getattr(b, of)
                for of in (
                    "suction_pressure",
                    "discharge_pressure",
                    "suction_quality",
                    "liquid_quality",
                    "flow",
                    "total_power",
                    "cooling",
                    "water",
                    "charge",
                    "discharge_temperature",
                )
            }
    return found


SOURCES = {
    "capillary": capillaries,
    "compressor": compressors,
    "coil": coils,
    "machine": machines,
}


@pytest.mark.parametrize("group", SOURCES)
def test_nothing_changed(group: str) -> None:
    frozen = json.loads(FROZEN.read_text(encoding="utf-8"))[group]
    found = SOURCES[group]()
    assert found.keys() == frozen.keys()
    for case, values in frozen.items():
        expected = pytest.approx(values, rel=TOLERANCE[group], abs=1e-9)
        assert found[case] == expected, f"{group}: {case}"


def main() -> None:
    """Freeze what comes out today."""
    values = {group: of() for group, of in SOURCES.items()}
    FROZEN.write_text(json.dumps(values, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
