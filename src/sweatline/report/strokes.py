"""Strokes of the small drawings that a page changes every few seconds, as SVG text.

Inks are classes of the page's style sheet: `low`, `high`, `ink`, `grey`, `faint`, `band`, `paper`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

WIDTH: Final = 400.0
_SIZE: Final = 12


def svg(parts: Sequence[str], height: float, told: str) -> str:
    """A drawing, and what it shows in words."""
    return (
        f'<svg class="drawing course" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-label="{escape(told)}" font-size="{_SIZE}">{"".join(parts)}</svg>'
    )


def line(x1: float, y1: float, x2: float, y2: float, ink: str, width: float, dash: str = "") -> str:
    """A straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="stroke-{ink}" '
        f'stroke-width="{width}"{dashed}/>'
    )


def rect(x: float, y: float, width: float, height: float, ink: str) -> str:
    """A filled area."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{max(height, 1.0):.1f}" '
        f'class="fill-{ink}"/>'
    )


def dot(x: float, y: float, ink: str) -> str:
    """A point that was read."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" class="fill-{ink}"/>'


def circled(x: float, y: float, number: int) -> str:
    """A number of a moment."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.5" class="fill-paper stroke-ink" '
        f'stroke-width="1.2"/>{text(x, y + 3.8, str(number), "ink", "middle", 11)}'
    )


def text(x: float, y: float, words: str, ink: str, anchor: str = "start", size: int = _SIZE) -> str:
    """Words; `anchor` as SVG has it."""
    sized = "" if size == _SIZE else f' font-size="{size}"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" class="fill-{ink}" text-anchor="{anchor}"{sized}>'
        f"{escape(words)}</text>"
    )


def path(points: Iterable[tuple[float, float]], ink: str, width: float, dash: str = "") -> str:
    """A line through points."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    through = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return (
        f'<polyline points="{through}" class="stroke-{ink} open" stroke-width="{width}"{dashed}/>'
    )


def area(points: Iterable[tuple[float, float]]) -> str:
    """A shaded band between points."""
    through = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon points="{through}" class="fill-band"/>'
