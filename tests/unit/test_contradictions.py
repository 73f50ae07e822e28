"""Readings that cannot be right together, and whether exchanging them would mend it."""

from __future__ import annotations

from pathlib import Path

from sweatline.assembly.build import build_for
from sweatline.constants import ZERO_CELSIUS
from sweatline.diagnosis.contradictions import contradictions_in
from sweatline.diagnosis.weighed import Reading
from sweatline.job.reading import read_job

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"


def test_an_exchange_is_offered_only_where_it_is_in_order_with_the_rest() -> None:
    build = build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)

    def swapped(**celsius: float) -> list[bool]:
        readings = [
            Reading(channel=name.replace("_", " "), value=t + ZERO_CELSIUS, sd=0.5)
            for name, t in celsius.items()
        ]
        return [c.swapped for c in contradictions_in(build, readings)]

    assert swapped(discharge_gas=15.0, suction_gas=60.0) == [True]
    assert swapped(discharge_gas=15.0, suction_gas=60.0, liquid_line=25.0) == [True, False]
    assert swapped(discharge_gas=15.0, suction_gas=20.0, liquid_line=25.0) == [False, True]
    assert swapped(discharge_gas=60.0, suction_gas=15.0, liquid_line=25.0) == []
