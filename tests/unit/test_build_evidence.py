"""The evidence page: same content in, same page out, and nothing hidden."""

import importlib.util
import random
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

TOOL = Path(__file__).resolve().parents[2] / "tools" / "build_evidence.py"


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("build_evidence", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def entry(**change: Any) -> dict[str, Any]:
    base: dict[str, Any] = {
        "model": "Friction",
        "source": "chart",
        "status": "PUBLISHED",
        "quantity": "factor at Re 1000",
        "unit": "",
        "printed": 0.064,
        "ours": 0.0641,
        "tolerance": 0.01,
        "kind": "relative",
        "reason": "three digits",
        "aim_only": False,
        "deviation": 0.0015625,
        "met": True,
        "test": "tests/published/test_x.py::test_y",
    }
    return base | change


ENTRIES = [
    entry(),
    entry(quantity="factor at Re 2000", printed=0.032, ours=0.0321),
    entry(source="a program", status="COMPUTED", deviation=0.0, printed=0.0, ours=0.0),
    entry(model="Air", unit="K", kind="absolute", status="MEMORY 0.9", deviation=-0.2, met=False,
          aim_only=True, tolerance=0.1, printed=300.0, ours=299.8, reason="a|b"),
]  # fmt: skip


def test_order_of_the_tests_does_not_matter(tool: ModuleType) -> None:
    page = tool.page(ENTRIES)
    shuffled = ENTRIES.copy()
    random.Random(4).shuffle(shuffled)
    assert tool.page(shuffled) == page


def test_a_value_that_is_not_met_is_shown(tool: ModuleType) -> None:
    page = tool.page(ENTRIES)
    row = next(line for line in page.splitlines() if "299.8" in line)
    assert "**not met** (aim)" in row
    assert "-0.2 K" in row
    assert "a\\|b" in row
    assert "0 of 1 values from print or practice met" in page.lower()


def test_computed_values_are_counted_apart(tool: ModuleType) -> None:
    page = tool.page(ENTRIES)
    assert "2 of 2 values from print or practice met; 1 of 1 computed values reproduced" in page
    assert "In all 4 values (1 COMPUTED, 1 MEMORY, 2 PUBLISHED) for 2 models; of the 3" in page


@pytest.mark.parametrize(
    ("value", "kind", "unit", "text"),
    [
        (0.0123, "relative", "m", "+1.2 %"),
        (1e-9, "relative", "m", "0 %"),
        (-0.25, "absolute", "K", "-0.25 K"),
        (1e-13, "absolute", "K", "+0 K"),
    ],
)
def test_deviations_in_words(
    tool: ModuleType, value: float, kind: str, unit: str, text: str
) -> None:
    assert tool.width(value, kind, unit, sign=True) == text
