"""Readings of a machine known good: from a log into a job file, and what they teach there."""

from __future__ import annotations

import contextlib
import io
import re
import tomllib
from pathlib import Path

import pytest

from sweatline.cli.main import main
from sweatline.job.reading import read_job

TIMBER = Path(__file__).parents[2] / "examples" / "timber-store.toml"
DAY = "2026-04-11"
# The owner's notebook of April, as it would have been typed: 310 m, settled from ten.
APRIL = """
09:30 event started
09:50 read suction-gauge | 3.1 bar(g)
10:40 read air-in | 16.4 C
10:40 read room-humidity | 63 %RH
10:40 read suction-gauge | 3.78 bar(g)
10:40 read head-gauge | 10.7 bar(g)
10:41 read return-gas | 4 C
10:42 read discharge-gas | 69 C
10:43 read liquid-line | 21 C
10:44 read air-out | 24.5 C
10:45 read watts | 370 W
10:46 read water | 0 mL
14:40 read air-in | 16.6 C
14:40 read room-humidity | 61 %RH
14:40 read suction-gauge | 3.82 bar(g)
14:45 read watts | 374 W
18:46 read water | 4733.33 mL
18:50 event stopped
19:00 read suction-gauge | 6.0 bar(g)
"""


def typed(*arguments: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return code, out.getvalue(), err.getvalue()


def log(*arguments: str) -> str:
    code, _out, err = typed("log", *arguments)
    assert code == 0, err
    return err


def written(path: str, work: str = APRIL, *told: str) -> str:
    log("new", path, "--altitude", "310 m", *told)
    for line in work.strip().splitlines():
        at, rest = line.split(" ", 1)
        head, *more = (part.strip() for part in rest.split("|"))
        kind, what = head.split()
        words = (kind, path, what, *more)
        log(*words, "--at", f"{DAY} {at}")
    return path


def with_table(table: str, folder: Path) -> str:
    """The timber store with the table of a log in the place of April's."""
    text = TIMBER.read_text(encoding="utf-8")
    april = re.compile(r"\[\[ran_well\]\][^\[]*?name = \"April\".*?(?=\n\[\[)", re.DOTALL)
    assert april.search(text)
    path = folder / "timber.toml"
    path.write_text(april.sub(lambda _: table, text), encoding="utf-8")
    return str(path)


def test_the_printed_table_reads_back_and_teaches_the_same(tmp_path: Path) -> None:
    from sweatline.assembly.calibration import calibrate

    book = written(str(tmp_path / "april.sweat"))
    code, table, err = typed("log", "ran-well", book, "--name", "April")
    assert code == 0
    assert err == ""
    assert tomllib.loads(table)["ran_well"][0]["name"] == "April"
    kept, again = read_job(str(TIMBER)), read_job(with_table(table, tmp_path))
    one, other = kept.ran_well[0], again.ran_well[0]
    for key in one.__slots__:
        before, after = getattr(one, key), getattr(other, key)
        if key == "name" or before is None:
            assert after == before
        else:
            # The same number with the same error of the job's own tools.
            assert after.value == pytest.approx(before.value, rel=4e-6), key
            assert after.sd == pytest.approx(before.sd, rel=2e-2), key
    learned, relearned = calibrate(kept), calibrate(again)
    after = {n.key: n for n in relearned.parameters}
    assert len(learned.parameters) > 5
    assert set(after) == {n.key for n in learned.parameters}
    for n in learned.parameters:
        assert after[n.key].after == pytest.approx(n.after, abs=0.05 * n.before_sd), n.label
        assert after[n.key].after_sd == pytest.approx(n.after_sd, rel=0.05), n.label
    assert typed("calibrate", with_table(table, tmp_path))[0] == 0


def test_what_is_known_of_the_instruments_goes_along(tmp_path: Path) -> None:
    book = str(tmp_path / "april.sweat")
    log("new", book, "--altitude", "310 m", "--units", "US")
    log("instrument", book, "manifold", "--class", "1", "--range", "-14 to 500 psi")
    log("event", book, "started", "--at", f"{DAY} 08:00")
    log("read", book, "head-gauge", "155 psig", "--by", "manifold", "--at", f"{DAY} 09:00")
    log("read", book, "air-in", "62 F", "--at", f"{DAY} 09:00")
    log("read", book, "room-humidity", "62 ± 2 %RH", "--at", f"{DAY} 09:00")
    table = typed("log", "ran-well", book)[1]
    assert 'name = "2026-04-11"' in table
    assert 'room_humidity = "62 ± 2 %RH"' in table
    # 155 psig over 97.66 kPa at 310 m; one per cent of 514 psi over the root of three.
    assert 'head_pressure = "169.164 ± 3 psia"  # 155 psig by the gauge' in table
    assert 'room_temperature = "62 °F"' in table


@pytest.mark.parametrize(
    ("work", "words"),
    [
        ("09:00 read watts | 370 W", "does not say that the machine was started"),
        ("09:00 event started\n10:00 read watts | 370 W", "no reading of air in and room humidity"),
        ("09:00 event started\n09:20 event stopped", "less than half an hour"),
        (
            "09:00 event started\n10:00 read air-in | 16 C\n10:00 read room-humidity | 60 %RH",
            "nothing of the machine was read",
        ),
    ],
)
def test_what_is_missing_is_said_in_one_sentence(tmp_path: Path, work: str, words: str) -> None:
    book = written(str(tmp_path / "x.sweat"), work)
    code, out, err = typed("log", "ran-well", book)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_what_moves_or_is_not_all_is_said(tmp_path: Path) -> None:
    book = written(
        str(tmp_path / "x.sweat"),
        """
08:00 event evacuating
08:30 event vacuum-broken | with vapour
09:00 event started
10:00 read air-in | 16 C
10:00 read room-humidity | 60 %RH
10:00 read suction-gauge | 2.0 bar(g)
10:00 read suction-gas | 5 C
10:01 read water | 1.2 L
10:30 read suction-gauge | 2.6 bar(g)
""",
        "--refrigerant",
        "R-134a",
    )
    log("added", book, "240 g", "--at", f"{DAY} 09:10")
    log("event", book, "vented", "3 g", "--at", f"{DAY} 09:15")
    _code, table, err = typed("log", "ran-well", book)
    assert 'charge = "237 g"' in table
    assert "suction_temperature" not in table
    assert "suction gauge went from 2.0 bar(g) to 2.6 bar(g)" in err
    assert "return-gas in a log" in err
    assert "looked at twice" in err
    assert "with R-134a" in err
    chosen = typed("log", "ran-well", book, "--from", f"{DAY} 10:15", "--to", f"{DAY} 11:00")
    assert chosen[0] == 2  # the room was read before that
    assert "10:15" in chosen[2]
