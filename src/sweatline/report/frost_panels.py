"""How ice grows on a coil, and what it does to air, evaporating temperature and water."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes

from sweatline.answers import Range
from sweatline.design.frost import RUN_TO, FrostAnswer
from sweatline.errors import JobError
from sweatline.machine.frost import BLOCKED, FrostRun, FrostStep
from sweatline.report.axes import Axis, FigureScale, scale_for
from sweatline.report.paper import COLD, GREY, HATCHED, INK, SMALL, Note, Paper, spread
from sweatline.units.kinds import Kind
from sweatline.units.showing import System

_LEFT: Final = 0.62  # in
_RIGHT: Final = 0.25
_PANEL: Final = 1.05  # in, height of a panel
_GAP: Final = 0.36
_HEAD: Final = 0.55  # in above the panels, for the numbers of the moments
_FOOT: Final = 0.5


class _Panel(NamedTuple):
    """One quantity over time."""

    title: str
    kind: Kind
    color: str
    of: Callable[[FrostStep], float]
    from_zero: bool


_PANELS: Final = (
    _Panel("ice on the coil", "mass", COLD, lambda s: s.ice, True),
    _Panel("airflow, of that of the clean coil", "ratio", INK, lambda s: s.airflow, True),
    _Panel("evaporating", "temperature", COLD, lambda s: s.evaporating_temperature, False),
    _Panel("water out of the air", "water removal", COLD, lambda s: s.water, True),
)


def draw_frost(answer: FrostAnswer, system: System) -> Paper:
    """Ice, airflow, evaporating temperature and water from a bare coil on.

    Raises
    ------
    JobError
        Nothing freezes.
    """
    if answer.ended == "bare":
        raise JobError(what="nothing freezes in this room, so there is nothing to draw")
    scale = scale_for(answer.build, system)
    moments = _moments(answer, scale)
    runs = (answer.likely, answer.light, answer.heavy)
    clock = scale.axis_of(max(run.steps[-1].time for run in runs), "time")
    count = len(_PANELS)
    paper = Paper(
        scale.machine(answer.build),
        "How frost grows on its coil, in a room at "
        + scale.air(answer.room_temperature, answer.room_relative_humidity),
        _HEAD + count * _PANEL + (count - 1) * _GAP + _FOOT,
        [
            *(Note(text, str(n)) for n, (_at, text) in enumerate(moments, start=1)),
            Note(
                "Shaded: frost lighter or denser than expected. Hatched: below half of its "
                "airflow the coil counts as blocked."
            ),
        ],
    )
    panels: list[Axes] = []
    for n, panel in enumerate(_PANELS):
        values = [panel.of(s) for run in runs for s in run.steps]
        axis = scale.axis_of(max(values, key=abs), panel.kind)
        if panel.kind == "ratio":
            axis = Axis(unit="%", factor=0.01)
        ax = paper.axes(
            _LEFT, _FOOT + (count - 1 - n) * (_PANEL + _GAP), paper.width - _LEFT - _RIGHT, _PANEL,
            share=panels[0] if panels else None, title=f"{panel.title}, {axis.unit}", ticks=(10, 4),
        )  # fmt: skip
        ax.tick_params(labelbottom=n == count - 1)
        _draw(ax, panel, answer, axis, clock)
        panels.append(ax)
    panels[0].set_xlim(0.0, 1.02 * clock.one(max(run.steps[-1].time for run in runs)))
    panels[-1].set_xlabel(f"time since the coil was bare, {clock.unit}")
    _number(paper, panels, [clock.one(at) for at, _text in moments])
    return paper


def _moments(answer: FrostAnswer, scale: FigureScale) -> list[tuple[float, str]]:
    """When it is time to melt the ice, and when the coil is blocked."""
    told = (
        (RUN_TO, "the airflow is down to four fifths: time to melt the ice"),
        (BLOCKED, "the airflow is halved: the coil is blocked"),
    )
    found = []
    for share, words in told:
        at = answer.likely.when(share)
        if at is not None:
            others = [run.when(share) for run in (answer.light, answer.heavy)]
            known = [t for t in (at, *others) if t is not None]
            reach = scale.range(Range(low=min(known), middle=at, high=max(known)), "time", 2)
            between = f" ({reach})" if len(known) == 3 else ""
            found.append((at, f"after {scale.words(at, 'time', 2)}{between}: {words}"))
    return found


def _draw(ax: Axes, panel: _Panel, answer: FrostAnswer, axis: Axis, clock: Axis) -> None:
    def line(run: FrostRun) -> tuple[np.ndarray, np.ndarray]:
        return clock([s.time for s in run.steps]), axis([panel.of(s) for s in run.steps])

    (t_light, light), (t_heavy, heavy) = line(answer.light), line(answer.heavy)
    ax.fill(
        np.concatenate([t_light, t_heavy[::-1]]), np.concatenate([light, heavy[::-1]]),
        color=panel.color, alpha=0.13, lw=0.0, zorder=0.8,
    )  # fmt: skip
    ax.plot(*line(answer.likely), color=panel.color, lw=1.8, zorder=4)
    if panel.from_zero:
        ax.set_ylim(0.0, 1.08 * max(*light, *heavy, *line(answer.likely)[1]))
    if panel.kind == "ratio":
        ax.axhspan(0.0, axis.one(BLOCKED), **HATCHED)
        ax.set_yticks([0.0, 50.0, 100.0])


def _number(paper: Paper, panels: list[Axes], at: list[float]) -> None:
    """The moments through all panels, and their numbers above them."""
    for ax in panels:
        for x in at:
            ax.axvline(x, color=GREY, lw=0.7, ls=(0.0, (2.0, 2.0)), zorder=1)
    frame, (low, high) = panels[0].get_position(), panels[0].get_xlim()
    inches = [(frame.x0 + (x - low) / (high - low) * frame.width) * paper.width for x in at]
    places = spread(inches, 0.24, frame.x0 * paper.width, frame.x1 * paper.width)
    base = paper.top - _HEAD
    for n, (x, place) in enumerate(zip(inches, places, strict=True), start=1):
        paper.line((x, x, place), (base, base + 0.2, base + 0.34))
        paper.write(place, base + 0.43, str(n), size=SMALL, ha="center", ringed=True)
