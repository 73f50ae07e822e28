"""Whatever stands in a job file, reading it gives a job or a JobError, and gives it soon."""

import math
import string
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sweatline.errors import JobError
from sweatline.job.explanation import explain
from sweatline.job.mistakes import locate
from sweatline.job.model import Job
from sweatline.job.reading import JobFaults, read_job, read_job_text
from sweatline.units import show

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXTS = [(EXAMPLES / name).read_text() for name in ("seed-store.toml", "boat-shed.toml")]


def job_or_refusal(text: str) -> Job | None:
    try:
        job = read_job_text(text, "any.toml")
    except JobError as error:
        refusal = error
    else:
        assert explain(job)
        return job
    faults = refusal.faults if isinstance(refusal, JobFaults) else (refusal,)
    for fault in faults:
        assert str(fault).isprintable()
        assert len(str(fault)) < 1000
    return None


@given(text=st.text())
@example(text="\ufeff")
@example(text='"a\\n\\u001b[2J" = 1')
@example(text='title = """\n\n"""')
@example(text='refrigerants = ["a\\nb"]')
@example(text='room.temperature = "15\\n\\u001b[31m nonsense"')
@example(text="a" * 999_990)
@example(text="[" * 100_000)
@example(text="x = " + "[" * 5000)
@example(text="x = " + "{a=" * 5000)
@example(text="a." * 100_000 + "b = 1")
@example(text="[" + "a." * 100_000 + "b]")
@example(text="".join(f"[a{n}]\n" for n in range(50_000)))
@example(text="".join(f"a{n}.b.c = 1\n" for n in range(50_000)))
@example(text="x = [\n" + "[\n" * 5000)
@example(text="x = " + "9" * 5000)
@example(text="x = 1979-13-45")
@example(text='x = "\\ud800"')
def test_any_text(text: str) -> None:
    job_or_refusal(text)


@given(content=st.binary())
@example(content=b"\xff\xfe\x00")
@example(content=b"title = '\xe9'")
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "any.toml"
    path.write_bytes(content)
    with pytest.raises(JobError):
        read_job(path)


def _delete(lines: list[str], at: int, other: str) -> list[str]:
    return lines[:at] + lines[at + 1 :]


def _repeat(lines: list[str], at: int, other: str) -> list[str]:
    return lines[:at] + lines[at : at + 1] * 2 + lines[at + 1 :]


def _insert(lines: list[str], at: int, other: str) -> list[str]:
    return [*lines[:at], other, *lines[at:]]


def _value(lines: list[str], at: int, other: str) -> list[str]:
    key = lines[at].partition("=")[0]
    return [*lines[:at], f"{key}= {other}", *lines[at + 1 :]]


def _quoted(lines: list[str], at: int, other: str) -> list[str]:
    return _value(lines, at, '"' + other.replace('"', "").replace("\\", "").strip() + '"')


def _key(lines: list[str], at: int, other: str) -> list[str]:
    value = lines[at].partition("=")[2]
    return [*lines[:at], f"{other} = {value}", *lines[at + 1 :]]


def _character(lines: list[str], at: int, other: str) -> list[str]:
    line = lines[at]
    half = len(line) // 2
    return [*lines[:at], line[:half] + other[:1] + line[half + 1 :], *lines[at + 1 :]]


OTHERS = st.one_of(
    st.text(alphabet=string.printable, max_size=12).map(lambda t: t.replace("\n", " ")),
    st.sampled_from(
        [
            *("1", "-1", "0", "nan", "inf", "1e400", "true", '""', "[]", "{}", "[[]]"),
            *("0 mm", "-3 mm", "1e9 mm", "3 ± 3 mm", "27 psi", "9 bar(g)", "-9 °C", "500 %RH"),
            *("rows", "room", "compressor", "capillary", "rating", "map", "[room]"),
            *("[[compressor]]", "[compressor.rating.x]", "R-290", "rotary", '"unknown"'),
            *("1979-05-27", "9" * 26),
        ]
    ),
)
CHANGES = st.lists(
    st.tuples(
        st.sampled_from([_delete, _repeat, _insert, _value, _quoted, _key, _character]),
        st.integers(0, 200),
        OTHERS,
    ),
    min_size=1,
    max_size=4,
)


@given(text=st.sampled_from(TEXTS), changes=CHANGES)
@settings(max_examples=400)
def test_a_changed_job(text: str, changes: list[tuple[Any, int, str]]) -> None:
    lines = text.split("\n")
    for change, at, other in changes:
        lines = change(lines, at % len(lines), other) or [""]
    changed = "\n".join(lines)
    job = job_or_refusal(changed)
    if job is not None:
        assert 0.0 <= job.room.relative_humidity.value <= 1.0
        assert 2.0 * job.evaporator.tube_wall.value < job.evaporator.tube_outer_diameter.value
        assert job.compressors
        assert job.capillaries


