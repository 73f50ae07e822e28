"""Machines from seeds: each has a balance that balances, or a physical reason for having none.

`make survey` does this for ten thousand of them; here are the first few and those that once failed.
"""

import dataclasses
import math

import numpy as np
import pytest
from tests.closure import closure
from tests.leaves import leaves
from tests.random_machines import RandomMachine, random_machine

from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, Target, filled, fixed_charge, solve
from sweatline.machine.continuation import follow
from sweatline.machine.search import NOT_FOUND
from sweatline.machine.steady import SteadyMachine, residuals

SAMPLE = range(30)
# Seeds on which the solver once found nothing or named a reason that was not so, and what it took.
ONCE_FAILED = {
    4: "overcharged; at a kink the curve was followed back the way it came",
    54: "design; said to be out of reach, but no guess came near: brackets do",
    62: "said to pass too little at every pressure; along the curve it has a balance",
    81: "condenser near the critical point; a kink at which the curve turns by a right angle",
    86: "the drop in one long narrow tube sets the flow: no guess with a wanted superheat is near",
    88: "said to pass too much at every pressure; it floods, and has a balance when started wet",
    107: "0.6 mm of capillary on 50 cm3: deep into vacuum over kinks at every cell of the coil",
    219: "cabinet of -23 °C; the curve turns round at a kink near the critical point",
    279: "no subcooling with a dry suction at any head pressure: started flooded",
    295: "no guess comes near; kinks where cells turn two-phase",
    380: "delayed flashing ended at once where gas reached the tube: a jump of 1.4 % in its flow",
    408: "pressure drop beyond the suction pressure, which brackets took for a wet outlet",
    3907: "design with the condenser's air colder than the evaporator's: the end had no name",
    612: "overcharged; the charge has a maximum along the curve and falls again",
    **dict.fromkeys(
        (1434, 1670, 5774, 7345),
        "neither balance nor reason as long as the shell lost a fixed share of the input",
    ),
    **dict.fromkeys(
        (1566, 3968, 5363, 8110),
        "liquid in a rotary's shell: it gave off the heat of saturation, or got some from nowhere",
    ),
    **dict.fromkeys(
        (2907, 4746),
        "suction gas hotter than a household shell gives the room more than the input",
    ),
    2696: "the curve stuck at a kink, where all gas leaves the condenser; the state lay beyond",
    5240: "half the pressure is lost in the evaporator's tubes: brackets gave no reason",
    **dict.fromkeys((1167, 8925), "gas on both sides of a suction exchanger was not followed out"),
}


def result_of(made: RandomMachine) -> tuple[Target, SteadyState | None, str]:
    """What was asked, the balance if there is one, else the reason."""
    table, line, machine = made.table, made.line, made.machine
    filling = None
    if made.aim == "share of the filling":
        try:
            filling = solve(table, line, machine, filled(superheat=made.superheat)).charge
        except SolveError:
            filling = None
    target = made.target(filling)
    try:
        return target, solve(table, line, machine, target, profiles=True), ""
    except SolveError as error:
        return target, None, error.condition


@pytest.mark.parametrize("seed", [*SAMPLE, *ONCE_FAILED])
def test_a_balance_that_balances_or_a_reason(seed: int) -> None:
    made = random_machine(seed)
    target, balance, why = result_of(made)
    if balance is None:
        assert why != NOT_FOUND, made.words
        return
    worst, name = closure(made.table, made.machine, target, balance).worst()
    assert worst < 1e-6, f"{name}: {made.words}"


def test_liquid_that_fills_a_shell_is_told() -> None:
    _target, balance, _why = result_of(random_machine(1566))
    assert balance is not None
    assert any("only liquid leaves the compressor" in note for note in balance.notes)


def test_seeds_are_machines() -> None:
    """The same seed is the same machine; different seeds differ; the corners are visited."""
    assert leaves(random_machine(7).machine) == leaves(random_machine(7).machine)
    many = [random_machine(seed) for seed in range(300)]
    assert len({m.refrigerant for m in many}) == 18
    assert {m.aim for m in many} == {
        "design",
        "filled",
        "share of the filling",
        "share of the volume",
    }
    assert {m.machine.evaporator.rows for m in many} == {1, 2, 3, 4, 5}
    assert {m.machine.evaporator.counter for m in many} == {False, True}
    assert {m.machine.air.arrangement for m in many} == {0, 1}
    assert {m.machine.compressor.oil_at_discharge for m in many} == {0.0, 1.0}
    assert min(m.share for m in many) < 0.25
    assert max(m.share for m in many) > 1.7


def test_the_check_can_fail() -> None:
    """A balance that is moved by a hair no longer closes."""
    made = random_machine(1)
    target, balance, _why = result_of(made)
    assert balance is not None
    for change in (
        {"compressor_power": 1.0001 * balance.compressor_power},
        {"cooling": 1.0001 * balance.cooling},
        {"water": 1.01 * balance.water + 1e-6},
        {"charge": 1.0001 * balance.charge},
        {"suction_pressure": 1.0001 * balance.suction_pressure},
        {"liquid_pressure": 1.0001 * balance.liquid_pressure},
    ):
        moved = dataclasses.replace(balance, **change)
        assert closure(made.table, made.machine, target, moved).worst()[0] > 1e-6, change


@pytest.mark.parametrize("seed", [0, 1, 5, 7, 15])
def test_a_curve_leads_to_the_same_state(seed: int) -> None:
    """The filled machine, then along its curve to 0.8 and 1.15 of that charge, as by Newton."""
    made = random_machine(seed)
    table, line, machine = made.table, made.line, made.machine
    full = solve(table, line, machine, filled(superheat=5.0))
    for share in (0.8, 1.15):
        target = fixed_charge(share * full.charge)
        direct = solve(table, line, machine, target, near=full)
        stretch = follow(
            SteadyMachine.of(table, line, machine, target),
            np.array(full.unknowns),
            drop=3,
            upward=share > 1.0,
            tolerance=1e-8,
        )
        assert stretch.end == "found"
        assert stretch.found is not None
        for a, b in zip(stretch.found.y[:3], direct.unknowns[:3], strict=True):
            assert math.isclose(a, b, abs_tol=1e-7)


def test_where_a_curve_ends_is_a_state_at_the_limit() -> None:
    """Overcharge of seed 7: the curve ends at the top of the table, on a state that balances but
    for its charge, and every charge on the way was smaller."""
    made = random_machine(7)
    table, line, machine = made.table, made.line, made.machine
    full = solve(table, line, machine, filled(superheat=made.superheat))
    target = fixed_charge(2.0 * full.charge)
    system = SteadyMachine.of(table, line, machine, target)
    stretch = follow(
        system,
        np.array(full.unknowns),
        drop=3,
        upward=True,
        tolerance=1e-8,
        most=5000,
    )
    assert stretch.end == "head at the end of the table"
    assert stretch.last[1] > math.log(0.97 * table.p_max)
    left = residuals(system.begun(None), stretch.last)
    assert np.abs(left[:3]).max() < 1e-6
    assert left[3] == pytest.approx(stretch.value, abs=1e-6)
    assert stretch.nearest < 0.0
