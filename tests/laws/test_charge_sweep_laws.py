"""What instruments and surfaces show moves smoothly as charge is added to the example machines."""

from itertools import pairwise
from pathlib import Path

import pytest

from sweatline.answers import Range
from sweatline.assembly.build import build_for
from sweatline.charging.stop_rule import Settled, stop_conditions
from sweatline.constants import ZERO_CELSIUS
from sweatline.job.reading import read_job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.charge_curve import sweep_charge

EXAMPLES = Path(__file__).parents[2] / "examples"
# Job, refrigerant, compressor, capillary.
MACHINES = [
    ("boat-shed", "R-134a", 0, 1),
    ("boat-shed", "R-290", 0, 1),
    ("seed-store", "R-513A", 2, 2),
    ("seed-store", "R-290", 0, 1),
    ("timber-store", "R-134a", 0, 0),
]
STEP = 0.01  # of the charge to stop at


def starving(job_name: str, refrigerant: str, compressor: int, capillary: int) -> list[SteadyState]:
    """From the charge to stop at down to half of it."""
    job = read_job(EXAMPLES / f"{job_name}.toml")
    build = build_for(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    found = [build.solve(filled(superheat=job.targets.superheat), near=build.designed)]
    for n in range(1, 51):
        target = fixed_charge((1.0 - STEP * n) * found[0].charge)
        found.append(
            solve(build.refrigerant.table, build.line, build.machine, target, near=found[-1])
        )
    return found


@pytest.mark.parametrize(("job_name", "refrigerant", "compressor", "capillary"), MACHINES)
def test_surface_and_gas_move_smoothly_while_a_machine_starves(
    job_name: str, refrigerant: str, compressor: int, capillary: int
) -> None:
    """A percent of the charge moves the coldest surface by less than half a kelvin.

    It rises with the charge, but for a kelvin at most: where the wetted part of a coil in counter
    flow comes round the turn, the row behind gets air that is cooled already. So it passes
    freezing once. The discharge gas only cools.
    """
    runs = starving(job_name, refrigerant, compressor, capillary)
    cold = [b.coil_temperature - ZERO_CELSIUS for b in runs]
    hot = [b.discharge_temperature for b in runs]
    assert max(abs(b - a) for a, b in pairwise(cold)) < 0.5
    lowest = cold[0]
    for t in cold:
        assert t < lowest + 1.1
        lowest = min(lowest, t)
    assert sum((a < 0.0) != (b < 0.0) for a, b in pairwise(cold)) <= 1
    assert all(b > a for a, b in pairwise(hot))
    assert max(b - a for a, b in pairwise(hot)) < 2.5


def settled(b: SteadyState) -> Settled:
    """What instruments without an error settle at."""
    superheat = Range(low=b.superheat, middle=b.superheat, high=b.superheat)
    return Settled(at={"superheat": superheat, "return gas superheat": superheat}, model={})


@pytest.mark.parametrize(("job_name", "refrigerant", "compressor", "capillary"), MACHINES)
def test_too_much_charge_costs_capacity_and_the_stop_rule_knows(
    job_name: str, refrigerant: str, compressor: int, capillary: int
) -> None:
    """Past a top the curve bends down; whatever is a per cent down, the suction is wet."""
    job = read_job(EXAMPLES / f"{job_name}.toml")
    build = build_for(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    full = build.solve(filled(superheat=job.targets.superheat), near=build.designed)
    parts = build.refrigerant.table, build.line, build.machine
    runs = [full, *sweep_charge(*parts, full, low=1.0, high=1.7, step=0.05)]
    for of in (lambda b: b.cooling, lambda b: b.cooling / b.total_power):
        values = [of(b) for b in runs]
        top = max(range(len(runs)), key=values.__getitem__)
        assert runs[top].charge < 1.35 * full.charge
        assert values[-1] < 0.98 * values[top]
        assert all(b < a for a, b in pairwise(values[top:]))
        for b, value in zip(runs[top:], values[top:], strict=True):
            if value < 0.99 * values[top]:
                dry = next(r for r in stop_conditions(build, settled(b)) if r.key == "dry suction")
                assert dry.state == "no"
    assert runs[-1].suction_quality < 1.0
