"""Which way a fault moves what can be read, against the printed table of signs.

Source: Rossi and Braun 1997, as Table 1-1 of the Purdue report "Fault Detection and Diagnostics for
Rooftop Air Conditioners", PUBLISHED. The table is of rooftop air conditioners, whose two coils
breathe different air; ours is a dehumidifier with a capillary, whose condenser breathes what the
evaporator leaves, running at nine tenths of its charge. The discharge temperature of a leaking
valve is left out: the printed sign is disputed.

And how much too little and too much charge cost, by laboratory tests of air conditioners with
capillaries. No number of ours was chosen by these.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from tests.dehumidifiers import air_conditioner

from sweatline.air.saturation_line import SaturationLine
from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.faults import FAULTS, Fault, faulted
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, design, filled, fixed_charge, solve
from sweatline.machine.capillary_cut import cut_for
from sweatline.machine.circuit import MachineParameters
from sweatline.parts.compressor import Kind
from sweatline.refrigerant.table import Table

Charged = tuple[Table, SaturationLine, MachineParameters, SteadyState]

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


def a_dehumidifier(refrigerant: str, compressor: int, capillary: int) -> Charged:
    build = build_for(
        read_job(SEED), compressor=compressor, refrigerant=refrigerant, capillary=capillary
    )
    full = build.solve(filled(superheat=5.0), near=build.designed)
    return build.refrigerant.table, build.line, build.machine, full


def an_air_conditioner(kind: Kind) -> Charged:
    table, line, machine = air_conditioner(kind)
    full = solve(table, line, machine, design(superheat=6.0, subcooling=6.0))
    cut = cut_for(table, full, bore=machine.expansion.bore, bore_sd=0.02e-3)
    machine = machine._replace(expansion=machine.expansion._replace(length=cut.length))
    return table, line, machine, full


UNITS: dict[str, Callable[[], Charged]] = {
    "dehumidifier, R-134a": lambda: a_dehumidifier("R-134a", 0, 0),
    "dehumidifier, R-513A": lambda: a_dehumidifier("R-513A", 2, 2),
    "dehumidifier, R-290": lambda: a_dehumidifier("R-290", 1, 1),
    "air conditioner, R-22": lambda: an_air_conditioner("reciprocating"),
}


@cache
def about_the_best(name: str) -> tuple[SteadyState, dict[float, SteadyState]]:
    """At the charge of best efficiency, and at shares of it."""
    table, line, machine, full = UNITS[name]()
    runs = [full]
    for n in range(1, 16):
        target = fixed_charge((1.0 + 0.02 * n) * full.charge)
        runs.append(solve(table, line, machine, target, near=runs[-1]))
    best = max(runs, key=lambda b: b.cooling / b.total_power)
    at = {
        share: solve(table, line, machine, fixed_charge(share * best.charge), near=best)
        for share in (0.85, 1.1)
    }
    return best, at


# Share of the charge, what is lost, printed from and to in per cent.
LOSSES = [
    (0.85, "capacity", 8.0, 22.0),
    (0.85, "efficiency", 4.0, 6.0),
    (1.1, "capacity", 1.0, 9.0),
    (1.1, "efficiency", 4.0, 11.0),
]
HELD = {(1.1, "dehumidifier, R-134a"), (1.1, "dehumidifier, R-513A")}


@pytest.mark.parametrize("name", UNITS)
@pytest.mark.parametrize(("share", "what", "low", "high"), LOSSES)
def test_what_a_wrong_charge_costs(
    name: str, share: float, what: str, low: float, high: float, published: Callable[..., object]
) -> None:
    best, at = about_the_best(name)
    after = at[share]
    lost = after.cooling / best.cooling
    if what == "efficiency":
        lost /= after.total_power / best.total_power
    published(
        model="Faults of a machine",
        source="laboratory tests of units with capillaries, as told in Home Energy, May 2002",
        status="PUBLISHED",
        basis="similar",
        quantity=f"{what} lost at {share:.2f} of the best charge, {name}",
        unit="%",
        printed=0.5 * (low + high),
        ours=100.0 * (1.0 - lost),
        tolerance=0.5 * (high - low),
        kind="absolute",
        reason="the printed band, of several air conditioners; where oil holds much of the charge, "
        "less of a change reaches the coils",
        aim_only=(share, name) not in HELD,
    )
