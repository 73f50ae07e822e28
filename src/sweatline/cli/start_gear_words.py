"""What `start-gear` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sweatline.bench.start_gear.records import (
        CapacitorRecord,
        CordRecord,
        EqualisingRecord,
        MotorRecord,
        PullDownRecord,
        StandingRecord,
        StartGearRecord,
    )
    from sweatline.units import Scale

__all__ = ["print_start_gear"]

_DRAWS: Final = 256  # behind a chance that the sides are equal
_MARKS: Final = {"ok": "clear", "marginal": "in doubt", "wrong": "FAULT"}


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def print_start_gear(record: StartGearRecord, scale: Scale) -> None:
    """All that was answered, the plate first and the cautions last."""
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.sources import print_taken
    from sweatline.cli.speech import parts_line, room_line
    from sweatline.cli.terminal import gap, heading, paragraph

    print_taken(record.log_path or "", record.taken)
    if record.barred:
        heading("STOP: not to be started now")
        paragraph(_sentence(record.barred), indent=2)
        gap()
    if record.parts is not None:
        paragraph(parts_line(record.parts, scale))
    if record.job is not None:
        paragraph(room_line(record.job, scale))
    paragraph(record.like_for_like)
    if record.relay is not None:
        heading(f"Start device: {record.relay.device}, torque {record.relay.starting_torque}")
        paragraph(_sentence(record.relay.behaviour) + f" {record.relay.status}.", indent=2)
    if record.equalising is not None:
        _print_equalising(record.equalising, scale)
    if record.standing is not None:
        _print_standing(record.standing, scale)
    if record.motor is not None:
        _print_motor(record.motor, scale)
    if record.pull_down is not None:
        _print_pull_down(record.pull_down, scale)
    if record.cord is not None:
        _print_cord(record.cord, scale)
    if record.usual_start_size is not None:
        u = record.usual_start_size
        heading("Usual start capacitor")
        paragraph(
            f"{scale.show(u.low_F, 'capacitance')} to {scale.show(u.high_F, 'capacitance')}, "
            f"{u.voltage_class} class ({u.status}); {u.sentence}.",
            indent=2,
        )
    if record.capacitor is not None:
        _print_capacitor(record.capacitor, scale)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _print_cord(c: CordRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(f"Cord of {scale.show(c.length_m, 'length')}, {c.area_m2 * 1e6:.2f} mm² of copper")
    listing(
        (
            (
                "running",
                f"{scale.show(c.current_A, 'current')} lose "
                f"{scale.show(c.running_drop_V, 'voltage', 2)}, "
                f"{100 * c.running_share:.1f} % of {scale.show(c.supply_V, 'voltage')}",
            ),
            (_MARKS["ok" if c.running_holds else "wrong"], _sentence(c.running_sentence)),
            (
                "starting",
                f"{scale.show(c.starting_current_A[0], 'current')} to "
                f"{scale.show(c.starting_current_A[1], 'current')}: the motor gets "
                f"{scale.show(c.starting_voltage_V[0], 'voltage')} to "
                f"{scale.show(c.starting_voltage_V[1], 'voltage')}, its torque falls to "
                f"{100 * c.starting_torque_share[0]:.0f} to "
                f"{100 * c.starting_torque_share[1]:.0f} %",
            ),
            ("", f"Four to six times the rated current; {c.status}."),
        )
    )


def _print_equalising(found: EqualisingRecord, scale: Scale) -> None:
    from sweatline.cli.speech import chance
    from sweatline.cli.terminal import heading, listing

    heading(
        f"After a stop at {scale.show(found.high_pressure_Pa, 'pressure')} over "
        f"{scale.show(found.low_pressure_Pa, 'pressure')}"
    )
    t = found.time_s
    rows = [
        (
            "equal after",
            f"{scale.show(t.middle, 'time', 2)}, nine tenths within "
            f"{scale.show(t.low, 'time', 2)} to {scale.show(t.high, 'time', 2)}"
            + (
                f"; {scale.show(found.liquid_kg, 'mass', 2)} of liquid first"
                if found.liquid_kg > 0.0
                else ""
            ),
        )
    ]
    if found.off_time_s is not None and found.chance_equal is not None:
        said = f"equal: {chance(found.chance_equal, _DRAWS)}"
        if found.chance_start == 0.0:
            said += "; a sound motor does not start"
        elif found.chance_start is not None:
            said += f"; a sound motor starts: {chance(found.chance_start, _DRAWS)}"
        rows.append((f"after {scale.show(found.off_time_s, 'time', 2)}", said))
    else:
        rows.append(("at once", "just after the stop:"))
    rows.append((_MARKS[found.verdict], _sentence(found.sentence)))
    listing(rows)


def _print_standing(found: StandingRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading("As it stands")
    apart = abs(found.head_Pa - found.suction_Pa)
    after = ""
    if found.off_time_s is not None:
        after = f", {scale.show(found.off_time_s, 'time', 2)} after the stop"
    listing(
        (
            (
                "gauges",
                f"head {scale.show(found.head_Pa, 'pressure')}, suction "
                f"{scale.show(found.suction_Pa, 'pressure')}{after}: "
                f"{scale.show(apart, 'pressure difference', 2)} apart, up to "
                f"{scale.show(found.equal_enough_Pa, 'pressure difference', 2)} counts as equal",
            ),
            (_MARKS[found.verdict], _sentence(found.sentence)),
        )
    )


def _print_motor(m: MotorRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(f"Running, against {m.plate}")
    rows = []
    for name, read, plate, ratio, over, kind in (
        ("current", m.current_A, m.plate_current_A, m.amps_ratio, m.chance_amps_over,
         "current"),
        ("power", m.power_W, m.plate_power_W, m.watts_ratio, m.chance_watts_over, "power"),
    ):  # fmt: skip
        if read is None:
            continue
        said = scale.show(read, kind)  # type: ignore[arg-type]
        if ratio is not None and over is not None:
            said += (
                f", {100 * ratio:.0f} % of {scale.show(plate, kind)}; "  # type: ignore[arg-type]
                f"above it with {100 * over:.0f} %"
            )
        rows.append((name, said))
    if m.power_factor is not None:
        said = f"{m.power_factor:.2f}"
        if m.plate_power_factor is not None:
            said += f"; by the plate {m.plate_power_factor:.2f}"
        rows.append(("power factor", said))
    if m.voltage_sentence:
        mark = _MARKS["ok" if m.voltage_holds else "wrong"]
        rows.append((mark, _sentence(m.voltage_sentence)))
    if m.sentence:
        rows.append((_MARKS[m.verdict] if m.verdict is not None else "note", _sentence(m.sentence)))
    listing(rows)


def _print_pull_down(p: PullDownRecord, scale: Scale) -> None:
    from sweatline.cli.speech import chance
    from sweatline.cli.terminal import heading, listing

    heading("Load of the compressor's motor by the model, fan aside")
    rows = []
    for name, power, amps, over in (
        ("settled", p.settled_power_W, p.settled_current_A, p.chance_settled_over),
        ("hardest minute", p.hardest_power_W, p.hardest_current_A, p.chance_hardest_over),
    ):
        said = f"{scale.show(power.middle, 'power')} [{scale.range(power, 'power')}]"
        if amps is not None:
            said += f", {scale.show(amps.middle, 'current', 2)} [{scale.range(amps, 'current', 2)}]"
        if over is not None:
            said += (
                f"; above the plate's {scale.show(p.plate_power_W, 'power')}: "
                f"{chance(over, p.draws)}"
            )
        rows.append((name, said))
    rows.append(
        (
            "",
            f"Hardest near {scale.show(p.hardest_evaporating_K, 'temperature')} evaporating.",
        )
    )
    rows.append((_MARKS[p.verdict] if p.verdict is not None else "note", _sentence(p.sentence)))
    listing(rows)


def _print_capacitor(c: CapacitorRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    marked = scale.show(c.marked_low_F, "capacitance")
    if c.marked_high_F > c.marked_low_F:
        marked += f" to {scale.show(c.marked_high_F, 'capacitance')}"
    heading(f"{c.use.capitalize()} capacitor, {marked}, {scale.show(c.voltage_V, 'voltage')}")
    rows = [
        (
            "allowed",
            f"{scale.show(c.allowed_low_F, 'capacitance')} to "
            f"{scale.show(c.allowed_high_F, 'capacitance')} ({c.allowed_status})",
        )
    ]
    if c.current_A is not None:
        rows.append(
            (
                "at its voltage",
                f"{scale.show(c.current_A, 'current')}, {c.reactive_var:.0f} var, "
                f"{scale.show(c.reactance_ohm, 'resistance')}",
            )
        )
    if c.read_verdict is not None:
        rows.append(
            (
                _MARKS[c.read_verdict],
                f"Reads {scale.show(c.read_F, 'capacitance')}. " + _sentence(c.read_sentence),
            )
        )
    if c.offered_verdict is not None:
        rows.append(
            (
                _MARKS[c.offered_verdict],
                f"Instead {scale.show(c.offered_F, 'capacitance')}, "
                f"{scale.show(c.offered_voltage_V, 'voltage')}. " + _sentence(c.offered_sentence),
            )
        )
    listing(rows)
    d = c.discharge
    heading("Draining it, before anything is touched")
    listing((f"{i}.", step) for i, step in enumerate(d.steps, 1))
    listing(
        (
            (
                "holds",
                f"up to {d.energy_J:.2g} J at {scale.show(d.start_V, 'voltage')} direct",
            ),
            (
                "drains",
                f"through {d.resistance_ohm / 1e3:.3g} kohm to {scale.show(d.safe_V, 'voltage')} "
                f"in {d.time_s:.2g} s: hold it there {scale.show(d.hold_s, 'time', 2)}",
            ),
            ("resistor", f"sees {d.first_power_W:.2g} W at first; 5 W wire-wound is usual"),
        )
    )
