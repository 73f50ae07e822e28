"""What starts a motor and what it carries, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from sweatline.answers import Range, told
from sweatline.report.sentences import chance, parts_line, room_line, sentence
from sweatline.report.told import LIKELY, Told, how_known, quantity_rows

if TYPE_CHECKING:
    from sweatline.bench.start_gear.capacitor import Capacitor
    from sweatline.bench.start_gear.gear import GearPart, MotorGear, Relay, ToFit, Wire
    from sweatline.bench.start_gear.motor import Cord, Judged, Motor, PullDown
    from sweatline.bench.start_gear.rest import Equalising, Rest, Standing
    from sweatline.bench.start_gear.start_gear import StartGearAnswer
    from sweatline.bench.start_gear.terminals import Terminals
    from sweatline.units import Scale

_HUNDRED: Final = 1e-4  # F, from which a capacitance has three digits
_UP_TO: Final = 30.0  # s, to the next whole of which a rest is told
_TIMES: Final = 256  # trial runs behind a chance that the sides are equal
NAMED: Final = {
    "ptc": "PTC", "current": "current relay", "potential": "potential relay", "none": "none",
    "unknown": "start device: not known",
}  # fmt: skip
_MARKS: Final = {"ok": "", "marginal": "In doubt: ", "wrong": "FAULT: "}


def start_told(a: StartGearAnswer, scale: Scale, details: bool) -> Iterator[Told]:
    """One part after the other, what decides first: its verdict, then its numbers.

    Parameters
    ----------
    details : bool
        Everything, or what decides.
    """
    if a.barred:
        yield Told(sentences=(f"STOP: not to be started now. {sentence(told(a.barred, scale))}",))
    if a.standing is not None:
        yield _standing(a.standing, scale)
    if a.equalising is not None and (details or a.standing is None):
        yield _equalising(a.equalising, a.rest, scale)
    elif a.rest is not None and a.standing is None:
        yield Told(sentences=(_stand_still(a.rest, scale),), rows=tuple(_rest_rows(a.rest, scale)))
    if a.to_fit is not None:
        yield _to_fit(a.to_fit, scale)
    if a.capacitor is not None:
        yield draining(a.capacitor, scale)
    if a.terminals is not None:
        yield _terminals(a.terminals, scale)
    if a.motor is not None:
        yield _motor(a.motor, scale)
    if a.pull_down is not None:
        yield _pull_down(a.pull_down, scale)
    if a.cord is not None:
        yield _cord(a.cord, scale)
    fit = a.to_fit
    if (
        a.usual_start_size is not None
        and (fit is None or len(fit.motors) > 1)
        and (fit is None or any("start" in motor.capacitors for motor in fit.motors))
    ):
        u = a.usual_start_size
        usual = (
            f"Usual start capacitor: {capacitance(u.low, u.high, scale)}, {u.voltage_class} class"
        )
        usual += f" ({how_known(u.status)})."
        yield Told(sentences=(usual, sentence(u.sentence)))
    if a.capacitor is not None:
        yield _capacitor(a.capacitor, scale)
    alone = a.standing is None and a.equalising is None and fit is None
    if a.relay is not None and (details or alone or a.relay.device != "unknown"):
        yield _relay(a.relay)
    if a.parts is not None and a.job is not None:
        room = (room_line(a.job, scale),) if details else ()
        yield Told(sentences=(f"Calculated for {parts_line(a.parts, scale)}.", *room))
    yield Told(sentences=(a.like_for_like,))


def start_when(a: StartGearAnswer, scale: Scale) -> str:
    """When a start is worth trying that is not now; empty where nothing says it."""
    judged_now = a.standing or a.equalising
    if judged_now is None or judged_now.off_time is None or judged_now.verdict == "ok":
        return ""
    if a.rest is None:
        return ""
    left = a.rest.time - judged_now.off_time
    return f"Try it in {scale.show(left, 'time', 2)}, not before." if left > 0.0 else ""


def judged(verdict: Judged | None, words: str) -> str:
    """A verdict's sentence behind its mark."""
    return f"{_MARKS[verdict] if verdict is not None else ''}{sentence(words)}"


def _terminals(t: Terminals, scale: Scale) -> Told:
    return Told(
        sentences=(judged(t.verdict, t.sentence),),
        rows=tuple(quantity_rows(t, scale, "run", "start", "both")),
    )


def _relay(r: Relay) -> Told:
    said = f"torque {r.starting_torque}. {sentence(r.behaviour)}"
    return Told(sentences=(f"Start device {r.name}, {said} {sentence(how_known(r.status))}",))


