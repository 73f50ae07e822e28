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
    (("tightness", *FIRST), 2, ("one reading is no hold",)),
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
    (("tightness", "--held", "300 g", *V), 2, ("--held", "--after")),
    (("tightness", "--held", "300 g", "--after", "2 yr", *V), 2, ("--held-refrigerant",)),
    (
        ("tightness", "--held", "300 g", "--after", "2 yr", "--held-refrigerant", "R-12"),
        2,
        ("--volume",),
    ),
    (("tightness", "--pressure", "90 bar(g)", *V, "--refrigerant", "R-134a"), 3, ("nitrogen",)),
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
