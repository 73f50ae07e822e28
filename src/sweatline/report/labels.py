"""Names beside what they name: where on a drawing a label fits without covering anything.

Labels are set one after another, the most important first. Each tries places round its anchors,
near ones first, and takes the one that covers least: never another label or the edge, if there is
any other place, and as little as possible of the lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.text import Text
from numpy.typing import ArrayLike, NDArray

from sweatline.report.paper import GREY, INK, SIZE

FloatArray = NDArray[np.float64]

FAINT_LINE: Final = "faint"  # gid of lines that a label may cross

_NEAR: Final = (4.0, 9.0)  # pt from anchor to label
_FAR: Final = (*_NEAR, 16.0, 26.0, 38.0, 54.0, 74.0)  # pt, with a leader
_LEADER_FROM: Final = 12.0  # pt, beyond which a thin line leads to the anchor
_PAD: Final = 2.0  # pt kept free round a label
_POINT: Final = 4.0  # pt kept free round a point that is named
_UNDER: Final = 1.8  # drawing order: above faint lines, below all others
_STEP: Final = 4.0  # px between the points that stand for a line

_TURN: Final = np.arange(24) * 2.0 * np.pi / 24.0
_AROUND: Final = np.column_stack((np.cos(_TURN), np.sin(_TURN)))


@dataclass(frozen=True, slots=True)
class Label:
    """A name and, in data, the point or the line that it names.

    A point is kept clear and a thin line may lead from it to its name; the name of a line stands
    close beside some part of it.

    Parameters
    ----------
    text : str
        May have several lines.
    x, y : (n,) arrays or floats
        In data. Of a line, what is not finite or outside the frame is left out.
    between : (2,) floats
        Part of a line, as seen, beside which the name may stand. [0..1]
    """

    text: str
    x: ArrayLike
    y: ArrayLike
    color: str = INK
    size: float = SIZE
    weight: str = "normal"
    style: str = "normal"
    between: tuple[float, float] = (0.1, 0.9)

    @property
    def point(self) -> bool:
        """Whether it names a point."""
        return np.size(self.x) == 1


class _Taken(NamedTuple):
    """What a label had better not cover, in pixels."""

    frame: FloatArray  # (4,), x0, y0, x1, y1
    boxes: FloatArray  # (n, 4)
    lines: FloatArray  # (n, 2)
    faint: FloatArray  # (n, 2)


def set_labels(axes: Axes, labels: Sequence[Label]) -> None:
    """Set labels on axes whose lines, limits and other texts are already there.

    Parameters
    ----------
    labels : sequence of Label
        The most important first. One whose line does not cross the frame is left out.
    """
    px = axes.figure.dpi / 72.0
    r = _POINT * px
    inverse = axes.transData.inverted()
    frame = np.array(axes.bbox.extents)
    anchors = [_anchors(axes, label, frame) for label in labels]
    taken = _Taken(
        frame,
        np.array(
            [
                *(_box_of(t) for t in axes.texts if t.get_text()),
                *(
                    [x - r, y - r, x + r, y + r]
                    for label, at in zip(labels, anchors, strict=True)
                    if label.point
                    for x, y in at
                ),
            ]
        ).reshape(-1, 4),
        np.vstack([np.empty((0, 2)), *(_drawn(x) for x in axes.lines if not _is_faint(x))]),
        np.vstack([np.empty((0, 2)), *(_drawn(x) for x in axes.lines if _is_faint(x))]),
    )
    for label, at in zip(labels, anchors, strict=True):
        if not len(at):
            continue
        text = axes.annotate(
            label.text,
            (0.0, 0.0),
            xytext=(0.0, 0.0),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=label.size,
            color=label.color,
            fontweight=label.weight,
            fontstyle=label.style,
            linespacing=1.15,
            multialignment="left",
            parse_math=False,
            annotation_clip=False,
            bbox={"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none"},
            zorder=_UNDER,
        )
        box = _box_of(text)
        half = 0.5 * (box[2:] - box[:2])
        anchor, centre, distance = _best_place(at, half, _FAR if label.point else _NEAR, px, taken)
        text.xy = tuple(inverse.transform(anchor))
        text.set_position(tuple((centre - anchor) / px))
        taken = taken._replace(boxes=np.vstack((taken.boxes, [*(centre - half), *(centre + half)])))
        if distance > _LEADER_FROM:
            end = np.clip(anchor, centre - half - 1.5 * px, centre + half + 1.5 * px)
            x, y = inverse.transform([anchor, end]).T
            axes.plot(x, y, color=GREY, lw=0.6, gid=FAINT_LINE, zorder=_UNDER)
            taken = taken._replace(lines=np.vstack((taken.lines, _dense([anchor, end]))))


def _best_place(
    anchors: FloatArray, half: FloatArray, reach: Sequence[float], px: float, taken: _Taken
) -> tuple[FloatArray, FloatArray, float]:
    """Anchor, centre of the label [px] and distance between them [pt] that cost least."""
    best = np.inf
    place = (anchors[0], anchors[0], 0.0)
    tight, loose = half / px, half + _PAD * px
    for distance in reach:
        if 2.0 * distance > best:
            break
        centres = (anchors[:, None] + _AROUND * (distance + tight) * px).reshape(-1, 2)
        boxes = np.hstack((centres - loose, centres + loose))
        out = np.clip(taken.frame[:2] - boxes[:, :2], 0.0, None).max(axis=1)
        out += np.clip(boxes[:, 2:] - taken.frame[2:], 0.0, None).max(axis=1)
        cost = 2.0 * distance + 60.0 * out / px + 8.0 * _shared(boxes, taken.boxes) / px**2
        for k in np.argsort(cost, kind="stable"):
            if cost[k] >= best:
                break
            total = cost[k] + 14.0 * _inside(boxes[k], taken.lines)
            total += 1.5 * _inside(boxes[k], taken.faint)
            anchor = anchors[k // len(_AROUND)]
            if distance > _LEADER_FROM and total < best:
                way = anchor + np.linspace(0.1, 1.0, 24)[2:, None] * (centres[k] - anchor)
                open_way = way[((way < boxes[k, :2]) | (way > boxes[k, 2:])).any(axis=1)]
                total += 6.0 * sum(_inside(box, open_way) for box in taken.boxes)
            if total < best:
                best, place = float(total), (anchor, centres[k], distance)
    return place


def _anchors(axes: Axes, label: Label, frame: FloatArray) -> FloatArray:
    """Points beside which a label may stand: its point, or some along its line. (n, 2) [px]"""
    line = np.column_stack(np.atleast_1d(*np.broadcast_arrays(label.x, label.y))).astype(float)
    seen = _dense(axes.transData.transform(line))
    seen = seen[((seen >= frame[:2] - 1.0) & (seen <= frame[2:] + 1.0)).all(axis=1)]
    if len(seen) < 2:
        return seen
    low, high = label.between
    count = min(len(seen), 25)
    places = np.linspace(low, high, count) * (len(seen) - 1)
    picked: FloatArray = seen[places.astype(int)]
    return picked


def _dense(points: ArrayLike) -> FloatArray:
    """Points every few pixels along a line, gaps left out. (n, 2)"""
    corners = np.asarray(points, dtype=float)
    pieces = [corners[:1][np.isfinite(corners[:1]).all(axis=1)]]
    for a, step in zip(corners, np.diff(corners, axis=0), strict=False):
        if np.isfinite(step).all():
            n = min(max(int(np.hypot(*step) / _STEP), 1), 2000)
            pieces.append(a + step * np.linspace(0.0, 1.0, n + 1)[1:, None])
    return np.concatenate(pieces)


def _is_faint(line: Line2D) -> bool:
    return line.get_gid() == FAINT_LINE


def _drawn(line: Line2D) -> FloatArray:
    """Points that stand for a line or for its markers. (n, 2) [px]"""
    points = line.get_transform().transform(np.asarray(line.get_xydata(), dtype=float))
    if line.get_linestyle() in ("None", "", " "):
        return np.asarray(points[np.isfinite(points).all(axis=1)])
    return _dense(points)


def _shared(boxes: FloatArray, others: FloatArray) -> FloatArray:
    """Area that each box shares with all others together. (n,)"""
    low = np.maximum(boxes[:, None, :2], others[:, :2])
    high = np.minimum(boxes[:, None, 2:], others[:, 2:])
    area: FloatArray = np.clip(high - low, 0.0, None).prod(axis=2).sum(axis=1)
    return area


def _inside(box: FloatArray, points: FloatArray) -> int:
    """How many points lie in a box."""
    return int(((points > box[:2]) & (points < box[2:])).all(axis=1).sum())


def _box_of(text: Text) -> FloatArray:
    figure = text.get_figure()
    assert figure is not None
    extent = text.get_window_extent(figure.canvas.get_renderer())  # type: ignore[attr-defined]
    return np.array(extent.extents)
