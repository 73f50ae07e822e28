"""How the control of a machine is wired: humidistat, cut-out, defrost, bucket switch and fan.

A ladder as the trade draws it: the live wire on the left, the neutral on the right, every contact
as it stands with the machine dry, warm and at rest. Only the live wire is switched.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle

from sweatline.job.year import Control
from sweatline.report.axes import FigureScale
from sweatline.report.paper import GREY, INK, SMALL, Note, Paper, line_height, wrapped
from sweatline.safety.cautions import CAUTIONS

_LIVE, _NEUTRAL = 0.42, 6.5  # in, where the rails stand
_FIRST, _PITCH = 1.05, 1.07  # in, middle of the first contact, from one to the next
_BESIDE: Final = 0.56  # in, from a contact to the wire that branches off after it
_WIDE: Final = 1.04  # in, for the words at a contact
_LOAD: Final = 5.75  # in, middle of a load
_RUNG: Final = 1.12  # in, from rung to rung
_WIRE: Final = 1.5  # pt
_RESET: Final = 1.5  # K above a cut-out where it lets go (as the year has it)

_NOTES: Final = (
    "Switch the live wire only, never the neutral or the earth. Each contact has to carry the "
    "current with which the motor starts; where it cannot, let it pull in a relay that can. "
    "Earth the compressor, the fan and the cabinet.",
    "With a flammable refrigerant every contact in or below the machine must be of a kind that "
    "cannot light the gas. Work on it only where your local codes allow you to.",
)


class _Contact(NamedTuple):
    """A switch in a wire."""

    name: str
    told: str
    closed: bool


def _contacts(control: Control, scale: FigureScale) -> list[_Contact]:
    """What stands in the wire that compressor and fan share, from the live wire on."""
    start = control.humidity + 0.5 * control.differential
    stop = control.humidity - 0.5 * control.differential
    on, off = (scale.words(h, "relative humidity", 2) for h in (start, stop))
    found = [_Contact("humidistat", f"closes at {on}, opens at {off}", False)]
    if control.bucket is not None:
        found.insert(0, _Contact("bucket switch", "opens when the bucket is full", True))
    if control.cut_out is not None:
        low, high = (
            scale.words(t, "temperature") for t in (control.cut_out, control.cut_out + _RESET)
        )
        found.append(
            _Contact("cut-out in the room's air", f"opens at {low}, closes at {high}", True)
        )
    return found


def _defrost(control: Control, scale: FigureScale) -> _Contact | None:
    """The contact that begins a defrost, closed while the machine dries."""
    rest = scale.words(control.rest, "time", 2)
    if control.defrost == "coil":
        cold = scale.words(control.coil_stop, "temperature")
        delay = scale.words(control.coil_delay, "time", 2)
        return _Contact(
            "coil thermostat", f"opens below {cold} for {delay}, until thawed or {rest}", True
        )
    if control.defrost == "clock":
        every = scale.words(control.run_stop, "time", 2)
        return _Contact("defrost clock", f"opens after {every} of running, for {rest}", True)
    return None


def draw_control(control: Control, scale: FigureScale, title: str) -> Paper:
    """Ladder of a control, and the cautions that belong to it."""
    series, defrost = _contacts(control, scale), _defrost(control, scale)
    hot_gas = defrost is not None and control.defrost_by == "hot gas"
    fan_stops = defrost is not None and control.defrost_by != "fan"
    rungs: list[tuple[str, str, _Contact | None]] = [
        ("motor", "compressor, with its start gear and overload", None if hot_gas else defrost)
    ]
    if control.defrost == "clock":
        rungs.append(("clock", "motor of the clock: counts running time", None))
    if hot_gas and defrost is not None:
        other = defrost._replace(told="its other contact: closes when that one opens", closed=False)
        rungs.append(("coil", "hot gas valve", other))
    rungs.append(("motor", "fan", defrost if fan_stops else None))
    isolate = next(c.text for c in CAUTIONS if c.key == "isolate")
    rest = scale.words(control.shortest_rest, "time", 1)
    first = f"Drawn dry, warm and at rest. The humidistat waits {rest} before it starts again."
    height = _RUNG * len(rungs) + 0.75
    paper = Paper(
        title,
        "How the control is wired",
        height,
        [Note(text) for text in (first, *_NOTES, isolate)],
    )
    ax = paper.axes(0.0, 0.0, paper.width, height)
    ax.set_axis_off()
    ax.set_xlim(0.0, paper.width)
    ax.set_ylim(0.0, height)
    ys = [height - 0.75 - _RUNG * n for n in range(len(rungs))]
    _rails(ax, height, ys, ys[-1] if control.fan == "always" else ys[0])
    x = _LIVE
    for n, contact in enumerate(series):
        x = _contact(ax, x, _FIRST + n * _PITCH, ys[0], contact)
    node = _FIRST + (len(series) - 1) * _PITCH + _BESIDE
    _wire(ax, (x, ys[0]), (node, ys[0]))
    shared = [y for (_kind, name, _c), y in zip(rungs, ys, strict=True)
              if name != "fan" or control.fan != "always"]  # fmt: skip
    if len(shared) > 1:
        _wire(ax, (node, ys[0]), (node, shared[-1]))
        for y in shared[:-1]:
            _dot(ax, node, y)
    for (kind, name, switch), y in zip(rungs, ys, strict=True):
        begin = node if y in shared else _LIVE
        if begin == _LIVE:
            _dot(ax, _LIVE, y)
        if switch is not None:
            begin = _contact(ax, begin, node + _BESIDE + 0.06, y, switch)
        _load(ax, begin, y, kind, name)
    return paper


def _wire(ax: Axes, *points: tuple[float, float]) -> None:
    ax.plot(*zip(*points, strict=True), color=INK, lw=_WIRE, solid_capstyle="butt")


def _dot(ax: Axes, x: float, y: float) -> None:
    ax.plot([x], [y], color=INK, marker="o", ms=4.5, ls="None")


def _words(ax: Axes, x: float, y: float, text: str, width: float, ink: str = INK) -> None:
    """Centred lines below a place."""
    for n, line in enumerate(wrapped(text, width, SMALL)):
        ax.text(
            x, y - n * line_height(SMALL), line, ha="center", va="top", fontsize=SMALL, color=ink
        )


def _rails(ax: Axes, height: float, ys: Sequence[float], live: float) -> None:
    """Live and neutral down the sides, fuse, and the earth."""
    top = height - 0.28
    for x, name, low in ((_LIVE, "L", live), (_NEUTRAL, "N or L2", ys[-1])):
        ax.text(x, height - 0.12, name, ha="center", va="center", fontsize=SMALL, fontweight="bold")
        _wire(ax, (x, top), (x, low))
    ax.add_patch(Rectangle((_LIVE - 0.05, top - 0.3), 0.1, 0.24, fc="white", ec=INK, lw=_WIRE))
    _wire(ax, (_LIVE, top), (_LIVE, top - 0.4))
    for n, half in enumerate((0.12, 0.08, 0.04)):
        _wire(ax, (_LIVE - half, 0.16 - 0.05 * n), (_LIVE + half, 0.16 - 0.05 * n))
    _wire(ax, (_LIVE, 0.16), (_LIVE, 0.3))
    ax.text(_LIVE + 0.2, 0.14, "earth: compressor, fan and cabinet", va="center", fontsize=SMALL)
    ax.text(_LIVE - 0.1, top - 0.18, "fuse", ha="right", va="center", fontsize=SMALL, color=GREY)


def _contact(ax: Axes, begin: float, x: float, y: float, contact: _Contact) -> float:
    """A contact with its name above and its settings below; where the wire goes on."""
    left, right = x - 0.16, x + 0.16
    _wire(ax, (begin, y), (left, y))
    tip = (right - 0.02, y + 0.02) if contact.closed else (right - 0.03, y + 0.13)
    _wire(ax, (left, y), tip)
    if contact.closed:
        _wire(ax, (right, y), (right, y + 0.09))
    for end in (left, right):
        ax.plot([end], [y], color=INK, marker="o", ms=4.0, mfc="white", mew=1.2, ls="None")
    name = wrapped(contact.name, _WIDE, SMALL)
    for n, line in enumerate(reversed(name)):
        ax.text(
            x, y + 0.19 + n * line_height(SMALL), line, ha="center", va="bottom", fontsize=SMALL
        )
    _words(ax, x, y - 0.11, contact.told, _WIDE, GREY)
    return right


def _load(ax: Axes, begin: float, y: float, kind: str, name: str) -> None:
    """What takes the current, between the wire and the neutral."""
    _wire(ax, (begin, y), (_LOAD - 0.17, y))
    _wire(ax, (_LOAD + 0.17, y), (_NEUTRAL, y))
    _dot(ax, _NEUTRAL, y)
    if kind == "coil":
        ax.add_patch(Rectangle((_LOAD - 0.17, y - 0.1), 0.34, 0.2, fc="white", ec=INK, lw=_WIRE))
        _wire(ax, (_LOAD - 0.06, y - 0.1), (_LOAD + 0.06, y + 0.1))
    else:
        ax.add_patch(Circle((_LOAD, y), 0.17, fc="white", ec=INK, lw=_WIRE))
        if kind == "motor":
            ax.text(_LOAD, y, "M", ha="center", va="center", fontsize=SMALL)
        else:
            _wire(ax, (_LOAD, y + 0.1), (_LOAD, y), (_LOAD + 0.08, y))
    _words(ax, _LOAD, y - 0.22, name, 1.3)
