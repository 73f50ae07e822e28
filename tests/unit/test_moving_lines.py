"""Lines that move lie in the frame where the frame's own drawing puts them."""

from __future__ import annotations

import functools
import re
from pathlib import Path

import numpy as np
import pytest

from sweatline.design.balance import BalanceAnswer, balance
from sweatline.job.reading import read_job
from sweatline.refrigerant.table import saturation
from sweatline.report.moving import MovingAir, MovingStates

EXAMPLES = Path(__file__).parents[2] / "examples"


@functools.cache
def machine() -> BalanceAnswer:
    job = read_job(EXAMPLES / "seed-store.toml")
    return balance(job, compressor=0, refrigerant="R-513A", capillary=1, draws=0)


def test_places_are_those_of_the_frames_own_lines() -> None:
    found = machine()
    moving = MovingStates(found.build, found.steady, "SI")
    place = moving.drawing.placing
    left, top, width, height = place.box
    lowest = np.exp((top + height - place.upward[0]) / place.upward[1])
    liquid = saturation(found.build.refrigerant.table, float(lowest))[2]
    (x,), (y,) = place(moving.unit([liquid]), [lowest])
    begun = [
        (float(a), float(b))
        for a, b in re.findall(r'<path d="M ([\d.]+) ([\d.]+)', moving.drawing.svg)
    ]
    assert min(np.hypot(a - x, b - y) for a, b in begun) < 0.05
    assert left < x < left + width


@pytest.mark.parametrize("kind", [MovingStates, MovingAir])
def test_the_state_that_a_frame_is_drawn_for_lies_in_it(
    kind: type[MovingStates] | type[MovingAir],
) -> None:
    found = machine()
    moving = kind(found.build, found.steady, "SI")
    moves, inside = moving.moves(found.build, found.steady)
    assert inside
    drawn = moving.drawing.moved(moves)
    for key in moves:
        assert f'id="{key}"' in drawn or key.endswith("-told")
    assert "[" not in re.sub(r"<[^>]*>", "", drawn)  # every name is filled in


def test_a_state_beyond_the_frame_is_told() -> None:
    found = machine()
    moving = MovingStates(found.build, found.steady, "SI")
    job = read_job(EXAMPLES / "seed-store.toml")
    other = balance(job, compressor=0, refrigerant="R-290", capillary=1, draws=0)
    assert not moving.moves(other.build, other.steady)[1]
