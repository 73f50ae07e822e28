"""A tight circuit stays inside the band that a pressure test is held against, 9 times in 10."""

from __future__ import annotations

import numpy as np

from sweatline.air.permanent_gas import gas_named
from sweatline.bench.tightness.pressure_hold import (
    HoldInstruments,
    HoldReading,
    expected_pressure,
    leak_rate,
)

ATMOSPHERE = 101325.0
TESTS = 600


def test_nine_tight_circuits_in_ten_stay_inside_the_band() -> None:
    rng = np.random.default_rng(20260301)
    gas, instruments = gas_named("nitrogen"), HoldInstruments()
    times = np.array([0.0, 3600.0, 20000.0, 80000.0])
    warm = np.array([293.0, 294.5, 291.0, 296.0])
    true = np.array(
        [expected_pressure(gas, pressure=9e5, temperature=293.0, later=t) for t in warm]
    )
    cov_p, cov_t = instruments.covariance(times, true, warm, ATMOSPHERE)
    inside = np.zeros(times.size)
    for _ in range(TESTS):
        pressures = rng.multivariate_normal(true, cov_p)
        warmths = rng.multivariate_normal(warm, cov_t)
        hold = leak_rate(
            gas,
            [
                HoldReading(time=float(t), pressure=float(p), temperature=float(w))
                for t, p, w in zip(times, pressures, warmths, strict=True)
            ],
            volume=2e-3, instruments=instruments, atmosphere=ATMOSPHERE,
        )  # fmt: skip
        inside += [one.tight.low <= one.pressure <= one.tight.high for one in hold.looks]
    # Three standard errors of 600 counts about 0.9.
    assert np.all(np.abs(inside[1:] / TESTS - 0.9) < 0.037)
