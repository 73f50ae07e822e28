"""The evidence page: same content in, same page out, and nothing hidden."""

import importlib.util
import json
import random
import re
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from tools.evidence import markdown, parity, strips, values, web, words

ROOT = Path(__file__).resolve().parents[2]
TOOLS = ROOT / "tools"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, TOOLS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    return load("build_evidence")


def entry(**change: Any) -> dict[str, Any]:
    base: dict[str, Any] = {
        "model": "Friction",
        "source": "chart",
        "status": "PUBLISHED",
        "basis": "equation",
        "quantity": "factor at Re 1000",
        "unit": "",
        "printed": 0.064,
        "ours": 0.0641,
        "tolerance": 0.01,
        "kind": "relative",
        "reason": "three digits",
        "aim_only": False,
        "in_sample": False,
        "met": True,
        "test": "tests/published/test_x.py::test_y",
    }
    whole = base | change
    off = whole["ours"] - whole["printed"]
    return {"deviation": off / whole["printed"] if whole["kind"] == "relative" else off} | whole


SECTION = {
    "title": "Bands",
    "text": ["Stated *against* found."],
    "columns": ["stated", "found"],
    "rows": [["90 %", "88 %"]],
    "x": "stated",
    "y": "found",
    "series": [{"name": "a part", "x": [0.1, 0.9], "y": [0.2, 0.8]}],
    "diagonal": True,
}
PRESSURES = [
    entry(model="Tables", source="laboratory", basis="measured", unit="kPa", printed=float(p),
          ours=1.002 * p, quantity=f"pressure at {i} °C", reason="the series")
    for i, p in enumerate((10, 30, 100, 300, 1000))
]  # fmt: skip
ENTRIES = [
    entry(),
    entry(quantity="factor at Re 2000", printed=0.032, ours=0.0321),
    entry(source="a standard", basis="rule", printed=0.0, ours=0.0, kind="absolute"),
    entry(model="Air", unit="K", kind="absolute", status="MEMORY 0.9", met=False, basis="table",
          aim_only=True, tolerance=0.1, printed=300.0, ours=299.8, reason="a|b <c>"),
    *PRESSURES,
    {"section": SECTION, "test": "tests/published/test_z.py::test_bands"},
]  # fmt: skip
RECORD = values.read(ENTRIES)
MISSED = values.read(
    [e if e.get("quantity") != "pressure at 3 °C" else e | {"ours": 330.0, "deviation": 0.1,
     "met": False} for e in ENTRIES]
)  # fmt: skip


@pytest.fixture(scope="module")
def pictures(tool: ModuleType) -> dict[str, str]:
    drawn: dict[str, str] = tool.draw(RECORD)
    return drawn


def test_order_of_the_tests_does_not_matter(pictures: dict[str, str]) -> None:
    shuffled = ENTRIES.copy()
    random.Random(4).shuffle(shuffled)
    again = values.read(shuffled)
    assert markdown.page(again) == markdown.page(RECORD)
    assert strips.shown(again, "print") == strips.shown(RECORD, "print")
    assert web.page(again, pictures) == web.page(RECORD, pictures)


def test_a_value_that_is_not_met_is_shown(pictures: dict[str, str]) -> None:
    row = next(line for line in markdown.page(RECORD).splitlines() if "300 K printed" in line)
    assert "| Air | 0 of 1 | predicted |" in row
    assert row.endswith("299.8 ours, -0.2 K, 0.1 K allowed |")
    row = next(line for line in web.page(RECORD, pictures).splitlines() if "value missed" in line)
    assert "299.8 K" in row
    assert "not met (aim)" in row
    row = next(line for line in web.page(RECORD, pictures).splitlines() if "a|b &lt;c&gt;" in line)
    assert "Tolerance" in row


def test_measured_values_come_first() -> None:
    page = markdown.page(RECORD)
    assert re.findall(r"^## (.+)$", page, re.MULTILINE) == [
        "Held against measurements",
        "Held against printed tables, standards and worked examples",
        "Held against other authors' equations",
        "What the values are", "Farthest off",
    ]  # fmt: skip


def test_all_values_are_counted() -> None:
    assert words.total(RECORD) == (
        "9 values from measurement, print and practice, for 3 models. 8 of them (88 %) lie within "
        "their tolerance; of the 5 that rest on measurements, 5 do. 0 helped to choose numbers of "
        "ours (fitted): they show how well a form fits, not how well it predicts. The other 9 were "
        "predicted, and 8 of them are met."
    )


