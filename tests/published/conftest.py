"""The fixture behind every comparison with a published value, and the record it leaves.

A test hands over the printed value, ours, the tolerance and why it is that wide; the fixture
judges and, where the environment variable SWEATLINE_EVIDENCE names a file, appends one line of
JSON to it. `tools/build_evidence.py` makes the evidence page from those lines.
"""

import json
import math
import os
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Literal

import pytest

_STATUS = re.compile(r"PUBLISHED|COMPUTED|common practice|MEMORY (0\.\d{1,2}|1\.0)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One printed value against ours."""

    model: str
    source: str
    status: str
    quantity: str
    unit: str
    printed: float
    ours: float
    tolerance: float
    kind: Literal["relative", "absolute"]
    reason: str
    aim_only: bool

    def __post_init__(self) -> None:
        for name in ("model", "source", "quantity", "reason"):
            if not str(getattr(self, name)).strip():
                raise ValueError(f"evidence needs a {name}")
        if not _STATUS.fullmatch(self.status):
            raise ValueError(
                f"status {self.status!r}: use PUBLISHED, MEMORY 0.85, COMPUTED or common practice"
            )
        if self.kind not in ("relative", "absolute"):
            raise ValueError(f"kind {self.kind!r}: use relative or absolute")
        if not math.isfinite(self.printed):
            raise ValueError(f"printed value {self.printed!r} is not a number")
        if self.kind == "relative" and self.printed == 0.0:
            raise ValueError("a printed 0 has no relative deviation: use kind='absolute'")
        if not 0.0 < self.tolerance < math.inf:
            raise ValueError(f"tolerance {self.tolerance!r} must be positive")

    @property
    def deviation(self) -> float:
        """Ours minus printed, or its share of the printed value."""
        difference = self.ours - self.printed
        return difference / abs(self.printed) if self.kind == "relative" else difference

    @property
    def met(self) -> bool:
        """Whether the deviation is within the tolerance; never for a value that is not a number."""
        return abs(self.deviation) <= self.tolerance

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        if self.kind == "relative":
            width = f"{self.deviation:+.3%} against {self.tolerance:.3g} relative"
        else:
            width = f"{self.deviation:+.4g}{unit} against {self.tolerance:.4g}{unit}"
        return (
            f"{self.model}: {self.quantity}: printed {self.printed:.6g}{unit}, "
            f"ours {self.ours:.6g}{unit}, off by {width} ({self.source}, {self.status})"
        )


def _append(path: str, comparison: Comparison, test: str) -> None:
    entry = asdict(comparison) | {
        "deviation": comparison.deviation,
        "met": comparison.met,
        "test": test,
    }
    line = json.dumps(entry, sort_keys=True, ensure_ascii=False) + "\n"
    # one write on a descriptor opened for appending: lines of parallel workers never mix
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        os.write(descriptor, line.encode())
    finally:
        os.close(descriptor)


@pytest.fixture
def published(request: pytest.FixtureRequest) -> Callable[..., Comparison]:
    """Compare with a printed value, and put the comparison on record.

    Keyword arguments: `model` (what of ours is under test), `source` (author and year),
    `status` (``PUBLISHED``, ``MEMORY 0.85`` with the confidence, ``COMPUTED`` for another program's
    or our own number, ``common practice``), `quantity`, `unit`, `printed`, `ours`, `tolerance`,
    `kind` (``relative`` or ``absolute``), `reason` (why the tolerance is what it is).
    With `aim_only` a value that is not met is recorded as such instead of failing the test.
    """

    def compare(
        *,
        model: str,
        source: str,
        status: str,
        quantity: str,
        unit: str,
        printed: float,
        ours: float,
        tolerance: float,
        reason: str,
        kind: Literal["relative", "absolute"] = "relative",
        aim_only: bool = False,
    ) -> Comparison:
        comparison = Comparison(
            model=model,
            source=source,
            status=status,
            quantity=quantity,
            unit=unit,
            printed=float(printed),
            ours=float(ours),
            tolerance=float(tolerance),
            kind=kind,
            reason=reason,
            aim_only=aim_only,
        )
        path = os.environ.get("SWEATLINE_EVIDENCE")
        if path:
            _append(path, comparison, request.node.nodeid)
        if not aim_only:
            assert comparison.met, str(comparison)
        return comparison

    return compare
