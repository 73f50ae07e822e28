"""The wiring of a control: each part that is there is drawn, and no words run into each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib.text import Text

from sweatline.job.reading import read_job
from sweatline.report.axes import FigureScale
from sweatline.report.control_wiring import draw_control
from sweatline.report.figures import control_svg
from sweatline.report.paper import Paper, drawing_rules
from sweatline.report.sheet.document import Document, Section, typeset
from sweatline.units import System

JOB = read_job(Path(__file__).parents[2] / "examples" / "timber-store.toml")
WAYS: list[dict[str, Any]] = [
    {"bucket": None},
    {"cut_out": 281.15},
    {"defrost": "coil", "bucket": None},
    {"defrost": "coil", "defrost_by": "hot gas", "cut_out": 281.15},
    {"defrost": "coil", "defrost_by": "standing"},
    {"defrost": "clock", "cut_out": 281.15, "fan": "always"},
    {"defrost": "clock", "defrost_by": "hot gas", "cut_out": 281.15, "fan": "always"},
]


def drawn(way: dict[str, Any], system: System = "SI") -> Paper:
    with drawing_rules():
        return draw_control(replace(JOB.control, **way), FigureScale(system, 101325.0), "")


def words(paper: Paper) -> str:
    (ax,) = paper.figure.axes
    return " ".join(t.get_text() for t in ax.texts)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("system", ["SI", "US"])
def test_no_words_run_into_each_other(way: dict[str, Any], system: System) -> None:
    paper = drawn(way, system)
    renderer: Any = paper.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    (ax,) = paper.figure.axes
    boxes = [(t, t.get_window_extent(renderer)) for t in [*ax.texts, *paper.figure.texts]]

    def apart(one: tuple[Text, Any], other: tuple[Text, Any]) -> bool:
        # Lines of one paragraph touch by their leading.
        a, b = one[1].padded(-1.5), other[1].padded(-1.5)
        return not a.overlaps(b)

    for n, one in enumerate(boxes):
        for other in boxes[n + 1 :]:
            assert apart(one, other), (one[0].get_text(), other[0].get_text())
    width, height = paper.figure.bbox.width, paper.figure.bbox.height
    assert all(b.x0 >= 0 and b.x1 <= width and b.y0 >= 0 and b.y1 <= height for _t, b in boxes)


def test_each_part_stands_in_the_drawing() -> None:
    plain = words(drawn({"bucket": None}))
    assert "humidistat" in plain
    assert "52\N{NO-BREAK SPACE}%RH" in plain
    assert not any(word in plain for word in ("bucket", "cut-out", "clock", "valve"))
    full = words(drawn(WAYS[-1], "US"))
    for word in ("bucket switch", "cut-out", "defrost clock", "hot gas valve", "fan", "earth"):
        assert word in full
    assert "°F" in full
    assert "°C" not in full


def test_the_cautions_stand_under_it() -> None:
    with drawing_rules():
        said = " ".join(t.get_text() for t in drawn({}).figure.texts)
    for word in ("Pull the plug", "drain capacitors", "live wire only", "local codes", "flammable"):
        assert word in said


def test_it_is_set_on_a_paper() -> None:
    figure = control_svg(JOB.control, FigureScale("SI", 101325.0))
    section = Section(heading="How it is switched", rows=[("humidistat", "50 %RH")], figure=figure)
    other = Document(title="A", subtitle="", verdict="Ready")
    with_it = Document(title="A", subtitle="", verdict="Ready", sections=[section])
    assert len(typeset(with_it, "paper")) > len(typeset(other, "paper")) + 5000