KEYS = st.one_of(
    st.text(alphabet=string.ascii_letters + string.digits + "_-", min_size=1, max_size=4),
    st.sampled_from(['"a b"', "'a.b'", '"a\\"c"', '"\\u0041"', '"#"', '"["']),
)
SCALARS = st.sampled_from(
    [
        *("1", "-2.5e3", "true", '"x"', "'y'", '"a # b"', '"[no]"', "0xff", "inf"),
        *("'''m\nn\n'''", '"""p\n\\"""q"""', '"""a\\\n   b"""', '"""""x"""""'),
        "1979-05-27T07:32:00Z",
    ]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda v: "[\n # note [\n" + " ,\n".join(v) + "\n]"),
        st.lists(inner, max_size=3).map(lambda v: "[" + ",".join(v) + "]"),
        st.dictionaries(KEYS, SCALARS.filter(lambda s: "\n" not in s), max_size=3).map(
            lambda d: "{" + ", ".join(f"{k} = {v}" for k, v in d.items()) + "}"
        ),
    ),
    max_leaves=6,
)
PAIRS = st.tuples(st.lists(KEYS, min_size=1, max_size=2), VALUES).map(
    lambda p: " . ".join(p[0]) + " = " + p[1] + "  # after\n"
)
HEADERS = st.tuples(st.lists(KEYS, min_size=1, max_size=3), st.booleans()).map(
    lambda h: ("[[{}]]" if h[1] else "[ {} ]").format(".".join(h[0])) + "\n"
)
DOCUMENTS = st.lists(st.one_of(PAIRS, HEADERS, st.just("\n"), st.just("# [x] = 1\n"))).map("".join)


def paths(tree: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inside: list[tuple[str | int, ...]] = []
    if isinstance(tree, dict):
        for key, value in tree.items():
            inside += [(*path, key), *paths(value, (*path, key))]
    elif isinstance(tree, list):
        for n, value in enumerate(tree):
            inside += [(*path, n), *paths(value, (*path, n))]
    return inside


@given(text=DOCUMENTS)
@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow])
def test_every_key_the_parser_finds_is_located_and_no_other(text: str) -> None:
    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    found = locate(text)
    assert set(found) == set(paths(tree))
    assert all(1 <= line <= text.count("\n") + 1 for line in found.values())


@given(text=DOCUMENTS)
def test_locating_any_text_ends(text: str) -> None:
    locate(text[: len(text) // 2])


# A job written with random sizes in random units must come back with those sizes.
LENGTHS = [("mm", 1e-3), ("cm", 1e-2), ("in", 0.0254), ("m", 1.0), ("um", 1e-6)]


@st.composite
def lengths(draw: st.DrawFn, low: float, high: float) -> tuple[str, float]:
    value = draw(st.floats(low, high))
    unit, factor = draw(st.sampled_from(LENGTHS))
    return f'"{value / factor!r} {unit}"', value


@given(data=st.data())
def test_a_job_comes_back_as_it_was_written(data: st.DataObject) -> None:
    diameter = data.draw(lengths(5e-3, 12e-3))
    wall = data.draw(lengths(0.2e-3, 0.9e-3))
    pitch = data.draw(lengths(15e-3, 40e-3))
    length = data.draw(lengths(0.1, 1.0))
    bore = data.draw(lengths(0.5e-3, 2e-3))
    fins = data.draw(st.floats(8.0, 20.0))
    gauge = data.draw(st.floats(100.0, 600.0))
    altitude = data.draw(st.floats(0.0, 3000.0))
    fahrenheit = data.draw(st.floats(40.0, 100.0))
    rows, tubes = data.draw(st.integers(1, 5)), data.draw(st.integers(1, 20))
    coil = f"""
tube_outer_diameter = {diameter[0]}
tube_wall = {wall[0]}
rows = {rows}
tubes_per_row = {tubes}
transverse_pitch = {pitch[0]}
longitudinal_pitch = {pitch[0]}
finned_length = {length[0]}
fin_pitch = "{fins!r} fpi"
"""
    text = f"""
kind = "dehumidifier"
units = "{data.draw(st.sampled_from(["US", "SI"]))}"
refrigerants = ["R-290", "r134a"]
room = {{ temperature = "{fahrenheit!r} °F", humidity = "55 ± 2 %RH" }}
place.altitude = "{altitude!r} m"
[supply]
voltage = "115 V"
frequency = "60 Hz"
[evaporator]{coil}
[condenser]{coil}
[compressor]
name = "one"
kind = "rotary"
displacement = "4.9 ± 0.1 cc"
[capillary]
name = "one"
bore = {bore[0]}
[limits]
high_side_pressure = "{gauge!r} psig"
"""
    job = read_job_text(text)
    psi = 6894.757293168361
    expected = [
        (job.evaporator.tube_outer_diameter.value, diameter[1]),
        (job.evaporator.tube_wall.value, wall[1]),
        (job.condenser.transverse_pitch.value, pitch[1]),
        (job.condenser.finned_length.value, length[1]),
        (job.condenser.fin_pitch.value, 0.0254 / fins),
        (job.capillaries[0].bore.value, bore[1]),
        (job.room.temperature.value, (fahrenheit + 459.67) / 1.8),
        (job.room.relative_humidity.sd, 0.02),
        (job.place.altitude, altitude),
    ]
    for ours, written in expected:
        assert math.isclose(ours, written, rel_tol=1e-9)
    high = job.limits.high_side_pressure
    assert high is not None
    assert math.isclose(high.value, job.place.atmospheric_pressure + gauge * psi, rel_tol=1e-9)
    assert (job.evaporator.rows, job.evaporator.tubes_per_row) == (rows, tubes)
    assert job.refrigerants == ("R-290", "R-134a")
    assert read_job_text(text) == job

    # What the explanation shows can be read again, within the digits shown.
    atmosphere = job.place.atmospheric_pressure
    again = text.replace(
        f'"{gauge!r} psig"',
        f'"{show(high.value, "pressure", job.unit_system, 8, atmosphere=atmosphere)}"',
    )
    back = read_job_text(again).limits.high_side_pressure
    assert back is not None
    assert math.isclose(back.value, high.value, rel_tol=1e-5)