def test_values_that_ours_was_fitted_to_are_told() -> None:
    own = values.read([*PRESSURES[:4], PRESSURES[4] | {"in_sample": True}])
    assert "1 helped to choose" in words.total(own)
    assert "The other 4 were predicted, and 4 of them are met." in words.total(own)
    assert words.sentence(own.models["Tables"]).endswith(" Ours was fitted to 1 of them.")
    every = values.read([e | {"in_sample": True} for e in PRESSURES])
    assert words.sentence(every.models["Tables"]).endswith(" Ours was fitted to these values.")
    assert "| Tables | 5 of 5 | fitted to 1 of them |" in markdown.page(own)
    assert "| Tables | 5 of 5 | fitted |" in markdown.page(every)
    table = "".join(web.values_table(own.models["Tables"], "x"))
    assert table.count("A number of ours was fitted to these.") == 1


def test_the_worst_is_named() -> None:
    tables = words.sentence(MISSED.models["Tables"])
    assert tables == (
        "Tables: 4 of 5 values within 1 %; worst: pressure at 3 °C: 300 kPa printed, 330 ours, "
        "+10 %, 1 % allowed."
    )
    air = words.sentence(RECORD.models["Air"])
    assert air == (
        "Air: the one value is not met: factor at Re 1000: 300 K printed, 299.8 ours, -0.2 K, "
        "0.1 K allowed."
    )


def test_the_farthest_off_are_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = markdown.farthest(RECORD)
    assert len(rows) == 9
    assert rows[0] == ("Air", "factor at Re 1000", "table", "300 K", "299.8 K", "-0.2 K", "0.1 K")
    assert "| Air | factor at Re 1000 | table | 300 K |" in markdown.page(RECORD)
    monkeypatch.setattr(markdown, "FARTHEST", 2)
    assert markdown.farthest(RECORD) == rows[:2]


def test_no_number_is_the_worst_of_all() -> None:
    lost = entry(ours=float("nan"), deviation=float("nan"), met=False, aim_only=True)
    record = values.read([*PRESSURES, lost | {"model": "Tables", "unit": "kPa"}])
    assert values.worst(record.values).quantity == "factor at Re 1000"
    assert "nan" in words.sentence(record.models["Tables"])
    (panel,) = parity.panels(record)
    assert len(panel.values) == 5
    assert "factor" in markdown.page(record)


def test_too_little_is_as_bad_as_too_much() -> None:
    record = values.read([entry(), entry(quantity="low", ours=0.06, met=False)])
    assert values.worst(record.values).quantity == "low"


def test_a_reason_is_told_once() -> None:
    rows = [entry(quantity=q, reason=r) for q, r in (("1", "a"), ("2", "<b>"), ("3", "<b>"))]
    table = "".join(web.values_table(values.read(rows).models["Friction"], "x"))
    told = re.findall(r'class="reason">(.*?)</td>', table)
    assert told == ["a", "&lt;b&gt;", "as above"]


def test_what_is_allowed_in_words() -> None:
    def said(*changes: dict[str, Any]) -> str:
        return words.allowed(values.read([entry(**change) for change in changes]).values)

    assert said({}, {}) == "1 %"
    assert said({}, {"tolerance": 0.003}) == "0.3 to 1 %"
    kelvin = {"kind": "absolute", "unit": "K", "tolerance": 0.5}
    assert said(kelvin) == "0.5 K"
    assert said(kelvin, {}) == "what is allowed for each"
    assert said(kelvin, kelvin | {"unit": "W"}) == "what is allowed for each"


@pytest.mark.parametrize(("part", "whole", "text"), [(999, 1000, "99 %"), (3, 3, "100 %")])
def test_a_share_is_not_rounded_up_to_all(part: int, whole: int, text: str) -> None:
    assert words.percent(part, whole) == text


@pytest.mark.parametrize(
    ("value", "kind", "unit", "text"),
    [
        (0.0123, "relative", "m", "+1.2 %"),
        (1e-9, "relative", "m", "0 %"),
        (-0.25, "absolute", "K", "-0.25 K"),
        (1e-13, "absolute", "K", "+0 K"),
        (1.236, "relative", "m", "+124 %"),
        (-1234.5, "absolute", "Pa", "-1234 Pa"),
    ],
)
def test_deviations_in_words(value: float, kind: str, unit: str, text: str) -> None:
    assert words.width(value, kind, unit, sign=True) == text


def test_which_values_stand_in_a_parity_plot() -> None:
    (panel,) = parity.panels(RECORD)
    assert (panel.model, panel.unit, len(panel.values)) == ("Tables", "kPa", 5)
    same = [e | {"printed": 10.0 if e["printed"] == 30.0 else e["printed"]} for e in PRESSURES]
    assert parity.panels(values.read(same)) == []
    zero = [e | {"printed": 0.0 if e["printed"] == 30.0 else e["printed"]} for e in PRESSURES]
    assert parity.panels(values.read(zero)) == []


