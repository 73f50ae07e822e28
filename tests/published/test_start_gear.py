"""Capacitors, their discharge and wire against values from print.

The capacitor figures are arithmetic on textbook equations, done apart from this code; the wire
tables are those of standards, from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sweatline.bench.start_gear.equalising import CapillarySize, equalising_times, rest_by_hand
from sweatline.bench.start_gear.gear import MOTOR_TYPES, RELAYS, START_DUTY, Device
from sweatline.bench.start_gear.motor import STRANDED, gauge_area, wire_resistance
from sweatline.bench.start_gear.rest import rest_before_start
from sweatline.refrigerant.refrigerant import load
from sweatline.safety.start_gear import EQUAL_ENOUGH


@pytest.mark.parametrize(("gauge", "printed"), [(12, 5.211), (14, 8.286), (16, 13.17), (18, 20.95)])
def test_resistance_of_an_american_gauge(
    published: Callable[..., Any], gauge: int, printed: float
) -> None:
    published(
        model="cord", source="wire tables after ASTM B258", status="MEMORY 0.95", basis="rule",
        quantity=f"{gauge} AWG, solid copper at 20 °C", unit="ohm/km", printed=printed,
        ours=wire_resistance(length=1000.0, area=gauge_area(gauge), temperature=293.15),
        tolerance=1e-3, reason="four printed digits",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("square_millimetres", "printed"), [(0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98)]
)
def test_resistance_of_a_flexible_cord(
    published: Callable[..., Any], square_millimetres: float, printed: float
) -> None:
    published(
        model="cord", source="IEC 60228 class 5, largest allowed", status="MEMORY 0.85",
        in_sample=True,  # the allowance for the strands was chosen from this table
        basis="rule", quantity=f"{square_millimetres:g} mm2 flexible copper at 20 °C",
        unit="ohm/km", printed=printed,
        ours=wire_resistance(
            length=1000.0, area=square_millimetres * 1e-6, temperature=293.15,
            stranded=STRANDED["metric"],
        ),
        tolerance=0.02, reason="one allowance for all sections; the table's lies within 2 % of it",
    )  # fmt: skip


_HANDBOOK = "service handbook of a compressor maker"
_TEXT = "service text on hermetic motor types"


@pytest.mark.parametrize(
    ("kind", "horsepower", "source"),
    [("rsir", 1.0 / 3.0, _HANDBOOK), ("csir", 0.75, _HANDBOOK), ("psc", 5.0, _TEXT),
     ("csr", 5.0, _TEXT)],
)  # fmt: skip
def test_size_up_to_which_a_motor_is_made(
    published: Callable[..., Any], kind: str, horsepower: float, source: str
) -> None:
    (motor,) = (m for m in MOTOR_TYPES if m.kind == kind)
    published(
        model="start gear", source=source, status="PUBLISHED", basis="practice", in_sample=True,
        quantity=f"largest {kind.upper()} motor", unit="hp", printed=horsepower,
        ours=motor.largest / 745.7, tolerance=1e-3, reason="a rule is taken as it stands",
    )  # fmt: skip


def test_duty_of_a_start_capacitor(published: Callable[..., Any]) -> None:
    """Ten starts of six seconds in an hour, says the manual beside the marking of 1.7 %."""
    published(
        model="start gear", source="service manual of a compressor maker, ten starts of 6 s",
        status="PUBLISHED", basis="rule", quantity="seconds an hour of a start capacitor",
        unit="s", printed=60.0, ours=3600.0 * START_DUTY, tolerance=0.03,
        reason="the marking has two digits",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("device", "source", "printed"),
    [
        ("none", "compressor maker's guide, restart delay of dehumidifiers and room units", 180.0),
        ("ptc", "fault guide of a compressor maker, before a new test", 300.0),
    ],
)
def test_rest_of_a_low_torque_motor(
    published: Callable[..., Any], device: Device, source: str, printed: float
) -> None:
    rest = rest_before_start(replace(RELAYS[device], starting_torque="low"), None)
    assert rest is not None
    published(
        model="start gear", source=source, status="PUBLISHED", basis="practice", in_sample=True,
        quantity=f"rest before a start, device {device}", unit="s", printed=printed,
        ours=rest.time, tolerance=1e-3, reason="a rule is taken as it stands",
    )  # fmt: skip


def test_a_refrigerator_is_equal_within_what_print_gives_a_sound_one(
    published: Callable[..., Any],
) -> None:
    """A capillary not equal after 3 to 4 min is called blocked; so a sound one is by then."""
    tube, sides = rest_by_hand(
        load("R-134a"), CapillarySize(bore=0.65e-3, length=3.0), head=10e5, suction=1.2e5,
        high_volume=0.27e-3, low_volume=1.5e-3, liquid=0.02, room=298.15,
    )  # fmt: skip
    times = equalising_times(tube, sides, left=EQUAL_ENOUGH)
    published(
        model="start gear", source="trade text on blocked capillaries, 3 to 4 min",
        status="PUBLISHED", basis="similar", unit="s", printed=210.0,
        quantity="a household refrigerator's sides equal, 95 of 100",
        ours=float(np.quantile(times, 0.95)), tolerance=0.4,
        reason="a sound one is quicker than the time that tells a blocked one, which is a span",
    )  # fmt: skip
