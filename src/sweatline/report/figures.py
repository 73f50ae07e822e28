"""Figures of answers, each as SVG and PNG, in the job's unit system.

What an answer is drawn as: a balance as state diagram, air path and coil strip; a charge curve as
panels over one charge axis; a room map as contour lines. Matplotlib is imported at the first
figure, not before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import cast

from sweatline.design.match import Candidate
from sweatline.design.questions import BalanceAnswer, ChargeAnswer, RoomAnswer
from sweatline.report.air_path import draw_air_path
from sweatline.report.charge_panels import draw_charge_panels
from sweatline.report.coil_strip import draw_coil_strip
from sweatline.report.paper import Paper, drawing_rules
from sweatline.report.ranking import draw_ranking
from sweatline.report.room_contours import draw_room_contours
from sweatline.report.state_diagram import draw_state_diagram
from sweatline.units.showing import System


def write_figures(
    answer: BalanceAnswer | ChargeAnswer | RoomAnswer, folder: Path, stem: str, system: System
) -> list[Path]:
    """Draw an answer and write its figures.

    Parameters
    ----------
    answer : BalanceAnswer, ChargeAnswer or RoomAnswer
        From :mod:`sweatline.design.questions`.
    folder : Path
        Made if it is not there.
    stem : str
        Beginning of the file names; what a figure shows follows it.
    system : str
        ``US`` or ``SI``.

    Returns
    -------
    list of Path
        The files written, SVG before PNG.

    Raises
    ------
    StoreError
        The folder or a file in it cannot be written.
    """
    return _write(_drawings(answer), folder, stem, system)


def write_ranking(
    candidates: Sequence[Candidate], folder: Path, stem: str, system: System
) -> list[Path]:
    """Draw the ranking of combinations, best first, and write it.

    Raises
    ------
    JobError
        There is nothing to rank.
    StoreError
        The folder or a file in it cannot be written.
    """

    return _write([("ranking", lambda s: draw_ranking(candidates, s))], folder, stem, system)


def _drawings(
    answer: BalanceAnswer | ChargeAnswer | RoomAnswer,
) -> list[tuple[str, Callable[[System], Paper]]]:
    """Names of an answer's figures and how each is drawn."""
    # Answers are told apart by what they hold: this layer lies below the one that makes them.
    if hasattr(answer, "map"):
        rooms = cast("RoomAnswer", answer)
        return [("room-map", lambda s: draw_room_contours(rooms, s))]
    if hasattr(answer, "curve"):
        fillings = cast("ChargeAnswer", answer)
        return [("charge-curve", lambda s: draw_charge_panels(fillings, s))]

    return [
        ("state-diagram", lambda s: draw_state_diagram(answer, s)),
        ("air-path", lambda s: draw_air_path(answer, s)),
        ("coils", lambda s: draw_coil_strip(answer, s)),
    ]


def _write(
    drawings: Sequence[tuple[str, Callable[[System], Paper]]],
    folder: Path,
    stem: str,
    system: System,
) -> list[Path]:

    written = []
    for name, draw in drawings:
        with drawing_rules():
            written += draw(system).save(folder, f"{stem}-{name}")
    return written
