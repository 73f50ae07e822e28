"""Weather files: what is read, and the one line that a mistake is told with."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from sweatline.errors import JobError
from sweatline.season.weather import HOURS, read_weather

_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
EPW_HEAD = ["LOCATION,Some place,-,-,-,0,47.0,8.0,1.0,500", *["-"] * 7]


def epw_lines() -> list[str]:
    """A year whose dry bulb tells the month, with the dew point 3 K below."""
    lines = list(EPW_HEAD)
    for month, count in enumerate(_DAYS, 1):
        for day in range(1, count + 1):
            for hour in range(1, 25):
                lines.append(f"2001,{month},{day},{hour},0,flags,{month}.0,{month - 3}.0,80,95000")
    return lines


def csv_lines(head: str = "temperature [°C], humidity [%RH]") -> list[str]:
    return [head, *["10.0, 70"] * HOURS]


def written(folder: Path, lines: list[str], name: str) -> str:
    path = folder / name
    path.write_text("\n".join(lines), encoding="utf-8")
    return str(path)


def test_an_epw_is_read(tmp_path: Path) -> None:
    found = read_weather(written(tmp_path, epw_lines(), "place.epw"), 95000.0)
    means = np.bincount(found.months, weights=found.temperature[:-1]) / np.bincount(found.months)
    assert means - 273.15 == pytest.approx(np.arange(1.0, 13.0), abs=0.05)
    assert len(found.humidity) == HOURS + 1


def test_a_csv_is_read_in_the_units_of_its_head(tmp_path: Path) -> None:
    fahrenheit = ["time; dry bulb [°F]; dew point [°F]"]
    first = datetime(2001, 1, 1)
    fahrenheit += [f"{first + timedelta(hours=hour)}; 50; 41" for hour in range(HOURS)]
    found = read_weather(written(tmp_path, fahrenheit, "a.csv"))
    assert found.temperature[7] == pytest.approx(283.15)
    plain = read_weather(written(tmp_path, csv_lines(), "b.csv"))
    assert plain.humidity[0] == pytest.approx(0.00532, rel=0.02)


def test_missing_hours_of_an_epw_are_filled_and_told(tmp_path: Path) -> None:
    lines = epw_lines()
    lines[50] = lines[50].replace(",1.0,-2.0,80,", ",99.9,99.9,999,")
    found = read_weather(written(tmp_path, lines, "place.epw"))
    assert np.isfinite(found.temperature).all()
    assert any("1 missing temperatures" in note for note in found.notes)


@pytest.mark.parametrize(
    ("change", "line", "words"),
    [
        (lambda ls: ls.__setitem__(100, "2001,1,4,x,0"), 101, "no hour of weather"),
        (lambda ls: ls.__setitem__(100, ls[99]), 101, "two lines for one hour"),
        (lambda ls: ls.__setitem__(100, ls[100].replace(",1.0,", ",88.0,")), 101, "no hour"),
        (lambda ls: ls.pop(), None, "8759 hours"),
    ],
)
def test_a_wrong_epw_says_where(tmp_path: Path, change: object, line: int, words: str) -> None:
    lines = epw_lines()
    change(lines)  # type: ignore[operator]
    with pytest.raises(JobError, match=words) as caught:
        read_weather(written(tmp_path, lines, "place.epw"))
    assert caught.value.line == line


@pytest.mark.parametrize(
    ("lines", "line", "words"),
    [
        (csv_lines("temperature, humidity"), 1, "has no unit"),
        (csv_lines("wind [m/s], sun [W]"), 1, "no columns"),
        ([*csv_lines()[:5], "warm, 70", *csv_lines()[6:]], 6, "number"),
        ([*csv_lines()[:5], "10.0, 170", *csv_lines()[6:]], 6, "no outdoor air"),
        ([*csv_lines()[:5], "10.0", *csv_lines()[6:]], 6, "no hour of weather"),
        (["time, temperature [°C], humidity [%RH]", "2001-01-01 00:00, 1, 70",
          "2001-01-01 02:00, 1, 70"], 3, "one hour after"),
        (csv_lines()[:400], None, "399 hours"),
    ],
)  # fmt: skip
def test_a_wrong_csv_says_where(
    tmp_path: Path, lines: list[str], line: int | None, words: str
) -> None:
    with pytest.raises(JobError, match=words) as caught:
        read_weather(written(tmp_path, lines, "hours.csv"))
    assert caught.value.line == line


def test_what_is_no_weather_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "bytes.epw").write_bytes(b"\xff\xfe\x00")
    for name, words in (
        ("none.epw", "no weather file"),
        ("bytes.epw", "not a text"),
        (".", "not a file"),
    ):
        with pytest.raises(JobError, match=words):
            read_weather(str(tmp_path / name))
