"""Figures of answers, each as SVG and PNG, in the job's unit system.

What an answer is drawn as: a balance as state diagram, air path and coil strip; a match as ranking;
a charge curve as panels over one charge axis; a room map as contour lines. Importing this imports
Matplotlib.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from sweatline.design.balance import BalanceAnswer
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.design.match import MatchAnswer
from sweatline.design.room_map import RoomAnswer
from sweatline.report.air_path import draw_air_path
from sweatline.report.charge_panels import draw_charge_panels
from sweatline.report.coil_strip import draw_coil_strip
from sweatline.report.paper import Paper, drawing_rules
from sweatline.report.ranking import draw_ranking
from sweatline.report.room_contours import draw_room_contours
from sweatline.report.state_diagram import draw_state_diagram
from sweatline.units.showing import System

Drawable = BalanceAnswer | MatchAnswer | ChargeAnswer | RoomAnswer


def write_figures(answer: Drawable, folder: Path, stem: str, system: System) -> list[Path]:
    """Draw an answer and write its figures.

    Parameters
    ----------
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
    JobError
        There is nothing to draw.
    StoreError
        The folder or a file in it cannot be written.
    """
    written = []
    for name, draw in _drawings(answer):
        with drawing_rules():
            written += draw(system).save(folder, f"{stem}-{name}")
    return written


def _drawings(answer: Drawable) -> Sequence[tuple[str, Callable[[System], Paper]]]:
    """Names of an answer's figures and how each is drawn."""
    if isinstance(answer, RoomAnswer):
        return [("room-map", lambda s: draw_room_contours(answer, s))]
    if isinstance(answer, ChargeAnswer):
        return [("charge-curve", lambda s: draw_charge_panels(answer, s))]
    if isinstance(answer, MatchAnswer):
        return [("ranking", lambda s: draw_ranking(answer.ranked, s))]
    return [
        ("state-diagram", lambda s: draw_state_diagram(answer, s)),
        ("air-path", lambda s: draw_air_path(answer, s)),
        ("coils", lambda s: draw_coil_strip(answer, s)),
    ]