def test_axes_are_logarithmic_where_values_span_decades() -> None:
    (panel,) = parity.panels(RECORD)
    log, low, high = parity._limits(panel)
    assert log
    assert low < 10.0 < 1002.0 < high
    near = [e | {"printed": e["printed"] + 1000.0, "ours": e["ours"] + 1000.0} for e in PRESSURES]
    assert not parity._limits(parity.panels(values.read(near))[0])[0]


def test_a_value_not_met_has_its_row_number_in_the_picture() -> None:
    (panel,) = parity.panels(MISSED)
    assert ">4</text>" in parity.draw(panel)
    (panel,) = parity.panels(RECORD)
    assert ">4</text>" not in parity.draw(panel)


def test_every_value_has_a_mark_on_the_strips(pictures: dict[str, str]) -> None:
    shown = [strips.shown(RECORD, name) for name in strips.STRIPS]
    marks = sum(len(re.findall(r"(?<= )-?\d+\.\d\d", text)) for text in shown)
    assert marks == len(RECORD.values) == 9
    assert "3 met" in pictures["strip-print"]
    assert "All 4 deviations" in pictures["strip-print"]


def test_two_drawings_are_the_same_bytes(tool: ModuleType, pictures: dict[str, str]) -> None:
    assert tool.draw(RECORD) == pictures
    assert "bands" in pictures


def test_a_page_differs_in_words_or_by_more_than_rounding(tool: ModuleType) -> None:
    page = markdown.page(RECORD)
    assert tool.same_page(page, page)
    assert tool.same_page(page.replace("299.8 ours", "299.9 ours"), page)
    assert not tool.same_page(page.replace("299.8 ours", "399.8 ours"), page)
    assert not tool.same_page(page.replace("Held against", "Held for"), page)
    assert not tool.same_page(markdown.page(MISSED), page)


def test_what_the_tests_left_is_read(tool: ModuleType, tmp_path: Path) -> None:
    kept = tmp_path / "evidence.jsonl"
    kept.write_text("".join(json.dumps(e) + "\n" for e in ENTRIES), encoding="utf-8")
    assert tool.collect(kept) == RECORD
    with pytest.raises(SystemExit, match="holds nothing"):
        tool.collect(tmp_path / "none.jsonl")


def test_the_full_table_holds_every_picture(pictures: dict[str, str]) -> None:
    assert web.page(RECORD, pictures).count("<svg ") == len(pictures) == 4


def test_the_full_table_needs_nothing_else(pictures: dict[str, str]) -> None:
    page = web.page(RECORD, pictures)
    outside = re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)
    pages_of_the_site = r"index\.html|evidence\.html"
    assert not re.search(
        rf'(src|href)="(?!#|{pages_of_the_site})|https?:|@import|url\((?!#)', outside
    )
    names = Counter(re.findall(r'\bid="([^"]+)"', page))
    assert [name for name, count in names.items() if count > 1] == []
    for link in re.findall(r'href="#([^"]+)"', page):
        assert link in names


def test_a_reader_takes_the_page_in() -> None:
    kept = (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8")
    assert len(kept.splitlines()) <= 150


def test_pictures_follow_a_dark_screen(pictures: dict[str, str]) -> None:
    body = web.page(RECORD, pictures).partition("<body>")[2]
    assert not re.search(r"#[0-9a-f]{6}\b", body)
    for name in set(re.findall(r"var\(--(\w+)\)", body)):
        assert web.STYLE.read_text(encoding="utf-8").count(f"--{name}: #") == 2


def test_a_section_stands_on_the_full_table(pictures: dict[str, str]) -> None:
    page = web.page(RECORD, pictures)
    assert '<h2 id="bands">Bands</h2>\n<p>Stated <em>against</em> found.</p>' in page
    assert "<td>88 %</td>" in page
    assert page.count('aria-label="found over stated"') == 1


def test_what_is_quoted_is_what_the_page_says() -> None:
    """After the page was made anew: `tools/build_readme_example.py --evidence`."""
    readme = load("build_readme_example")
    assert " from measurement, print" in readme.evidence_total()
    quoted = 0
    for page in readme.PAGES:
        for found in readme.BLOCK.finditer(page.read_text(encoding="utf-8")):
            if found["name"] in readme.QUOTES:
                begin = f"<!-- show: {found['name']} -->\n"
                assert found[0] == f"{begin}{readme.QUOTES[found['name']]()}<!-- end -->"
                quoted += 1
    assert quoted >= len(readme.QUOTES)
