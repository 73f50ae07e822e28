"""Figures of answers, as Matplotlib figures or as SVG and PNG files.

A balance is drawn as state diagram, air path and coils; a match as ranking; a charge curve as
panels over one charge axis; a room map as contour lines; frost as panels over time; the tubes on
the shelf as lengths; a diagnosis as its causes and its readings; a year in panels, with the wiring
of its control.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import singledispatch
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweatline.design.balance import BalanceAnswer
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.design.frost import FrostAnswer
from sweatline.design.match import MatchAnswer
from sweatline.design.metering import MeteringAnswer
from sweatline.design.room_map import RoomAnswer
from sweatline.diagnosis.diagnosis import Diagnosis
from sweatline.errors import JobError
from sweatline.season.year import YearAnswer
from sweatline.units.showing import System

if TYPE_CHECKING:  # Matplotlib takes a second to import: only who draws waits for it
    from matplotlib.figure import Figure

    from sweatline.job.year import Control
    from sweatline.report.axes import FigureScale
    from sweatline.report.paper import Paper

Drawable = (
    BalanceAnswer
    | MatchAnswer
    | ChargeAnswer
    | RoomAnswer
    | FrostAnswer
    | MeteringAnswer
    | YearAnswer
    | Diagnosis
)


def plot(answer: Drawable, *, system: System | None = None) -> list[Figure]:
    """Draw an answer.

    Parameters
    ----------
    answer : Drawable
        An answer that has figures.
    system : str, optional
        ``US`` or ``SI``; by default that of the job.

    Returns
    -------
    list of Figure
        Three of a balance, two of a diagnosis or a year, else one. No window is opened.

    Raises
    ------
    JobError
        There is nothing to draw.

    Examples
    --------
    >>> first, *_ = plot(best.balance())  # doctest: +SKIP
    >>> first.savefig("circuit.pdf")  # doctest: +SKIP
    """
    from sweatline.report.paper import drawing_rules

    with drawing_rules():
        return [paper.figure for _name, paper in _drawn(answer, system)]


def write_figures(
    answer: Drawable, folder: Path, stem: str, system: System | None = None
) -> list[Path]:
    """Draw an answer and write its figures.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    stem : str
        Beginning of the file names; what a figure shows follows it.
    system : str, optional
        ``US`` or ``SI``; by default that of the job.

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
    from sweatline.report.paper import drawing_rules

    written: list[Path] = []
    with drawing_rules():
        for name, paper in _drawn(answer, system):
            written += paper.save(folder, f"{stem}-{name}")
    return written


def svg_figures(answer: Drawable, *, system: System | None = None) -> list[tuple[str, str]]:
    """Name and SVG text of each figure of an answer.

    Parameters
    ----------
    system : str, optional
        ``US`` or ``SI``; by default that of the job.

    Raises
    ------
    JobError
        There is nothing to draw.
    """
    from sweatline.report.paper import drawing_rules

    with drawing_rules():
        return [(name, paper.svg()) for name, paper in _drawn(answer, system)]


def control_svg(control: Control, scale: FigureScale) -> str:
    """Wiring of a control as SVG."""
    from sweatline.report.control_wiring import draw_control
    from sweatline.report.paper import drawing_rules

    with drawing_rules():
        return draw_control(control, scale, "").svg()


_Draw = tuple[str, Callable[[Any, System], "Paper"]]


def _drawn(answer: Drawable, system: System | None) -> Iterator[tuple[str, Paper]]:
    """Name and paper of each figure of an answer."""
    for name, draw in _drawings(answer):
        yield name, draw(answer, system or answer.job.unit_system)


@singledispatch
def _drawings(answer: object) -> Sequence[_Draw]:
    """Names of an answer's figures and how each is drawn; Matplotlib is imported here."""
    raise JobError(what=f"there is no figure of this: {type(answer).__name__}")


@_drawings.register(BalanceAnswer)
def _of_a_balance(_: BalanceAnswer) -> Sequence[_Draw]:
    from sweatline.report.air_path import draw_air_path
    from sweatline.report.coil_strip import draw_coil_strip
    from sweatline.report.state_diagram import draw_state_diagram

    return [
        ("state-diagram", draw_state_diagram),
        ("air-path", draw_air_path),
        ("coils", draw_coil_strip),
    ]


@_drawings.register(ChargeAnswer)
def _of_a_charge_curve(_: ChargeAnswer) -> Sequence[_Draw]:
    from sweatline.report.charge_panels import draw_charge_panels

    return [("charge-curve", draw_charge_panels)]


@_drawings.register(YearAnswer)
def _of_a_year(_: YearAnswer) -> Sequence[_Draw]:
    from sweatline.report.year_panels import draw_year, draw_year_control

    return [("year", draw_year), ("control", draw_year_control)]


@_drawings.register(MatchAnswer)
def _of_a_match(_: MatchAnswer) -> Sequence[_Draw]:
    from sweatline.report.ranking import draw_ranking

    return [("ranking", draw_ranking)]


@_drawings.register(RoomAnswer)
def _of_a_room_map(_: RoomAnswer) -> Sequence[_Draw]:
    from sweatline.report.room_contours import draw_room_contours

    return [("room-map", draw_room_contours)]


@_drawings.register(FrostAnswer)
def _of_frost(_: FrostAnswer) -> Sequence[_Draw]:
    from sweatline.report.frost_panels import draw_frost

    return [("frost", draw_frost)]


@_drawings.register(MeteringAnswer)
def _of_tubes(_: MeteringAnswer) -> Sequence[_Draw]:
    from sweatline.report.tube_lengths import draw_tube_lengths

    return [("tube-lengths", draw_tube_lengths)]


@_drawings.register(Diagnosis)
def _of_a_diagnosis(_: Diagnosis) -> Sequence[_Draw]:
    from sweatline.report.causes import draw_causes, draw_readings

    return [("causes", draw_causes), ("readings", draw_readings)]
