"""Which way a fault moves what can be read, against the printed table of signs.

Source: Rossi and Braun 1997, as Table 1-1 of the Purdue report "Fault Detection and Diagnostics for
Rooftop Air Conditioners", PUBLISHED. The table is of rooftop air conditioners, whose two coils
breathe different air; ours is a dehumidifier with a capillary, whose condenser breathes what the
evaporator leaves, running at nine tenths of its charge. The discharge temperature of a leaking
valve is left out: the printed sign is disputed.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.faults import FAULTS, Fault, faulted
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
QUANTITIES = (
    "evaporating temperature",
    "superheat",
    "condensing temperature",
    "subcooling",
    "discharge temperature",
    "warming of the condenser's air",
    "cooling of the evaporator's air",
)
# Fault, ours of a middling size, and the printed signs in the order of QUANTITIES.
SIGNS = {
    "undercharge": ("", 0.93, (-1, +1, -1, -1, +1, -1, -1)),
    "compressor valve leak": ("worn-valves", 0.85, (+1, -1, -1, -1, 0, -1, -1)),
    "liquid-line restriction": ("restriction", 0.88, (-1, +1, -1, +1, +1, -1, -1)),
    "dirty condenser": ("fouled-condenser", 0.6, (+1, -1, +1, -1, +1, +1, -1)),
    "dirty evaporator": ("fouled-evaporator", 0.6, (-1, -1, -1, -1, -1, -1, +1)),
}
# In series air the condenser's dirt does not slow the evaporator's air, nor does fouling of the
# evaporator that leaves the airflow as it is: the last column of both is another machine's.
OTHER_AIR = {
    ("dirty condenser", "cooling of the evaporator's air"),
    ("dirty evaporator", "cooling of the evaporator's air"),
}


@cache
def bench() -> tuple[Build, SteadyState]:
    build = build_for(read_job(SEED), compressor=2, refrigerant="R-134a", capillary=1)
    full = build.solve(filled(superheat=5.0), near=build.designed)
    return build, build.solve(fixed_charge(0.9 * full.charge), near=full)


def shown(balance: SteadyState, air: float) -> tuple[float, ...]:
    return (
        balance.evaporating_temperature,
        balance.superheat,
        balance.condensing_temperature,
        balance.subcooling,
        balance.discharge_temperature,
        balance.air_out[0] - balance.air_between[0],
        air - balance.air_between[0],
    )


@pytest.mark.parametrize("name", SIGNS)
def test_signs_of_a_fault(name: str, published: Callable[..., object]) -> None:
    build, healthy = bench()
    key, size, signs = SIGNS[name]
    charge = healthy.charge * (size if not key else 1.0)
    machine = (
        faulted(build.machine, Fault(kind=FAULTS[key], size=size), build) if key else build.machine
    )
    found = solve(build.refrigerant.table, build.line, machine, fixed_charge(charge), near=healthy)
    air = build.machine.air.temperature
    before, after = shown(healthy, air), shown(found, air)
    for quantity, sign, low, high in zip(QUANTITIES, signs, before, after, strict=True):
        if sign == 0:
            continue
        published(
            model="Faults of a machine",
            source="Rossi and Braun 1997",
            status="PUBLISHED",
            basis="similar",
            quantity=f"{name}: direction of the {quantity}",
            unit="",
            printed=sign,
            ours=1.0 if high > low else -1.0,
            tolerance=0.5,
            kind="absolute",
            reason="a direction is met or not",
            aim_only=(name, quantity) in OTHER_AIR,
        )
