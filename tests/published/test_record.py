"""The fixture itself: it judges, it records, and it refuses a comparison without its reasons."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.evidence import Section, Series

GOOD: dict[str, Any] = {
    "model": "a model",
    "source": "somebody 1999",
    "status": "PUBLISHED",
    "basis": "measured",
    "quantity": "a length",
    "unit": "m",
    "printed": 2.0,
    "ours": 2.01,
    "tolerance": 0.01,
    "reason": "three digits",
}


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "evidence.jsonl"
    monkeypatch.setenv("SWEATLINE_EVIDENCE", str(path))
    return path


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_within_tolerance(published: Callable[..., Any], record: Path) -> None:
    comparison = published(**GOOD)
    assert comparison.met
    assert comparison.deviation == pytest.approx(0.005)
    (line,) = lines(record)
    assert line["met"] is True
    assert line["test"].endswith("::test_within_tolerance")
    assert line["quantity"] == "a length"


def test_outside_tolerance_fails_and_is_on_record(
    published: Callable[..., Any], record: Path
) -> None:
    with pytest.raises(AssertionError, match=r"printed 2 m, ours 2\.1 m, off by \+5\.000%"):
        published(**GOOD | {"ours": 2.1})
    assert [line["met"] for line in lines(record)] == [False]


def test_an_aim_is_recorded_as_not_met(published: Callable[..., Any], record: Path) -> None:
    comparison = published(**GOOD | {"ours": 2.1, "aim_only": True})
    assert not comparison.met
    assert [(line["met"], line["aim_only"]) for line in lines(record)] == [(False, True)]


def test_a_value_that_ours_was_fitted_to_says_so(
    published: Callable[..., Any], record: Path
) -> None:
    published(**GOOD)
    published(**GOOD | {"in_sample": True})
    assert [line["in_sample"] for line in lines(record)] == [False, True]


def test_absolute_tolerance(published: Callable[..., Any], record: Path) -> None:
    assert published(**GOOD | {"kind": "absolute", "printed": 0.0, "ours": -0.009}).met
    with pytest.raises(AssertionError, match=r"against 0\.01 m"):
        published(**GOOD | {"kind": "absolute", "printed": 0.0, "ours": -0.02})


def test_no_number_is_never_met(published: Callable[..., Any], record: Path) -> None:
    with pytest.raises(AssertionError, match="ours nan"):
        published(**GOOD | {"ours": float("nan")})


def test_nothing_is_written_unasked(
    published: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SWEATLINE_EVIDENCE", raising=False)
    published(**GOOD)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "status",
    ["PUBLISHED", "common practice", "MEMORY 0.85", "MEMORY 0.9", "MEMORY 1.0"],
)
def test_status_words(published: Callable[..., Any], record: Path, status: str) -> None:
    assert published(**GOOD | {"status": status}).status == status


def test_common_practice_says_its_basis(published: Callable[..., Any], record: Path) -> None:
    rule = GOOD | {"status": "common practice"}
    assert published(**rule | {"basis": None}).basis == "practice"
    assert published(**rule | {"basis": "fitted"}).basis == "fitted"
    assert [line["basis"] for line in lines(record)] == ["practice", "fitted"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"status": "MEMORY"}, "status 'MEMORY'"),
        ({"status": "COMPUTED"}, "status 'COMPUTED'"),
        ({"status": "published"}, "status 'published'"),
        ({"status": "MEMORY 1.5"}, "status 'MEMORY 1.5'"),
        ({"basis": None}, "basis '': use one of measured"),
        ({"basis": "hardware"}, "basis 'hardware': use one of measured, similar"),
        ({"reason": " "}, "needs a reason"),
        ({"source": ""}, "needs a source"),
        ({"tolerance": 0.0}, "must be positive"),
        ({"tolerance": float("inf")}, "must be positive"),
        ({"printed": 0.0}, "use kind='absolute'"),
        ({"printed": float("nan")}, "is not a number"),
        ({"kind": "percent"}, "kind 'percent'"),
    ],
)
def test_refusals(
    published: Callable[..., Any], record: Path, change: dict[str, Any], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        published(**GOOD | change)
    assert not record.exists()


POINTS = Series(name="a part", x=(0.1, 0.9), y=(0.15, 0.88))
PART: dict[str, Any] = {
    "title": "Bands",
    "text": ("What they hold.",),
    "columns": ("stated", "found"),
    "rows": (("90 %", "88 %"),),
    "x": "stated",
    "y": "found",
    "series": (POINTS,),
}


def test_a_section_is_on_record(evidence_section: Callable[[Section], None], record: Path) -> None:
    evidence_section(Section(**PART))
    (line,) = lines(record)
    assert line["section"]["rows"] == [["90 %", "88 %"]]
    assert line["section"]["series"][0]["y"] == [0.15, 0.88]
    assert line["test"].endswith("::test_a_section_is_on_record")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"title": ""}, "a title and a text"),
        ({"text": ()}, "a title and a text"),
        ({"rows": (("90 %",),)}, "not as long as the header"),
        ({"y": ""}, "name both axes"),
    ],
)
def test_refusals_of_a_section(change: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Section(**PART | change)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"name": " "}, "needs a name"),
        ({"x": (1.0,)}, "as many x as y"),
        ({"x": (), "y": ()}, "as many x as y"),
        ({"y": (1.0, float("nan"))}, "not a number"),
    ],
)
def test_refusals_of_a_series(change: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Series(**{"name": "a part", "x": (0.1, 0.9), "y": (0.15, 0.88)} | change)