def wire_words(wire: Wire) -> str:
    """One wire, from where it comes through what to where it goes."""
    through = " and ".join(f"the {part}" for part in wire.through)
    through = f" through {through}" if through else ""
    return f"{wire.begin}{through} to {wire.end}"


def _to_fit(fit: ToFit, scale: Scale) -> Told:
    rows: list[tuple[str, str]] = []
    for motor in fit.motors:
        if len(fit.motors) == 1:
            rows += [_part_row(p, scale) for p in motor.parts]
            rows.append(
                ("wires", "; ".join(wire_words(w) for w in motor.wires) + "; earth to the shell")
            )
        else:
            rows.append((motor.kind.upper(), _in_short(motor)))
    return Told(
        title="What to fit", sentences=(judged(fit.verdict, fit.sentence),), rows=tuple(rows)
    )


def _in_short(motor: MotorGear) -> str:
    devices = [NAMED[d] for d in (motor.device, *motor.instead) if d != "none"]
    device = " or ".join(devices) or "no start device"
    capacitors = " and ".join(f"{use} capacitor" for use in motor.capacitors) or "no capacitor"
    return f"{device}, {capacitors}; torque {motor.torque}"


def _part_row(p: GearPart, scale: Scale) -> tuple[str, str]:
    said = p.what
    if p.low is not None and p.high is not None:
        said = f"{capacitance(p.low, p.high, scale)}, {said}"
    if p.high_current is not None:
        most = scale.show(p.high_current, "current")
        between = f"at most {most}"
        if p.low_current is not None:
            between = f"between {scale.show(p.low_current, 'current')} and {most}"
        said = f"{said}: {between}"
    return p.part, f"{said} ({how_known(p.status)})"


def capacitance(low: float, high: float, scale: Scale) -> str:
    """A span of capacitance, with one unit."""
    digits = 3 if low >= _HUNDRED else 2
    return scale.range(Range(low=low, middle=low, high=high), "capacitance", digits)


def _stand_still(rest: Rest, scale: Scale) -> str:
    time = _UP_TO * math.ceil(rest.time / _UP_TO)
    return f"Let it stand {scale.show(time, 'time', 2)} after a stop before it starts again."


def _rest_rows(rest: Rest, scale: Scale) -> Iterator[tuple[str, str]]:
    printed = scale.show(rest.printed, "time", 2)
    yield "makers ask for", f"{printed}, for {rest.of} ({how_known(rest.status)})"


def _equalising(e: Equalising, rest: Rest | None, scale: Scale) -> Told:
    time = f"{scale.show(e.time.middle, 'time', 2)} ({LIKELY}: {scale.range(e.time, 'time', 2)})"
    high, low = (scale.show(p, "pressure") for p in (e.sides.high_pressure, e.sides.low_pressure))
    rows = [("stopped at", f"{high} over {low}")]
    if e.sides.liquid > 0.0:
        liquid = scale.show(e.sides.liquid, "mass", 2)
        rows.append(("before the tube", f"{liquid} of liquid, which runs through first"))
    if e.off_time is None or e.chance_equal is None:
        first = f"The sides are equal {time} after a stop."
        if rest is not None:
            first = _stand_still(rest, scale)
            rows.insert(0, ("equal after", time))
        rows.append(("started at once", sentence(e.sentence)))
    else:
        first = judged(e.verdict, e.sentence)
        said = f"equal: {chance(e.chance_equal, _TIMES)}"
        if e.chance_start is not None:
            starts = chance(e.chance_start, _TIMES)
            said += f"; a sound motor {f'starts: {starts}' if e.chance_start else 'does not start'}"
        rows.append((f"after {scale.show(e.off_time, 'time', 2)}", said))
        rows.append(("equal after", time))
    if rest is not None:
        rows += _rest_rows(rest, scale)
    return Told(sentences=(first,), rows=tuple(rows))


def _standing(s: Standing, scale: Scale) -> Told:
    after = f", {scale.show(s.off_time, 'time', 2)} after the stop" if s.off_time else ""
    head, suction = scale.show(s.head, "pressure"), scale.show(s.suction, "pressure")
    apart = scale.show(abs(s.head - s.suction), "pressure difference", 2)
    most = scale.show(s.equal_enough, "pressure difference", 2)
    return Told(
        sentences=(judged(s.verdict, s.sentence),),
        rows=(
            ("gauges", f"head {head}, suction {suction}{after}"),
            ("apart", f"{apart}; up to {most} counts as equal"),
        ),
    )


