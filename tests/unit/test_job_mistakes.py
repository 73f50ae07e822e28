"""Lines of keys in a TOML text."""

import tomllib

import pytest

from sweatline.job.mistakes import Path, line_of, locate

TEXT = '''# a comment with a [table] = "in" it
title = "one # not a comment"
place.altitude = "3 m"

[room]
"temperature" = """
two
lines"""
humidity = '55 %RH'
list = [
  "a",   # first
  [1, 2],
  { x = 1, y = { z = 2 } },
]

[[compressor]]
name = "a"
[compressor.rating]
capacity = "1 W"
inline = { refrigerant = "R-22", power = "3 W" }

[[compressor]]
name = "b"
rating.capacity = "2 W"
'''

LINES: list[tuple[Path, int]] = [
    (("title",), 2),
    (("place",), 3),
    (("place", "altitude"), 3),
    (("room",), 5),
    (("room", "temperature"), 6),
    (("room", "humidity"), 9),
    (("room", "list", 0), 11),
    (("room", "list", 1, 1), 12),
    (("room", "list", 2, "y", "z"), 13),
    (("compressor",), 16),
    (("compressor", 0, "name"), 17),
    (("compressor", 0, "rating"), 18),
    (("compressor", 0, "rating", "capacity"), 19),
    (("compressor", 0, "rating", "inline", "power"), 20),
    (("compressor", 1), 22),
    (("compressor", 1, "name"), 23),
    (("compressor", 1, "rating", "capacity"), 24),
]


def test_the_text_is_toml() -> None:
    tomllib.loads(TEXT)


@pytest.mark.parametrize(("path", "line"), LINES)
def test_line_of_each_key(path: Path, line: int) -> None:
    assert locate(TEXT)[path] == line
    assert line_of(path, locate(TEXT)) == line


def test_a_missing_key_stands_at_its_table() -> None:
    lines = locate(TEXT)
    assert line_of(("room", "volume"), lines) == 5
    assert line_of(("compressor", 1, "kind"), lines) == 22
    assert line_of(("fan", "power"), lines) is None


def test_a_single_table_needs_no_index() -> None:
    lines = locate('[compressor]\nname = "a"\n')
    assert line_of(("compressor", 0, "name"), lines) == 2
    assert line_of(("compressor", 0, "kind"), lines) == 1


@pytest.mark.parametrize(
    "text", ["[", "[[a", "a", "a =", '"', "a = [1", "a = {b = 1", "[a]]", "= 1"]
)
def test_what_is_not_toml_is_left_alone(text: str) -> None:
    assert set(locate("first = 1\n" + text)) >= {("first",)}
