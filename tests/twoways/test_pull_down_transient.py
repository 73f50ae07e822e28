"""The bounds of the hardest minute against the machine that moves, started with a flooded low side.

The moving machine cannot start from equal pressures (a side then holds more than any pressure
accounts for), so part of what the high side holds is moved over, and all metal is as cold as the
room. Larger shares than these (0.4 and 0.3 were tried) it does not follow.
"""

from pathlib import Path

import pytest

from sweatline.job.reading import read_job
from sweatline.machine.balance import filled
from sweatline.machine.transient import Stores, Transient
from sweatline.study.motor_load import hardest_power
from sweatline.study.rig import rig_for

EXAMPLES = Path(__file__).parents[2] / "examples"
STORES = Stores(shell=5000.0, evaporator=900.0, condenser=1200.0, liquid_lag=10.0)


@pytest.mark.parametrize(
    ("name", "share"), [("seed-store", 0.3), ("timber-store", 0.15), ("timber-store", 0.2)]
)
def test_the_moving_machine_peaks_within_the_bounds(name: str, share: float) -> None:
    job = read_job(EXAMPLES / f"{name}.toml")
    rig = rig_for(job, compressor=0, refrigerant="R-134a", capillary=0)
    settled = rig.solve(filled(superheat=job.targets.superheat), near=rig.designed)
    most = hardest_power(rig.refrigerant, rig.machine, settled, follows=1.0, reaches=1.0)[0]
    moving = Transient(rig.refrigerant.table, rig.line, rig.machine, settled, STORES)
    state = moving._state
    room = rig.machine.air.ambient
    over = share * (settled.charge - state.low)
    moving._state = state._replace(
        low=state.low + over, shell=room, evaporator=room, condenser=room
    )
    peak = max(moving.run(2.0, step=1.0).power for _ in range(30))
    assert 1.02 * settled.power < peak < most
