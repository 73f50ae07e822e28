"""Flow of thin gas through a tube: the handbook's sum of regimes against Knudsen's own form."""

import numpy as np
import pytest

from sweatline.air.permanent_gas import AIR
from sweatline.bench.evacuation.pump_down import Segment, air_way
from sweatline.bench.leak_channel import LeakGas, throughput


@pytest.mark.parametrize("bore", [0.8e-3, 4.8e-3, 9.5e-3])
def test_the_sum_is_never_below_knudsen_and_at_most_15_per_cent_above(bore: float) -> None:
    way = air_way([Segment(bore=bore, length=3.0)], 293.15)
    air = LeakGas(
        name="air",
        molar_mass=AIR.molar_mass,
        viscosity=AIR.viscosity(293.15),
        temperature=293.15,
    )
    ratios = []
    for mean in np.geomspace(1e-5, 30.0, 41) / bore:
        # so small a drop that inertia has no say
        inside, outside = 1.0005 * mean, 0.9995 * mean
        knudsen = throughput(
            np.array([bore]), np.array([3.0]), inside=inside, outside=outside, gas=air
        )
        ratios.append(way.throughput(inside, outside) / float(knudsen[0]))
    assert min(ratios) > 0.999
    assert 1.13 < max(ratios) < 1.155
    # Both ends of the pressures are pure regimes, where the two are the same.
    assert ratios[0] == pytest.approx(1.0, abs=2e-3)
    assert ratios[-1] == pytest.approx(1.0, abs=2e-3)
