"""Names beside what they name: where on a drawing a label fits without covering anything.

Labels are set one after another, the most important first. Each tries places round its anchors,
near ones first, and takes the one that covers least: never another label or the edge, if there is
any other place, and as little as possible of the lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.text import Annotation, Text
from numpy.typing import ArrayLike, NDArray

from sweatline.report.paper import GREY, INK, SIZE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

FloatArray = NDArray[np.float64]

FAINT_LINE: Final = "faint"  # gid of lines that a label may cross

_DISTANCES: Final = (4.0, 9.0, 16.0, 26.0, 38.0, 54.0, 74.0)  # pt
_ANGLES: Final = 24
_LEADER_FROM: Final = 12.0  # pt, beyond which a thin line leads to the anchor
_PAD: Final = 2.0  # pt kept free round a label
_UNDER: Final = 1.8  # drawing order: above faint lines, below all others
_STEP: Final = 4.0  # px between the points that stand for a line


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A name and the points, in data, of which it may stand beside any one.

    Parameters
    ----------
    text : str
        May have several lines.
    anchors : (n, 2) array
        In data.
    leader : bool
        Whether a thin line may lead to it from afar; else it stays close.
    point : bool
        The anchor is a point drawn with a marker, to be kept clear.
    """

    text: str
    anchors: ArrayLike
    color: str = INK
    size: float = SIZE
    weight: str = "normal"
    style: str = "normal"
    leader: bool = True
    point: bool = False


def beside(
    x: ArrayLike, y: ArrayLike, *, between: tuple[float, float] = (0.1, 0.9), count: int = 25
) -> FloatArray:
    """Anchors spread along a line, within a part of it. (count, 2)"""
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    good = np.isfinite(xs) & np.isfinite(ys)
    xs, ys = xs[good], ys[good]
    place = np.linspace(between[0], between[1], count) * (len(xs) - 1)
    index = np.arange(len(xs))
    return np.column_stack((np.interp(place, index, xs), np.interp(place, index, ys)))


def _dense(points: FloatArray) -> FloatArray:
    """Points every few pixels along a line, gaps left out."""
    if len(points) < 2:
        return points
    pieces = [points[:1]]
    for a, b in pairwise(points):
        if not (np.isfinite(a).all() and np.isfinite(b).all()):
            continue
        n = max(int(math.hypot(*(b - a)) / _STEP), 1)
        pieces.append(a + (b - a) * np.linspace(0.0, 1.0, min(n, 2000) + 1)[1:, None])
    return np.concatenate(pieces)


def _drawn(line: Line2D) -> FloatArray:
    points = line.get_transform().transform(np.asarray(line.get_xydata(), dtype=float))
    marked = line.get_linestyle() in ("None", "", " ")
    return points[np.isfinite(points).all(axis=1)] if marked else _dense(points)


def _overlap(box: FloatArray, others: FloatArray) -> float:
    """Area that a box (x0, y0, x1, y1) shares with others."""
    if not len(others):
        return 0.0
    w = np.minimum(box[2], others[:, 2]) - np.maximum(box[0], others[:, 0])
    h = np.minimum(box[3], others[:, 3]) - np.maximum(box[1], others[:, 1])
    return float(np.sum(np.clip(w, 0.0, None) * np.clip(h, 0.0, None)))


def _inside(box: FloatArray, points: FloatArray) -> int:
    if not len(points):
        return 0
    x, y = points[:, 0], points[:, 1]
    return int(np.sum((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])))


def _box_of(text: Text) -> FloatArray:
    figure = text.get_figure()
    assert figure is not None
    extent = text.get_window_extent(figure.canvas.get_renderer())  # type: ignore[attr-defined]
    return np.array([extent.x0, extent.y0, extent.x1, extent.y1])


