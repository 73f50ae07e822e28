"""How a small sealed motor is usually wired, drawn for what starts it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sweatline.report.start import NAMED, capacitance, wire_words
from sweatline.report.strokes import dot, line, path, svg, text

if TYPE_CHECKING:
    from sweatline.bench.start_gear.capacitor import Capacitor
    from sweatline.bench.start_gear.gear import MotorGear
    from sweatline.bench.start_gear.start_gear import StartGearAnswer
    from sweatline.units import Scale

_HEIGHT: Final = 250.0
_LIVE, _START, _RUN, _NEUTRAL = 60.0, 112.0, 146.0, 190.0  # heights of the wires
_MOTOR: Final = 286.0  # where the motor's box begins
_WIRE: Final = 1.8


def wiring(a: StartGearAnswer, scale: Scale) -> str:
    """Mains, overload, start device and capacitors on the three pins of the motor.

    Parameters
    ----------
    a : StartGearAnswer
        Says the start device, the torque, the capacitor and the pins, as far as they are known.

    Returns
    -------
    str
        An SVG element.
    """
    gear = a.to_fit.motors[0] if a.to_fit is not None and len(a.to_fit.motors) == 1 else None
    device = a.relay.device if a.relay is not None else "unknown"
    torque = a.relay.starting_torque if a.relay is not None else "unknown"
    capacitor = a.capacitor
    start = capacitor if capacitor is not None and capacitor.use == "start" else None
    run = capacitor if capacitor is not None and capacitor.use == "run" else None
    takes_start = start is not None or torque == "high" or device == "potential"
    takes_run = run is not None
    if gear is not None:
        device = gear.device
        takes_start, takes_run = (use in gear.capacitors for use in ("start", "run"))
    parts = [
        text(4.0, _LIVE + 4.0, "L", "ink"), text(4.0, _NEUTRAL + 4.0, "N", "ink"),
        text(4.0, _NEUTRAL + 20.0, "or L2", "grey", size=11),
        *_box(60.0, _LIVE, 56.0, "overload"),
        _wire((16.0, _LIVE), (60.0, _LIVE)), _wire((116.0, _LIVE), (_MOTOR, _LIVE)),
        *_motor(a),
    ]  # fmt: skip
    branch = 150.0
    if device == "current":
        branch = 40.0
        parts += [
            *_box(120.0, _NEUTRAL, 50.0, "coil"),
            _wire((16.0, _NEUTRAL), (120.0, _NEUTRAL)),
            _wire((170.0, _NEUTRAL), (_MOTOR, _NEUTRAL)),
        ]
    else:
        branch = 60.0
        parts.append(_wire((16.0, _NEUTRAL), (_MOTOR, _NEUTRAL)))
    parts += [dot(branch, _NEUTRAL, "ink")]
    at = branch
    if device != "none":
        parts.append(_wire((branch, _NEUTRAL), (branch, _START)))
        if takes_start:
            named = _named("start capacitor", start, gear, scale)
            parts += [_wire((at, _START), (at + 26.0, _START)),
                      *_plates(at + 26.0, _START, named)]  # fmt: skip
            at += 34.0
        parts += _device(device, at)
    if device == "potential":
        parts += [dot(250.0, _START, "ink"), dot(250.0, _LIVE, "ink"),
                  _wire((250.0, _LIVE), (250.0, 74.0)), _wire((250.0, 98.0), (250.0, _START)),
                  *_upright(250.0, 74.0, 98.0, "coil")]  # fmt: skip
    if takes_run:
        if device == "none":
            parts += [_wire((branch, _NEUTRAL), (branch, _RUN)),
                      _wire((268.0, _START), (_MOTOR, _START))]  # fmt: skip
        else:
            parts += [dot(branch, _RUN, "ink"), dot(268.0, _START, "ink")]
        parts += [
            _wire((branch, _RUN), (166.0, _RUN)),
            *_plates(166.0, _RUN, _named("run capacitor", run, gear, scale)),
            _wire((174.0, _RUN), (268.0, _RUN)), _wire((268.0, _RUN), (268.0, _START)),
        ]  # fmt: skip
    title = [NAMED[device]] if device not in ("ptc", "none") else []
    if gear is not None:
        title.insert(0, gear.kind.upper())
    if title:
        parts.append(text(4.0, _HEIGHT - 8.0, ": ".join(title), "ink"))
    words = _in_words(device, takes_start=takes_start, run=takes_run)
    if gear is not None:
        words = "; ".join(wire_words(w) for w in gear.wires)
    return svg(parts, _HEIGHT, f"Wiring: {words}; earth to the shell")


def _in_words(device: str, *, takes_start: bool, run: bool) -> str:
    words = ["L through the overload to C, N to R"]
    if device == "current":
        words[0] = "L through the overload to C, N through the coil of the relay to R"
    capacitor = "the start capacitor and " if takes_start else ""
    if device != "none":
        words.append(f"N through {capacitor}the {NAMED[device].partition(':')[0]} to S")
    if device == "potential":
        words.append("the coil of the relay between S and C")
    if run:
        words.append("the run capacitor between R and S")
    return "; ".join(words)


def _named(words: str, found: Capacitor | None, gear: MotorGear | None, scale: Scale) -> str:
    ends = None if found is None else (found.marked_low, found.marked_high)
    if ends is None and gear is not None:
        part = next(p for p in gear.parts if p.part == words)
        ends = (part.low, part.high) if part.low is not None and part.high is not None else None
    if ends is None:
        return words
    low, high = ends
    size = scale.show(low, "capacitance") if low == high else capacitance(low, high, scale)
    return f"{words}, {size}"


def _wire(*points: tuple[float, float]) -> str:
    return path(points, "ink", _WIRE)


def _outline(x: float, y: float, width: float, height: float, dash: str = "") -> str:
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
    return path(corners, "ink", _WIRE, dash)


def _box(x: float, y: float, width: float, words: str, dash: str = "") -> list[str]:
    """A part in a wire, with its name in it."""
    return [
        _outline(x, y - 11.0, width, 22.0, dash),
        text(x + 0.5 * width, y + 4.0, words, "ink", "middle", 11),
    ]


def _upright(x: float, top: float, bottom: float, words: str) -> list[str]:
    return [
        _outline(x - 16.0, top, 32.0, bottom - top),
        text(x, 0.5 * (top + bottom) + 4.0, words, "ink", "middle", 11),
    ]


def _plates(x: float, y: float, words: str) -> list[str]:
    """A capacitor."""
    return [
        line(x, y - 10.0, x, y + 10.0, "ink", 2.4),
        line(x + 8.0, y - 10.0, x + 8.0, y + 10.0, "ink", 2.4),
        text(
            x - (40.0 if y < _RUN else 70.0),
            y + (22.0 if y == _RUN else -14.0),
            words,
            "ink",
            size=11,
        ),
    ]


def _device(device: str, at: float) -> list[str]:
    """What joins the start winding and leaves it again, on the wire to S."""
    end = _MOTOR
    if device == "ptc":
        return [_wire((at, _START), (186.0, _START)), *_box(186.0, _START, 40.0, "PTC"),
                _wire((226.0, _START), (end, _START))]  # fmt: skip
    if device == "unknown":
        return [_wire((at, _START), (176.0, _START)), *_box(176.0, _START, 40.0, "?", "4 3"),
                _wire((216.0, _START), (end, _START))]  # fmt: skip
    # A contact: open at rest in a current relay, closed in a potential relay.
    tip = _START - 10.0 if device == "current" else _START
    words = "contact, open at rest" if device == "current" else "contact, closed at rest"
    below = _START + 18.0
    return [
        _wire((at, _START), (186.0, _START)), dot(186.0, _START, "ink"),
        _wire((186.0, _START), (211.0, tip)), dot(213.0, _START, "ink"),
        _wire((213.0, _START), (end, _START)),
        text(200.0, below, words, "ink", "middle", 11),
    ]  # fmt: skip


def _motor(a: StartGearAnswer) -> list[str]:
    """The sealed motor with its pins and windings."""
    pins = dict(zip(a.terminals.pins, "123", strict=True)) if a.terminals is not None else {}
    parts = [_outline(_MOTOR, 36.0, 100.0, 176.0)]
    for name, y in (("C", _LIVE), ("S", _START), ("R", _NEUTRAL)):
        told = f"{name}, pin {pins[name]}" if name in pins else name
        parts += [dot(_MOTOR, y, "ink"), text(_MOTOR + 8.0, y + 4.0, told, "ink")]
    middle = _MOTOR + 76.0
    parts += [
        _wire((_MOTOR + 64.0, _LIVE), (middle, _LIVE), (middle, 80.0)),
        *_winding(middle, 80.0, 104.0), _wire((middle, 104.0), (middle, _START)),
        _wire((_MOTOR + 64.0, _START), (middle, _START)),
        _wire((middle, _START), (middle, _START)),
        _wire((middle + 14.0, _LIVE), (middle, _LIVE)),
        _wire((middle + 14.0, _LIVE), (middle + 14.0, 132.0)),
        *_winding(middle + 14.0, 132.0, 168.0),
        _wire((middle + 14.0, 168.0), (middle + 14.0, _NEUTRAL), (_MOTOR + 64.0, _NEUTRAL)),
        text(_MOTOR + 50.0, 28.0, "motor", "ink", "middle"),
        _wire((_MOTOR + 50.0, 212.0), (_MOTOR + 50.0, 224.0)),
        *(line(_MOTOR + 50.0 - w, 224.0 + 4.0 * i, _MOTOR + 50.0 + w, 224.0 + 4.0 * i, "ink", _WIRE)
          for i, w in enumerate((12.0, 8.0, 4.0))),
        text(_MOTOR + 68.0, 234.0, "earth", "ink"),
    ]  # fmt: skip
    return parts


def _winding(x: float, top: float, bottom: float) -> list[str]:
    """A zigzag."""
    count = 6
    step = (bottom - top) / count
    points = [(x + (5.0 if i % 2 else -5.0), top + (i + 0.5) * step) for i in range(count)]
    return [path([(x, top), *points, (x, bottom)], "ink", 1.4)]
