"""Mistakes at the commands of the bench: one sentence, the right exit code, no traceback."""

import contextlib
import io
import json
from pathlib import Path

import pytest

from sweatline.cli.main import main

BOAT = str(Path(__file__).parents[2] / "examples" / "boat-shed.toml")


def run(*arguments: str) -> tuple[int, str, list[str]]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    told = [line for line in err.getvalue().splitlines() if not line.startswith("Compiling ")]
    return code, out.getvalue(), told


@pytest.fixture(autouse=True)
def not_debugging(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SWEATLINE_DEBUG", raising=False)


FIRST = ("--reading", "0 h, 10 bar(g), 22 C")
LATER = ("--reading", "24 h, 9.8 bar(g), 21 C")
HOLD = ("tightness", *FIRST, *LATER)
V = ("--volume", "2.5 L")

TIGHTNESS: tuple[tuple[tuple[str, ...], int, tuple[str, ...]], ...] = (
    (("tightness",), 2, ("--reading", "--held")),
    (("tightness", *FIRST), 2, ("one reading is no test",)),
    (HOLD, 2, ("--volume", "inside volume")),
    ((*HOLD, "--volume", "2.5"), 2, ("--volume", "without a unit")),
    ((*HOLD, *V, "--gas", "oxygen"), 2, ("oxygen", "nitrogen")),
    ((*HOLD, *V, "--gas", "air"), 2, ("air", "nitrogen")),
    ((*HOLD, *V, "--limit", "9 bar(g)"), 2, ("--limit", "evaporator=12 bar(g)")),
    (
        (*HOLD, *V, "--limit", "evaporator=9 bar(g)"),
        2,
        ("--reading 1", "weakest part stands: evaporator", "9.00 bar(g)"),
    ),
    (
        (*HOLD, *V, "--limit", "coil=30 bar(g)", "--limit", "shell=9.9 bar(g)"),
        2,
        ("weakest part stands: shell",),
    ),
    (("tightness", *LATER, *FIRST, *V), 2, ("--reading 2", "not later")),
    (
        ("tightness", *FIRST, "--reading", "24 h, 10 bar(a), 22 C", *V),
        2,
        ("--reading 2", "one atmosphere"),
    ),
    (("tightness", *FIRST, "--reading", "24 h, 9.8 bar, 22 C", *V), 2, ("gauge or absolute",)),
    (("tightness", *FIRST, "--reading", "24 h, 9.8 bar(g)", *V), 2, ("2 fields", "temperature")),
    (
        ("tightness", *FIRST, "--reading", "24 h, 9.8 bar(g), 20 C, 1010 hPa abs", *V),
        2,
        ("barometer", "1 of 2"),
    ),
    ((*HOLD, *V, "--refrigerant", "R-1"), 2, ("no such refrigerant",)),
    (("tightness", "--measured", "1e-6 mbar L/s"), 2, ("--pressure",)),
    (
        ("tightness", "--measured", "1e-6 mbar L/s", "--pressure", "10 bar(g)"),
        2,
        ("--refrigerant",),
    ),
    (("tightness", "--measured", "1e-6", "--pressure", "10 bar(g)"), 2, ("without a unit",)),
    ((*HOLD, *V, "--measured", "1e-6 mbar L/s"), 2, ("two questions",)),
    (("tightness", "--held", "300 g", *V), 2, ("--held", "--after")),
    (("tightness", "--held", "300 g", "--after", "2 yr", *V), 2, ("--held-refrigerant",)),
    (
        ("tightness", "--held", "300 g", "--after", "2 yr", "--held-refrigerant", "R-12"),
        2,
        ("--volume",),
    ),
    (("tightness", "--pressure", "90 bar(g)", *V, "--refrigerant", "R-134a"), 3, ("nitrogen",)),
    (("tightness", "--pressure", "9 bar(g)", *V), 2, ("--refrigerant", "how long a pressure test")),
    (
        ("tightness", "--pressure", "9 bar(g)", "--refrigerant", "R-134a"),
        2,
        ("--volume", "how long a pressure test"),
    ),
    (("tightness", BOAT, *FIRST, *LATER, "--refrigerant", "R-134a"), 2, ("weakest part", "side")),
    (
        ("tightness", "--pressure", "200 psig", *V, "--limit", "shell=150 psig"),
        2,
        ("200 psig", "150 psig"),
    ),
    (("tightness", BOAT, *FIRST, *LATER, "--altitude", "10 m"), 2, ("--altitude",)),
)


@pytest.mark.parametrize(("typed", "code", "words"), TIGHTNESS)
def test_a_mistake_about_tightness_is_one_sentence(
    typed: tuple[str, ...], code: int, words: tuple[str, ...]
) -> None:
    found, out, err = run(*typed)
    assert (found, out) == (code, ""), err
    (line,) = err
    for word in words:
        assert word in line


def test_a_hold_without_a_limit_says_that_nobody_vouches_for_it() -> None:
    _, out, _ = run(*HOLD, *V)
    assert "nobody has said what the weakest part stands" in " ".join(out.split())
    assert "never with oxygen or compressed air" in " ".join(out.split())
    record = json.loads(run(*HOLD, *V, "--json")[1])
    assert {c["key"] for c in record["cautions"]} >= {"dry-nitrogen-only", "no-approval"}


def test_a_barometer_read_sharpens_a_hold() -> None:
    plain = json.loads(run(*HOLD, *V, "--json")[1])["hold"]
    read = json.loads(
        run(
            *("tightness", "--reading", "0 h, 10 bar(g), 22 C, 1013.25 hPa abs"),
            *("--reading", "24 h, 9.8 bar(g), 21 C, 1013.25 hPa abs", *V, "--json"),
        )[1]
    )["hold"]
    assert read["rate_sd_Pa_m3_per_s"] < plain["rate_sd_Pa_m3_per_s"]
    assert read["rate_Pa_m3_per_s"] == pytest.approx(plain["rate_Pa_m3_per_s"], rel=1e-9)


PUMP = ("evacuation", "--pump", "2 cfm", "--low-hose", "4.8 mm, 1.5 m")
SIDES = ("--low-volume", "1 L", "--high-volume", "0.7 L", "--capillary", "0.8 mm, 3 m")
RISE = ("--rise", "0 min, 300 micron", "--rise", "5 min, 310 micron")

EVACUATION: tuple[tuple[tuple[str, ...], int, tuple[str, ...]], ...] = (
    (("evacuation",), 2, ("--pump", "--rise")),
    (("evacuation", *RISE), 2, ("three times",)),
    (("evacuation", *RISE, "--rise", "4 min, 320 micron"), 2, ("--rise 3", "not later")),
    (("evacuation", *RISE, "--rise", "9 min, 27 inHg vacuum"), 2, ("--rise 3",)),
    (("evacuation", *RISE, "--rise", "9 min"), 2, ("not one field", "pressure")),
    (("evacuation", "--pump", "2 cfm"), 2, ("--low-hose", "--high-hose")),
    (PUMP, 2, ("--low-volume", "inside volume")),
    ((*PUMP, *SIDES[:4]), 2, ("--capillary",)),
    ((*PUMP, *SIDES, "--target", "-3 micron"), 2, ("--target",)),
    ((*PUMP, *SIDES, "--target", "500 micron", "--water", "2 g", "--room", "-5 C"), 3, ("room",)),
    (("evacuation", "--pump", "2", "--low-hose", "4.8 mm, 1 m", *SIDES), 2, ("without a unit",)),
    (("evacuation", "--pump", "2 cfm", "--low-hose", "4.8 mm", *SIDES), 2, ("bore, length",)),
    (("evacuation", *RISE, "--rise", "9 min, 320 micron", "--water", "1 g"), 2, ("--pump",)),
)


@pytest.mark.parametrize(("typed", "code", "words"), EVACUATION)
def test_a_mistake_about_evacuation_is_one_sentence(
    typed: tuple[str, ...], code: int, words: tuple[str, ...]
) -> None:
    found, out, err = run(*typed)
    assert (found, out) == (code, ""), err
    (line,) = err
    for word in words:
        assert word in line


def test_every_evacuation_says_that_the_compressor_is_not_started() -> None:
    for typed in ((*PUMP, *SIDES), ("evacuation", *RISE, "--rise", "9 min, 320 micron")):
        _, out, _ = run(*typed)
        said = " ".join(out.split())
        assert "Never start it now" in said
        assert "Never run a compressor under vacuum" in said


R290 = ("hose", "--refrigerant", "R-290")

HOSE: tuple[tuple[tuple[str, ...], int, tuple[str, ...]], ...] = (
    (("hose",), 2, ("--hose", "--container")),
    (("hose", "--hose", "4.8 mm, 1 m, liquid"), 2, ("--refrigerant",)),
    ((*R290, "--hose", "4.8, 0.9 m, liquid"), 2, ("--hose 1", "without a unit")),
    ((*R290, "--container", "500 g"), 2, ("before, after belong here, not one field",)),
    (("hose", BOAT, "--want", "200 g"), 2, ("--refrigerant",)),
    ((*R290, "--hose", "4.8 mm, 1 m"), 2, ("2 fields", "state")),
    ((*R290, "--hose", "4.8 mm, 1 m, full"), 2, ("full", "pulled back")),
    ((*R290, "--hose", "4.8 mm, 1 m, gas"), 2, ("pressure", "2 bar(g)")),
    ((*R290, "--hose", "48 mm, 1 m, liquid, 1 bar(g)"), 3, ("no liquid",)),
    ((*R290, "--hose", "480 mm, 1 m, liquid"), 2, ("--hose 1", "not believable here")),
    ((*R290, "--container", "100 g, 150 g"), 2, ("--container 1", "more than before")),
    ((*R290, "--container", "100 g"), 2, ("before, after",)),
    ((*R290, "--container", "100, 50"), 2, ("without a unit",)),
    ((*R290, "--can", "10 g, 2 L, 5 bar(g)"), 3, ("more gas stays in the can",)),
    ((*R290, "--fuel", "--want", "80 g"), 2, ("--cylinder-pressure",)),
    ((*R290, "--fill", "80 g", "--want", "80 g"), 2, ("--cylinder-volume",)),
    ((*R290, "--taken-as-vapour", "120 %"), 2, ("--taken-as-vapour",)),
    ((*R290, "--cylinder-volume", "1 L", "--fill", "2 kg"), 3, ("does not go into",)),
)


@pytest.mark.parametrize(("typed", "code", "words"), HOSE)
def test_a_mistake_about_hoses_is_one_sentence(
    typed: tuple[str, ...], code: int, words: tuple[str, ...]
) -> None:
    found, out, err = run(*typed)
    assert (found, out) == (code, ""), err
    (line,) = err
    for word in words:
        assert word in line


def test_a_charge_above_the_room_is_stopped() -> None:
    typed = ("hose", BOAT, "--refrigerant", "R-290", "--container", "2 kg, 1.5 kg")
    _, out, _ = run(*typed)
    assert "STOP" in out
    record = json.loads(run(*typed, "--json")[1])
    assert record["charge_limit"]["over"] is True
    assert any(c["stop"] for c in record["cautions"])


def test_fuel_gas_is_told_what_no_gauge_can_see() -> None:
    _, out, _ = run(*R290, "--cylinder-pressure", "5 bar(g)", "--fuel")
    said = " ".join(out.split())
    assert "below saturation" in said
    assert "propane with isobutane" in said
    assert "unknown purity, moisture and additives" in said
    for hidden in ("odorant", "water", "oil"):
        assert f"cannot see {hidden}" in said or hidden in said.partition("cannot see")[2]


def test_isobutane_is_warned_of_air_drawn_in() -> None:
    _, out, _ = run(*HOLD, *V, "--refrigerant", "R-600a")
    assert "draws air and water in while it runs" in " ".join(out.split())
    cold = (*HOLD, *V, "--refrigerant", "R-600a", "--rest-temperature", "-20 C")
    assert "no loss in mass is told" in " ".join(run(*cold)[1].split())


def test_helium_measured_at_a_joint_is_a_loss_of_refrigerant() -> None:
    typed = ("tightness", "--gas", "helium", "--pressure", "10 bar(g)", "--refrigerant", "R-134a")
    found = [
        json.loads(run(*typed, "--measured", f"{q} mbar L/s", "--json")[1])["leak"]
        for q in ("1e-6", "1e-4", "1e-2")
    ]
    medians = [f["loss_kg_per_s"]["middle"] for f in found]
    assert medians == sorted(medians)
    # From molecular to viscous flow a heavy gas gains on helium.
    assert medians[2] / medians[0] > 1.2e4
    assert found[2]["regime"] in ("viscous", "choked")


def test_a_hold_that_a_warm_afternoon_takes_over_its_limit_is_told() -> None:
    near = run(*HOLD, *V, "--limit", "coil=10.1 bar(g)")[1]
    far = run(*HOLD, *V, "--limit", "coil=15 bar(g)")[1]
    assert "10 K warmer" in " ".join(near.split())
    assert "10 K warmer" not in " ".join(far.split())


def test_a_hold_that_lost_much_says_so() -> None:
    lost = ("tightness", *FIRST, "--reading", "9 h, 6 bar(g), 22 C", *V)
    assert "more than a tenth of the gas" in " ".join(run(*lost)[1].split())


def test_a_hold_at_odds_with_the_past_is_told() -> None:
    past = ("--held-refrigerant", "R-134a", "--refrigerant", "R-134a", "--held", "300 g")
    new = run(*HOLD, *V, *past, "--after", "30 yr")[1]
    assert "far larger than the past implies" in " ".join(new.split())
    slow = ("tightness", *FIRST, "--reading", "72 h, 9.9 bar(g), 22 C", *V)
    closed = run(*slow, *past, "--after", "2 weeks")[1]
    assert "far less than the past implies" in " ".join(closed.split())
    same = run(*HOLD, *V, *past, "--after", "10 months")[1]
    assert "than the past implies" not in " ".join(same.split())