def set_labels(
    axes: Axes, labels: Sequence[Label], *, keep_off: Sequence[FloatArray] = ()
) -> list[Annotation]:
    """Set labels on axes whose lines, limits and other texts are already there.

    Parameters
    ----------
    labels : sequence of Label
        The most important first.
    keep_off : sequence of (4,) arrays
        Boxes (x0, y0, x1, y1) in data that stay free.
    """
    figure = axes.figure
    px = figure.dpi / 72.0
    edge = axes.bbox
    lines = [_drawn(x) for x in axes.lines if x.get_gid() != FAINT_LINE]
    faint = [_drawn(x) for x in axes.lines if x.get_gid() == FAINT_LINE]
    curve = np.concatenate(lines) if lines else np.empty((0, 2))
    thin = np.concatenate(faint) if faint else np.empty((0, 2))
    taken = [_box_of(t) for t in axes.texts if t.get_text()]
    for free in keep_off:
        corners = axes.transData.transform([[free[0], free[1]], [free[2], free[3]]])
        taken.append(np.concatenate((corners.min(axis=0), corners.max(axis=0))))
    points = [
        axes.transData.transform(np.atleast_2d(np.asarray(w.anchors, dtype=float))) for w in labels
    ]
    for w, at in zip(labels, points, strict=True):
        if w.point:
            r = 4.0 * px
            taken += [np.array([x - r, y - r, x + r, y + r]) for x, y in at]
    set_down = []
    angles = [(math.cos(a), math.sin(a)) for a in np.arange(_ANGLES) * 2.0 * math.pi / _ANGLES]
    for wanted, at in zip(labels, points, strict=True):
        text = axes.annotate(
            wanted.text,
            (0.0, 0.0),
            xytext=(0.0, 0.0),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=wanted.size,
            color=wanted.color,
            fontweight=wanted.weight,
            fontstyle=wanted.style,
            linespacing=1.15,
            multialignment="left",
            parse_math=False,
            annotation_clip=False,
            bbox={"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none"},
            zorder=_UNDER,
        )
        size = _box_of(text)
        w, h = size[2] - size[0], size[3] - size[1]
        others = np.array(taken) if taken else np.empty((0, 4))
        best = (math.inf, 0, 0.0, 0.0, 0.0)
        reach = _DISTANCES if wanted.leader else _DISTANCES[:2]
        for i, (ax, ay) in enumerate(at):
            if not (edge.x0 - 1 <= ax <= edge.x1 + 1 and edge.y0 - 1 <= ay <= edge.y1 + 1):
                continue
            for distance in reach:
                if 2.0 * distance > best[0]:
                    break
                for cos, sin in angles:
                    x = ax + cos * (distance * px + 0.5 * w)
                    y = ay + sin * (distance * px + 0.5 * h)
                    pad = _PAD * px
                    box = np.array(
                        [x - w / 2 - pad, y - h / 2 - pad, x + w / 2 + pad, y + h / 2 + pad]
                    )
                    out = max(edge.x0 - box[0], box[2] - edge.x1, 0.0)
                    out += max(edge.y0 - box[1], box[3] - edge.y1, 0.0)
                    cost = 2.0 * distance + 60.0 * out / px
                    if cost >= best[0]:
                        continue
                    cost += 8.0 * _overlap(box, others) / px**2
                    cost += 14.0 * _inside(box, curve) + 1.5 * _inside(box, thin)
                    if distance > _LEADER_FROM and cost < best[0]:
                        way = np.linspace(0.1, 1.0, 24)[:, None]
                        leader = np.array([ax, ay]) + way * (np.array([x, y]) - [ax, ay])
                        leader = leader[[not _inside(box, p[None]) for p in leader]]
                        for other in others:
                            cost += 6.0 * _inside(other, leader[2:])
                    if cost < best[0]:
                        best = (cost, i, x, y, distance)
        cost, i, x, y, distance = best
        if not math.isfinite(cost):
            text.remove()
            continue
        anchor = at[i]
        text.xy = tuple(axes.transData.inverted().transform(anchor))
        text.set_position(((x - anchor[0]) / px, (y - anchor[1]) / px))
        if distance > _LEADER_FROM:
            x0 = min(max(anchor[0], x - 0.5 * w), x + 0.5 * w)
            y0 = min(max(anchor[1], y - 0.5 * h), y + 0.5 * h)
            ends = axes.transData.inverted().transform([anchor, (x0, y0)])
            axes.plot(ends[:, 0], ends[:, 1], color=GREY, lw=0.6, gid=FAINT_LINE, zorder=_UNDER)
        taken.append(np.array([x - w / 2, y - h / 2, x + w / 2, y + h / 2]))
        set_down.append(text)
    return set_down
