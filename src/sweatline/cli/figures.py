"""Figures beside an answer, drawn only when a person asks for them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sweatline.cli.terminal import aside

if TYPE_CHECKING:
    from sweatline.units import System

__all__ = ["draw_figures"]


def draw_figures(answer: Any, folder: str | None, *, stem: str, system: System) -> None:
    """Draw the figures of an answer into a folder and say where they are."""
    if folder is None:
        return
    from pathlib import Path

    from sweatline.errors import StoreError
    from sweatline.report.figures import write_figures

    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
        written = write_figures(answer, place, stem, system)
    except OSError as error:
        reason = error.strerror or str(error)
        raise StoreError(what=f"figures cannot be written: {reason}", path=folder) from None
    for path in written:
        aside(f"Figure: {path}")
