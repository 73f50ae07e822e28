"""The fixture itself: it judges, it records, and it refuses a comparison without its reasons."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

GOOD: dict[str, Any] = {
    "model": "a model",
    "source": "somebody 1999",
    "status": "PUBLISHED",
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
    ["PUBLISHED", "COMPUTED", "common practice", "MEMORY 0.85", "MEMORY 0.9", "MEMORY 1.0"],
)
def test_status_words(published: Callable[..., Any], record: Path, status: str) -> None:
    assert published(**GOOD | {"status": status}).status == status


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"status": "MEMORY"}, "status 'MEMORY'"),
        ({"status": "published"}, "status 'published'"),
        ({"status": "MEMORY 1.5"}, "status 'MEMORY 1.5'"),
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
