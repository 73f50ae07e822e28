"""Practising from the command line: through a pipe, with faults, into a log, broken off."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main
from sweatline.cli.schemas import read_back

ROOT = Path(__file__).resolve().parents[2]
SEED = str(ROOT / "examples" / "seed-store.toml")
BOAT = str(ROOT / "examples" / "boat-shed.toml")
PARTS = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")

Practise = Callable[..., tuple[int, str, str]]


@pytest.fixture
def practise(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Practise:
    """The command with lines typed into it: exit code, output, errors."""

    def run(lines: str, *options: str, job: str = SEED) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        code = main(["practice", job, *PARTS, "--draws", "24", *options])
        out, err = capsys.readouterr()
        return code, out, err

    return run


def judged(practise: Practise, lines: str, *options: str, job: str = SEED) -> Any:
    code, out, err = practise(lines, *options, "--json", job=job)
    assert code == 0, err
    record = read_back("practice", out)
    assert type(record).__name__ == "Debrief"
    return record


def test_through_a_pipe_like_a_person() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sweatline", "practice", SEED, *PARTS, "--seed", "3"],
        input="wait 5 min\nadd 10 g\nfrobnicate\nadd 9 kg\nwait 12 min\nadd 30 g\ndone\n",
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"COLUMNS": "80"},
    )
    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "next> add 10 g" in done.stdout
    assert "Debrief" in done.stdout
    assert "short of the best charge of" in done.stdout
    assert "half an ounce, 5 min" in done.stdout
    # Mistakes cost a sentence each, and nothing else.
    assert [line for line in done.stderr.splitlines() if "frobnicate" in line] == [
        "not understood (read: frobnicate); type wait, add, read, stop, start, fault, help or done"
    ]
    assert "nobody lets in so much at once (read: 9 kg)" in done.stderr
    assert "Traceback" not in done.stderr


def test_haste_is_told_and_patience_too(practise: Practise) -> None:
    lines = "wait 11 min\nadd 30 g\nadd 20 g\nwait 12 min\nadd 15 g\nwait 10 min\ndone\n"
    record = judged(practise, lines, "--seed", "3")
    assert record.ended == "done"
    assert record.additions == len(record.doses) == 3
    first, second, third = record.doses
    # Eleven minutes and a first one are enough to act on; twenty seconds are not.
    assert first.advised == "add"
    assert first.advised_dose_kg is not None
    assert first.advised_dose_kg > 0.02
    assert second.advised == "wait"
    assert second.readings == "unsure"
    assert "suction gauge" in second.unsure
    assert second.waited_s == pytest.approx(20.0)
    assert third.advised == "add"
    weighed = record.begun_kg + sum(d.weighed_kg for d in record.doses)
    assert record.weighed_kg == pytest.approx(weighed)
    # The scale is read to a gram and the hose is a little off: what is in is near, not the same.
    assert record.charge_kg == pytest.approx(weighed, abs=3e-3)
    assert record.charge_kg != weighed
    assert record.best_charge_kg == record.mended_charge_kg
    assert record.next == "add"
    assert {o.way for o in record.others} == {"advice", "habit"}
    assert record.fault is None
    assert record.naming == "not named"


def test_too_much_is_told_with_the_dose_that_did_it(practise: Practise) -> None:
    lines = (
        "wait 5 min\nadd 100 g\nwait 3 min\nadd 100 g\nwait 10 min\nadd 60 g liquid\n"
        "wait 10 min\ndone\n"
    )
    code, out, _err = practise(lines, "--seed", "3")
    assert code == 0
    flat = " ".join(out.split())
    assert "over the best charge" in flat
    assert "Liquid left the evaporator" in flat
    assert "You let liquid into the low side of a running machine" in flat
    assert "made it too much" in flat
    record = judged(practise, lines, "--seed", "3")
    assert record.charge_kg > 1.08 * record.mended_charge_kg
    assert record.largest_liquid_kg == pytest.approx(0.06, abs=0.01)
    assert record.doses[-1].advised in ("stop", "take out")
    passed = {p.what: p for p in record.limits}
    assert passed["flooding back"].at_end
    assert not passed["flooding back"].at_start
    assert record.next in ("stop", "take out")


def test_a_hidden_fault_is_told_only_at_the_end(practise: Practise) -> None:
    seed = str(hidden_seed("worn-valves"))
    code, out, err = practise(
        "fault: gremlins\nfault: gauge\nwait 3 min\ndone\n", "--fault", "any", "--seed", seed
    )
    assert code == 0, err
    assert "say one of: too little air" in err
    before, after = out.split("Debrief")
    assert "valves" not in before
    flat = " ".join(after.split())
    assert "The fault was worn compressor valves: it pumps" in flat
    assert "You named another. How it shows: suction high and head low together" in flat
    assert "The best next thing: another compressor." in flat


def test_a_fault_can_be_named_after_done(practise: Practise) -> None:
    seed = str(hidden_seed("worn-valves"))
    lines = "wait 3 min\ndone\nthe valves leak\nworn valves\n"
    record = judged(practise, lines, "--fault", "any", "--seed", seed)
    assert record.fault_hidden
    assert record.named == "worn-valves"
    assert record.naming == "right"
    assert record.next == "mend"
    assert record.fault is not None
    assert 0.6 <= record.fault.size_SI <= 0.85


def hidden_seed(key: str) -> int:
    """A seed behind which `--fault any` hides this fault."""
    from sweatline.diagnosis.faults import ANY, fault_of

    return next(
        s for s in range(200) if (f := fault_of(ANY, s, 0.3)) is not None and f.kind.key == key
    )


def test_stopped_it_equalises_before_it_starts(practise: Practise) -> None:
    seed = "3"
    lines = "start\nstop\nstart\nwait 20 min\nadd 20 g liquid\nstart\nwait 5 min\nadd 20 g\ndone\n"
    code, out, err = practise(lines, "--fault", "non-condensable", "--seed", seed)
    assert code == 0, err
    assert "Not done: it runs already." in out
    # A low-torque motor waits for the sides to equalise.
    assert out.count("Not done: A low-torque motor does not start against a difference") == 1
    told = out.split("Debrief")[0].splitlines()
    rows = [line.split() for line in told if re.match(r" +\d+\.\d  ", line)]
    resting = [r for r in rows if r[6] == "0"]
    assert resting
    low, high = float(resting[-1][2]), float(resting[-1][3])
    assert abs(low - high) < 0.25
    assert float(rows[-1][6]) > 100.0
    # Liquid that goes into a machine at rest is no fault, and such a dose is not held back.
    assert "You let liquid into" not in " ".join(out.split())
    assert "at rest" in out


def test_a_leak_shows_in_the_books(practise: Practise) -> None:
    record = judged(practise, "wait 20 min\nadd 20 g\nwait 10 min\ndone\n", "--fault", "leak")
    assert record.fault is not None
    assert record.lost_kg == pytest.approx(record.fault.size_SI * record.time_s / 60.0, rel=1e-6)
    assert record.weighed_kg - record.charge_kg == pytest.approx(record.lost_kg, abs=3e-3)


def test_slips_are_confessed(practise: Practise) -> None:
    record = judged(practise, "wait 30 min\ndone\n", "--slips", "--seed", "7")
    assert record.slips
    assert all(s.written != s.meant for s in record.slips)


def test_us_units(practise: Practise) -> None:
    code, out, _err = practise("add 1/2 oz\ndone\n", job=BOAT)
    assert code == 0
    assert "psig" in out
    assert "gas °F" in out
    assert " oz as vapour" in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_log_serves_the_command_charge(
    practise: Practise,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    book = str(tmp_path / "practice.sweat")
    lines = "wait 10 min\nadd 25 g\nwait 10 min\ndone\n"
    code, out, err = practise(lines, "--seed", "3", "--log", book)
    assert code == 0, err
    assert f"sweatline charge {SEED} {book}" in " ".join(out.split())
    assert main(["log", "show", book, "--json"]) == 0
    kept = read_back("log", capsys.readouterr().out)
    assert type(kept).__name__ == "LogContents"
    kinds = [e.kind for e in kept.entries]
    assert kinds.count("addition") == 2
    assert {e.channel for e in kept.entries if e.kind == "reading"} >= {
        "suction gauge", "head gauge", "suction gas", "liquid line", "watts", "discharge gas",
    }  # fmt: skip
    assert main(["charge", SEED, book, *PARTS, "--json"]) == 0
    advice = read_back("charge", capsys.readouterr().out)
    assert type(advice).__name__ == "ChargeAdvice"
    assert advice.action in ("wait", "add")
    weighed = [float(e.text.removesuffix(" g")) for e in kept.entries if e.kind == "addition"]
    assert weighed[1] == pytest.approx(25.0, abs=5.0)
    assert advice.charge_kg == pytest.approx(1e-3 * sum(weighed), abs=1e-3)
    # A log that is there is somebody's.
    code, _out, err = practise(lines, "--seed", "3", "--log", book)
    assert code == 5
    assert "there is a file of that name already" in err
    assert err.count("\n") == 1


def test_interrupted_it_says_how_it_stands(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "sweatline", "practice", SEED, *PARTS, "--pace", "60"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A shell that started the tests in the background had interrupts ignored by all its kin.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("wait 5 h\n")
    process.stdin.flush()
    for line in process.stdout:
        if line.startswith("  3.0"):
            break
    time.sleep(0.3)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=240)
    assert process.returncode == 0, err
    assert "Interrupted; this is how it stands so far." in out
    assert "Traceback" not in err


def test_pace_follows_the_clock_and_thinking_takes_time(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Thinking(io.StringIO):
        """A person who takes two seconds for every line."""

        def readline(self, *_size: object) -> str:
            time.sleep(2.0)
            return super().readline()

    monkeypatch.setattr("sys.stdin", Thinking("wait 4 min\ndone\n"))
    begun = time.monotonic()
    options = ("--draws", "24", "--pace", "100", "--json")
    assert main(["practice", SEED, *PARTS, *options]) == 0
    assert time.monotonic() - begun >= 3.0 + 4.0
    record = read_back("practice", capsys.readouterr().out)
    assert type(record).__name__ == "Debrief"
    # A first minute, four that were waited, and twice two seconds on the wall.
    assert 300.0 + 400.0 <= record.time_s <= 300.0 + 480.0


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--pace", "quick"), "--pace: not a pace (read: quick)"),
        (("--pace", "0"), "--pace: not a pace (read: 0)"),
        (
            ("--fault", "gremlins"),
            "no fault of that name (read: gremlins); choose one of: little-air",
        ),
        (("--seed", "-1"), "invalid value for '--seed'"),
        (("--by", "advice", "--slips"), "belong to a charging by hand"),
    ],
)
def test_asked_wrongly(practise: Practise, options: tuple[str, ...], told: str) -> None:
    code, out, err = practise("done\n", *options)
    assert code == 2
    assert told in err
    assert err.count("\n") == 1
    assert out == ""


def test_the_advice_is_judged_too(practise: Practise) -> None:
    record = judged(practise, "", "--by", "advice", "--fault", "fouled-condenser", "--seed", "2")
    assert record.way == "advice"
    assert record.additions > 0
    assert record.fault is not None
    assert record.best_charge_kg is not None
    assert record.best_charge_kg < record.mended_charge_kg
    assert record.doses == ()
