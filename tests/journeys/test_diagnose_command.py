"""What is wrong, asked with a file of readings: the example, and a file that cannot be used."""

from __future__ import annotations

import contextlib
import io
import json
from datetime import datetime, timedelta
from pathlib import Path

from sweatline.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"
SHELF = str(EXAMPLES / "seed-store.toml")
PARTS = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")


def typed(*arguments: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return code, out.getvalue(), err.getvalue()


def test_the_example_is_diagnosed_and_its_next_readings_make_it_surer() -> None:
    chances = []
    for name in ("seed-store-ill.txt", "seed-store-ill-more.txt"):
        code, out, err = typed("diagnose", SHELF, str(EXAMPLES / name), *PARTS, "--json")
        assert code == 0, err
        first = json.loads(out)["suspects"][0]
        assert first["key"] == "restriction"
        chances.append(first["probability"])
    assert chances[1] > chances[0]


def test_readings_of_tomorrow_are_asked_about_and_not_silently_gone(tmp_path: Path) -> None:
    tomorrow = (datetime.now() + timedelta(days=1)).strftime("%Y-%m-%d %H:%M")
    file = tmp_path / "readings.txt"
    file.write_text(f"{tomorrow} suction 1.3 bar(g); head 5.9 bar(g)\n", encoding="utf-8")
    code, _, err = typed("diagnose", SHELF, str(file), *PARTS)
    assert code == 2
    assert err.count("still to come") == 1
    assert "nothing was read of the machine itself" in err


def test_a_clock_alone_in_a_file_of_readings_is_not_todays(tmp_path: Path) -> None:
    file = tmp_path / "readings.txt"
    file.write_text("# by hand\n09:10 suction 1.3 bar(g); head 5.9 bar(g)\n", encoding="utf-8")
    code, _, err = typed("diagnose", SHELF, str(file), *PARTS)
    assert code == 2
    assert "line 2: a clock without a date" in err
