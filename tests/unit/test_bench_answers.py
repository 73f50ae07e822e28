"""What the bench commands say in cases a technician runs into."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pytest

from sweatline.bench.evacuation.pump_down import Circuit, Segment, air_way, pump_down
from sweatline.cli.main import main
from sweatline.units import Scale


def typed(*arguments: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return code, out.getvalue(), err.getvalue()


def asked(*arguments: str) -> dict[str, Any]:
    code, out, err = typed(*arguments, "--json")
    assert code == 0, err
    return dict(json.loads(out))


SEED = str(Path(__file__).parents[2] / "examples" / "seed-store.toml")
PLAN = ("tightness", "--refrigerant", "R-134a", "--pressure", "9 bar(g)")


def test_a_plan_says_what_else_could_find_such_a_leak() -> None:
    small = asked(*PLAN, "--volume", "2.5 L", "--see", "5 g/yr")
    large = asked(*PLAN, "--volume", "2.5 L", "--see", "2000 g/yr")
    chance = {
        name: {m["key"]: m["chance"] for m in one["methods"]}
        for name, one in (("small", small), ("large", large))
    }
    assert chance["small"]["bubbles"] < 0.05
    assert chance["small"]["sniffer"] > 0.95
    assert chance["large"]["bubbles"] > 0.95
    told = " ".join(typed(*PLAN, "--volume", "2.5 L")[1].split())
    named = told.partition("Ways of looking that find it: ")[2].partition(".")[0]
    assert "electronic sniffer" in named
    assert "bubble solution" not in named
    assert "bubble solution" in typed(*PLAN, "--volume", "2.5 L", "--details")[1]


def test_no_hold_is_shorter_than_the_gas_takes_to_settle() -> None:
    quick = asked(*PLAN, "--volume", "0.05 L", "--see", "2000 g/yr")
    assert quick["plan"]["hold_s"] == 900.0
    assert asked(*PLAN, "--volume", "2.5 L")["plan"]["hold_s"] > 20 * 86400.0
    parts = (SEED, "--compressor", "1", "--refrigerant", "R-134a", "--pressure", "9 bar(g)")
    search = asked("tightness", *parts, "--see", "2000 g/yr")["search"]
    assert min(step["hold_s"] for step in search["steps"]) == 900.0


def test_a_hold_that_was_read_says_how_long_it_should_have_been() -> None:
    readings = ("--reading", "0 h, 9 bar(g), 20 C", "--reading", "20 h, 9 bar(g), 20 C")
    held = asked("tightness", "--refrigerant", "R-134a", "--volume", "2.5 L", *readings)
    assert held["plan"] == asked(*PLAN, "--volume", "2.5 L")["plan"]
    assert held["plan"]["hold_s"] > held["hold"]["duration_s"]


def test_a_rise_that_ends_at_the_limit_meets_it() -> None:
    looks = ("--rise", "0 min, 300 micron", "--rise", "5 min, 900 micron")
    at = asked("evacuation", *looks, "--rise", "10 min, 1500 micron")
    above = asked("evacuation", *looks, "--rise", "10 min, 1520 micron")
    assert at["criteria"][3]["name"] == "1500 micron after 10 min"
    assert at["criteria"][3]["met"] is True
    assert above["criteria"][3]["met"] is False


def test_a_gauge_held_up_while_pumping() -> None:
    way = (
        *("evacuation", "--pump", "2 cfm", "--low-hose", "4.8 mm, 1.5 m"),
        *("--high-hose", "4.8 mm, 1.5 m", "--low-volume", "1.5 L", "--high-volume", "1 L"),
        *("--capillary", "0.8 mm, 2 m"),
    )
    up = asked(*way, "--pumped", "40 min, 2000 micron")
    (look,) = up["pumped"]
    load = look["gas_load_Pa_m3_per_s"]
    assert any("held up" in note for note in up["notes"])
    said = " ".join(typed(*way, "--pumped", "40 min, 2000 micron")[1].split())
    assert said.startswith("After 40 min of pumping the gauge shows 2000 micron. Gas keeps coming")
    # The same load put into the model holds the gauge there, less what was still being emptied.
    hose = air_way([Segment(bore=4.8e-3, length=1.5)], 293.15)
    run = pump_down(
        Circuit(
            low_volume=1.5e-3,
            high_volume=1e-3,
            capillary=air_way([Segment(bore=0.8e-3, length=2.0)], 293.15),
            low=hose,
            high=hose,
            speed=9.439e-4,
            ultimate=20 * 0.133322,
            gas_load=load,
        ),
        start=101325.0,
        target=1.0,
    )
    assert run.at_pump[-1] == pytest.approx(2000 * 0.133322, rel=5e-3)
    down = asked(*way, "--pumped", "40 min, 25 micron")
    assert down["pumped"][0]["gas_load_Pa_m3_per_s"] is None
    assert not any("held up" in note for note in down["notes"])


def test_a_cylinder_without_a_name_is_not_guessed() -> None:
    code, out, err = typed("hose", "--cylinder-pressure", "4.7 bar(g)", "--temperature", "20 C")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    # 5.72 bar at 20 C is R-134a's (ASHRAE tables, PUBLISHED); R-290 stands at 8.4 bar.
    assert "R-134a" in err
    assert "R-290" not in err
    assert "does not tell what is in a cylinder" in err


def test_gauges_that_differ_long_after_a_stop() -> None:
    rest = (
        *("start-gear", "--tube", "1.2 mm, 1 m", "--refrigerant", "R-134a"),
        *("--head", "9 bar(g)", "--suction", "1 bar(g)", "--high-volume", "1 L"),
        *("--low-volume", "2 L", "--off-time", "60 min"),
    )
    apart = asked(*rest, "--standing-head", "6 bar(g)", "--standing-suction", "3 bar(g)")
    assert any("nearly blocked" in note for note in apart["notes"])
    equal = asked(*rest, "--standing-head", "4 bar(g)", "--standing-suction", "3.9 bar(g)")
    assert not any("nearly blocked" in note for note in equal["notes"])
    low = ("--torque", "low", "--standing-head", "6 bar(g)", "--standing-suction", "3 bar(g)")
    assert asked(*rest, *low)["standing"]["verdict"] == "wrong"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--standing-head", "6 bar(g)"), "one gauge does not say"),
        (("--standing-suction", "6 bar(g)"), "one gauge does not say"),
        (("--device", "ptc", "--at", "10:00"), "--at is about a log"),
    ],
)
def test_half_of_a_standing_pressure(words: tuple[str, ...], told: str) -> None:
    code, out, err = typed("start-gear", "--refrigerant", "R-134a", *words)
    assert (code, out) == (2, "")
    assert told in err


def test_rough_numbers_are_shown_rough() -> None:
    scale = Scale("SI")
    assert scale.show(1428.0, "power", 2) == "1400 W"
    assert scale.show(1428.0, "power") == "1428 W"
    assert scale.show(86400.0 * 32.0, "time", 2) == "32 days"
    assert scale.show(86400.0 * 2.1, "time", 2) == "2.1 days"
    assert scale.column([744.0, 1428.0], "power", 2) == ("W", ["740", "1400"])
