"""Forecast readings of real machines against what they then showed.

Sources stand at the head of each table: a household refrigerator, eleven appliances at four moments
of each run, a small water/water machine read by hand every minute. None is a machine that settles
at once; a trend is part of each. One start, five appliances, two thermometers and three other
series of the same practical were used when it was chosen what the filters take a machine for; the
record says which. The others were looked at, but nothing was chosen by them.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from sweatline.charging.settling import Settling
from sweatline.log.channels import Character

HERE = Path(__file__).parent
REASON = "a 90 % band should hold 90 %; two standard deviations of a share"


def table(name: str) -> list[dict[str, str]]:
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def ahead(
    times: list[float], values: list[float], character: Character, horizon: float
) -> Iterator[bool]:
    """Whether each reading to come, `horizon` seconds on, lies in the band forecast."""
    settling = Settling(character)
    for t, y in zip(times, values, strict=True):
        settling.update(t, y)
        if t - times[0] >= 60.0 and t + horizon <= times[-1]:
            _median, low, high = settling.foretold(t + horizon)
            yield low <= np.interp(t + horizon, times, values) <= high


def record(
    published: Callable[..., object], what: str, source: str, held: list[bool], *, chosen: bool
) -> None:
    published(
        model="settling of readings",
        source=source,
        status="PUBLISHED",
        basis="measured",
        quantity=f"share of readings inside the forecast band: {what}",
        unit="",
        printed=0.90,
        ours=float(np.mean(held)),
        tolerance=max(2.0 * np.sqrt(0.09 / len(held)), 0.02),
        kind="absolute",
        reason=f"{REASON} of {len(held)}; readings of one run depend on each other",
        aim_only=True,
        in_sample=chosen,
    )


@pytest.mark.parametrize("start", ["1", "2"])
def test_refrigerator_starts(start: str, published: Callable[..., object]) -> None:
    rows = [r for r in table("refrigerator_starts.csv") if r["start"] == start]
    times = [float(r["t_s"]) for r in rows]
    watts = [float(r["power_W"]) for r in rows]
    character = Character(noise=0.4, span=10.0, tolerance=1.0)
    held = [h for z in (120.0, 300.0, 600.0) for h in ahead(times, watts, character, z)]
    what = f"watts of a refrigerator 2, 5 and 10 min ahead, start {start}"
    record(published, what, "household R-600a study", held, chosen=start == "1")
    assert np.mean(held) > 0.75


@pytest.mark.parametrize(
    ("places", "words", "chosen"),
    [
        (("T6", "T9"), "two places of a refrigerator's cabinet", True),
        (("T7", "T8", "T11"), "three other places of it, pipes too,", False),
    ],
)
def test_refrigerator_pulled_down(
    places: tuple[str, ...], words: str, chosen: bool, published: Callable[..., object]
) -> None:
    """Air and pipes that begin to fall late, and then faster and faster."""
    rows = table("refrigerator_pulldown.csv")
    times = [float(r["t_s"]) for r in rows]
    character = Character(noise=0.15, span=5.0, tolerance=0.5)
    held = {
        z: [h for p in places for h in ahead(times, [float(r[p]) for r in rows], character, z)]
        for z in (120.0, 300.0, 600.0)
    }
    every = [h for some in held.values() for h in some]
    what = f"temperature in {words} 2, 5 and 10 min ahead"
    record(published, what, "household R-600a study", every, chosen=chosen)
    assert all(np.mean(some) > 0.8 for some in held.values())


def test_pull_down_read_by_hand(published: Callable[..., object]) -> None:
    rows = table("water_pulldown.csv")
    times = [float(r["t_s"]) for r in rows]
    for name, words, character in (
        ("low_bar", "suction gauge", Character(noise=0.06, span=1.0, tolerance=0.05)),
        ("high_bar", "head gauge", Character(noise=0.08, span=2.0, tolerance=0.1)),
        ("power_W", "watts", Character(noise=2.0, span=30.0, tolerance=2.0)),
    ):
        values = [float(r[name]) for r in rows]
        for horizon in (120.0, 300.0, 600.0):
            held = list(ahead(times, values, character, horizon))
            what = f"{words} of a water/water machine {horizon / 60.0:.0f} min ahead"
            record(published, what, "university practical V206, series B4", held, chosen=False)
            # Ten minutes ahead the water's own climb is what is forecast, and falls short.
            assert np.mean(held) > 0.7 or horizon > 300.0


def test_runs_of_many_appliances(published: Callable[..., object]) -> None:
    by_appliance: dict[str, list[bool]] = {}
    for r in table("compressor_runs.csv"):
        scale = float(r["P_60s_W"])
        settling = Settling(
            Character(noise=0.01 * scale, span=0.15 * scale, tolerance=0.02 * scale)
        )
        for t, name in ((10.0, "P_10s_W"), (60.0, "P_60s_W"), (300.0, "P_300s_W")):
            settling.update(t, float(r[name]))
        _median, low, high = settling.foretold(float(r["on_s"]))
        held = low <= float(r["P_end_W"]) <= high
        by_appliance.setdefault(r["appliance"], []).append(held)
    chosen = {"FZ1", "RF1", "RF3", "RF5", "RF7"}
    for seen, words in ((True, "used in choosing"), (False, "not used")):
        held = [h for a, hs in by_appliance.items() if (a in chosen) == seen for h in hs]
        what = f"watts at the end of a run from three readings, appliances {words}"
        record(published, what, "tracebase data set (ODbL)", held, chosen=seen)
        assert np.mean(held) > 0.85
