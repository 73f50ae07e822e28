"""What a test against print puts on record: single values, and sections of another form.

The fixtures in `tests/published/conftest.py` make and write them, `tools/build_evidence.py` reads
them back.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

_STATUS = re.compile(r"PUBLISHED|common practice|MEMORY (0\.\d{1,2}|1\.0)")

# What a printed value rests on: from nearest to nature to farthest. The status says how sure the
# number is, the basis what kind of thing it is.
BASES = {
    "measured": "read off hardware, and the same thing is worked out here",
    "similar": "measured on a machine or tube known only in part; ours is one like it",
    "fitted": "curves and catalogue values which makers or authors drew through measurements",
    "practice": "what the trade goes by",
    "table": "printed tables of properties",
    "rule": "what a standard or a statute lays down",
    "example": "worked examples",
    "equation": "what other authors' equations and charts give",
}
BASIS_OF_STATUS = {"common practice": "practice"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One printed value against ours."""

    model: str
    source: str
    status: str
    basis: str
    quantity: str
    unit: str
    printed: float
    ours: float
    tolerance: float
    kind: Literal["relative", "absolute"]
    reason: str
    aim_only: bool
    in_sample: bool  # a number of ours was chosen to agree with this value

    def __post_init__(self) -> None:
        for name in ("model", "source", "quantity", "reason"):
            if not str(getattr(self, name)).strip():
                raise ValueError(f"evidence needs a {name}")
        if not _STATUS.fullmatch(self.status):
            raise ValueError(
                f"status {self.status!r}: use PUBLISHED, MEMORY 0.85 or common practice"
            )
        if self.basis not in BASES:
            raise ValueError(f"basis {self.basis!r}: use one of {', '.join(BASES)}")
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Points of one name in the plot of a section."""

    name: str
    x: Sequence[float]
    y: Sequence[float]

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.x) != len(self.y) or not self.x:
            raise ValueError(f"series {self.name!r} needs a name and as many x as y")
        if not all(math.isfinite(v) for v in (*self.x, *self.y)):
            raise ValueError(f"series {self.name!r} holds a value that is not a number")


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A section of the evidence page that is not a list of single values.

    `text` holds paragraphs, `columns` and `rows` one table, `series` the points of one plot with
    the names of its axes in `x` and `y`; with `diagonal` a line is drawn where x equals y.
    """

    title: str
    text: Sequence[str]
    columns: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()
    x: str = ""
    y: str = ""
    series: Sequence[Series] = ()
    diagonal: bool = False

    def __post_init__(self) -> None:
        if not self.title.strip() or not self.text:
            raise ValueError("a section needs a title and a text")
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"section {self.title!r}: a row is not as long as the header")
        if self.series and not (self.x and self.y):
            raise ValueError(f"section {self.title!r}: name both axes")