def _motor(m: Motor, scale: Scale) -> Told:
    rows = [("held against", m.plate)]
    if m.current is not None:
        held = _held(m.amps_ratio, m.chance_amps_over, scale.show(m.plate_current, "current"))
        rows.append(("current", scale.show(m.current, "current") + held))
    if m.power is not None:
        held = _held(m.watts_ratio, m.chance_watts_over, scale.show(m.plate_power, "power"))
        rows.append(("power", scale.show(m.power, "power") + held))
    if m.power_factor is not None:
        said = f"; by the plate {m.plate_power_factor:.2f}" if m.plate_power_factor else ""
        rows.append(("power factor", f"{m.power_factor:.2f}{said}"))
    if m.supply is not None:
        mark = _MARKS["ok" if m.supply.holds else "wrong"]
        rows.append(("voltage", f"{mark}{sentence(m.supply.sentence)}"))
    verdict = (judged(m.verdict, m.sentence),) if m.sentence else ()
    return Told(sentences=verdict, rows=tuple(rows))


def _held(ratio: float | None, over: float | None, rated: str) -> str:
    if ratio is None or over is None:
        return ""
    return f", {100 * ratio:.0f} % of {rated}; above it with {100 * over:.0f} %"


def _pull_down(p: PullDown, scale: Scale) -> Told:
    rows = []
    for name, power, amps, over in (
        ("settled", p.settled_power, p.settled_current, p.chance_settled_over),
        ("pull-down peak load", p.hardest_power, p.hardest_current, p.chance_hardest_over),
    ):
        said = f"{scale.show(power.middle, 'power')} ({LIKELY}: {scale.range(power, 'power')})"
        said += f", {scale.show(amps.middle, 'current', 2)} ({scale.range(amps, 'current', 2)})"
        if over is not None:
            plate = (
                scale.show(p.plate_current, "current", 2)
                if p.plate_power is None
                else scale.show(p.plate_power, "power")
            )
            said += f"; above the plate's {plate}: {chance(over, p.draws)}"
        rows.append((name, said))
    peak = scale.show(p.hardest_evaporating, "temperature")
    rows.append(("peak near", f"{peak} evaporating; the fan is left out"))
    return Told(sentences=(judged(p.verdict, p.sentence),), rows=tuple(rows))


def _cord(c: Cord, scale: Scale) -> Told:
    drop = c.drop
    amps = " to ".join(scale.show(v, "current") for v in drop.starting_current)
    volts = " to ".join(scale.show(v, "voltage") for v in drop.starting_voltage)
    torque = " to ".join(f"{100 * share:.0f} %" for share in drop.starting_torque)
    lost = f"{scale.show(drop.running_drop, 'voltage', 2)}, {100 * drop.running_share:.1f} %"
    area = scale.show(c.area, "area")
    size = area if c.gauge is None else f"{c.gauge:.0f} AWG"
    return Told(
        sentences=(judged("ok" if c.running.holds else "wrong", c.running.sentence),),
        rows=(
            ("cord", f"{scale.show(c.length, 'length')} of copper, {size}"),
            (
                "running",
                f"{scale.show(c.current, 'current')} lose {lost} of "
                f"{scale.show(c.supply, 'voltage')}",
            ),
            ("starting", f"{amps}: the motor gets {volts}, its torque falls to {torque}"),
            ("", f"Four to six times the rated current; {how_known(drop.status)}."),
        ),
    )


def _capacitor(c: Capacitor, scale: Scale) -> Told:
    marked, allowed = (
        " to ".join(dict.fromkeys(scale.show(v, "capacitance") for v in ends))
        for ends in ((c.marked_low, c.marked_high), (c.allowed_low, c.allowed_high))
    )
    return Told(
        sentences=tuple(
            judged(v.verdict, v.sentence) for v in (c.reading, c.replacement) if v is not None
        ),
        rows=(
            (f"{c.use} capacitor", f"{marked}, {scale.show(c.voltage, 'voltage')}"),
            ("allowed", f"{allowed} ({how_known(c.allowed_status)})"),
            *quantity_rows(c, scale, "read", "offered", "current", "reactance"),
        ),
    )


def draining(c: Capacitor, scale: Scale) -> Told:
    """How to empty a capacitor, step by step, and what it holds."""
    d = c.discharge
    safe = scale.show(d.safe, "voltage")
    return Told(
        title="Draining it, before anything is touched",
        rows=(
            *((f"{i}.", step) for i, step in enumerate(d.steps, 1)),
            ("holds", f"up to {d.energy:.2g} J at {scale.show(d.start, 'voltage')} direct"),
            (
                "drains",
                f"through {scale.show(d.resistance, 'resistance')} to {safe} in {d.time:.2g} s: "
                f"hold it there {scale.show(d.hold, 'time', 2)}",
            ),
            ("resistor", f"sees {d.first_power:.2g} W at first; 5 W wire-wound is usual"),
        ),
    )
