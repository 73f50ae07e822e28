"""What `tightness` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.bench.bench_records import (
        HistoryRecord,
        HoldPlanRecord,
        HoldRecord,
        MeasuredLeakRecord,
        SearchRecord,
        TightnessRecord,
    )
    from sweatline.units import Scale

__all__ = ["print_tightness"]


def print_tightness(record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.sources import print_taken
    from sweatline.cli.terminal import paragraph

    print_taken(record.log_path or "", record.taken)
    if record.volume_m3 is not None:
        paragraph(
            f"Inside volume {scale.show(record.volume_m3, 'volume')} ± "
            f"{scale.show(record.volume_sd_m3, 'volume', 2)}; weakest part: "
            + (
                f"{record.limit_part}, {scale.show(record.limit_pressure_Pa, 'pressure')}."
                if record.limit_pressure_Pa is not None
                else "nobody has said."
            )
        )
    if record.hold is not None:
        _print_hold(record.hold, record, scale)
    if record.measured is not None:
        _print_measured(record.measured, record, scale)
    if record.plan is not None:
        _print_plan(record.plan, record, scale)
    if record.history is not None:
        _print_history(record.history, scale)
    if record.methods:
        _print_methods(record)
    if record.search is not None:
        _print_search(record.search, scale)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _print_hold(hold: HoldRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(f"{hold.gas.capitalize()} held for {scale.show(hold.duration_s, 'time')}")
    if hold.rose:
        verdict = (
            "The gas seems to have grown, by more than the errors allow: the gas warmed where the "
            "thermometer did not see it, the gauge moved, or the weather did. No verdict; read on."
        )
    elif hold.settling:
        verdict = (
            "The loss slows down by more than the errors allow: gas and walls are still settling. "
            "Leave out the first readings and read on before believing a leak."
        )
    elif hold.found:
        verdict = "It leaks: five tight machines in a hundred would show as much."
    else:
        verdict = "No leak seen. That is not the same as none: see what this hold could have seen."
    paragraph(verdict, indent=2)
    rows = [
        (
            "a tight machine",
            f"would show {scale.show(hold.expected_last_pressure_Pa, 'pressure', 4)} at the last "
            f"temperature; read {scale.show(hold.last_pressure_Pa, 'pressure', 4)}",
        ),
        (
            "leak of the gas",
            f"{scale.show(hold.rate_Pa_m3_per_s, 'gas throughput', 2)} ± "
            f"{scale.show(hold.rate_sd_Pa_m3_per_s, 'gas throughput', 2)} at "
            f"{scale.show(hold.pressure_Pa, 'pressure')}",
        ),
    ]
    rest = scale.show(record.rest_temperature_K, "temperature")
    if hold.loss_kg_per_s is not None:
        band = scale.range(hold.loss_kg_per_s, "leak rate", 2)
        if hold.found:
            rows.append((f"{record.refrigerant}", f"{band} at rest at {rest}, nine tenths"))
            rows.append(
                (
                    "how it gets out",
                    f"{hold.regime}; one round hole would be "
                    f"{scale.show(hold.bore_m, 'roughness', 2)} wide; below a liquid level it "
                    f"loses up to {hold.liquid_factor:.0f} times as much",
                )
            )
        else:
            most = scale.show(hold.loss_kg_per_s.high, "leak rate", 2)
            rows.append((f"{record.refrigerant}", f"at most {most} at rest at {rest} (95 %)"))
    elif record.refrigerant is None:
        rows.append(("refrigerant", "not named, so no loss in mass"))
    smallest = scale.show(hold.smallest_seen_Pa_m3_per_s, "gas throughput", 2)
    if hold.smallest_seen_kg_per_s is not None:
        smallest += f", {scale.show(hold.smallest_seen_kg_per_s, 'leak rate', 2)} of refrigerant"
    rows.append(("smallest leak seen", f"{smallest} (by 95 of 100 such holds)"))
    listing(rows)


def _print_measured(measured: MeasuredLeakRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(
        f"{scale.show(measured.rate_Pa_m3_per_s, 'gas throughput', 2)} of {measured.gas} under "
        f"{scale.show(measured.pressure_Pa, 'pressure')}"
    )
    listing(
        [
            (
                f"{record.refrigerant}",
                f"{scale.range(measured.loss_kg_per_s, 'leak rate', 2)} at rest at "
                f"{scale.show(record.rest_temperature_K, 'temperature')}, nine tenths of the "
                f"shapes a leak may have; {measured.regime}",
            )
        ]
    )


def _print_plan(plan: HoldPlanRecord, record: TightnessRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(
        f"To see {scale.show(plan.see_kg_per_s, 'leak rate')} of {record.refrigerant} "
        f"with {scale.show(plan.pressure_Pa, 'pressure')}"
    )
    far = "more than sixty days: smaller volume, finer gauge, or another way of looking"
    rows = [
        ("leak of the gas", scale.show(plan.rate_Pa_m3_per_s, "gas throughput", 2)),
        ("hold", scale.show(plan.hold_s, "time", 2) if plan.hold_s is not None else far),
    ]
    if plan.hold_s != plan.hold_barometer_read_s:
        quick = plan.hold_barometer_read_s
        rows.append(
            ("with a barometer", scale.show(quick, "time", 2) if quick is not None else far)
        )
    listing(rows)


def _print_history(history: HistoryRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    end = "empty" if history.left_share is None else f"down to {100 * history.left_share:.0f} %"
    heading(
        f"{scale.show(history.held_kg, 'mass')} of {history.refrigerant}, {end} after "
        f"{scale.show(history.after_s, 'time', 2)}"
    )
    rows = [
        (
            w.way if w.way == "liquid" else f"gas, {w.way}",
            f"{scale.show(w.rate_kg_per_s, 'leak rate', 2)} at first; last liquid gone after "
            f"{scale.show(w.liquid_gone_after_s, 'time', 2)}",
        )
        for w in history.ways
    ]
    rows.append(
        ("gas, all told", f"{scale.range(history.rate_kg_per_s, 'leak rate', 2)}, nine tenths")
    )
    listing(rows)


def _print_methods(record: TightnessRecord) -> None:
    from sweatline.cli.terminal import heading, listing

    sought = record.history is None and record.measured is None
    if sought and not (record.hold is not None and record.hold.found):
        heading("Which way of looking could find a leak of that size")
    else:
        heading("Which way of looking could find this leak")
    listing(
        (f"{100 * m.chance:3.0f} %", f"{m.name} ({m.note}; {m.status})") for m in record.methods
    )


def _print_search(search: SearchRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading("If it leaks: dividing the circuit")
    paragraph(
        f"On average {search.expected_holds:.1f} holds and {search.expected_cuts:.1f} cuts find "
        f"the piece, at worst {search.worst_holds} holds; the pieces in turn, the one with most "
        f"joints first, take {search.one_by_one:.1f} and {search.one_by_one_cuts:.1f}. Close off "
        "at the dividing line, hold the part named first, and go on with the half that "
        "leaks. When neither half leaks, it was the joint that was opened; when both do, there "
        "are two. No hold is shorter than a quarter of an hour, for gas just let in is still "
        "cooling. End with bubble solution at the joints of the last piece.",
        indent=2,
    )
    rows = []
    for step in search.steps:
        time = f", {scale.show(step.hold_s, 'time', 2)}" if step.hold_s is not None else ""
        rows.append(
            (
                "  " * step.depth + "hold",
                f"{', '.join(step.hold)} ({100 * step.chance:.0f} %{time}); else "
                f"{', '.join(step.against)}",
            )
        )
    listing(rows)
