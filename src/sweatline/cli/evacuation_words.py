"""What `evacuation` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.bench.bench_records import (
        EvacuationRecord,
        RiseRecord,
    )
    from sweatline.units import Scale

__all__ = ["print_evacuation"]


def print_evacuation(record: EvacuationRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.sources import print_taken
    from sweatline.cli.terminal import heading, listing, paragraph

    print_taken(record.log_path or "", record.taken)
    target = scale.show(record.target_Pa, "absolute pressure")
    if record.connections:
        heading(f"From the atmosphere to {target} on both sides")
        names = {"both": "both sides", "low": "low side only", "high": "high side only"}
        rows = []
        for c in record.connections:
            if c.reached_after_s is None:
                said = (
                    "never: the worse side ends at "
                    f"{scale.show(c.ultimate_Pa, 'absolute pressure')} after thirty days"
                )
            else:
                said = (
                    f"{scale.show(c.reached_after_s, 'time')}; the gauge at the pump then shows "
                    f"{scale.show(c.gauge_when_reached_Pa, 'absolute pressure', 2)}; ends at "
                    f"{scale.show(c.ultimate_Pa, 'absolute pressure', 2)}"
                )
            rows.append((names[c.connected] + (" (asked)" if c.asked else ""), said))
        listing(rows)
        if record.sweeps is not None:
            paragraph(
                "From one side the other is drawn through the capillary. Half an hour each, "
                f"broken with dry nitrogen, {record.sweeps} times leaves as little air.",
                indent=2,
            )
    if record.pumped:
        _print_pumped(record, scale)
    if record.water:
        heading(f"{scale.show(record.water[0].water_kg, 'mass')} of water")
        listing(
            (
                f"in a {w.place}",
                (scale.show(w.time_s, "time", 2) if w.time_s is not None else "never ends")
                + f"; the water is at {scale.show(w.temperature_K, 'temperature')}"
                + (", frozen: let it thaw under nitrogen, and warm the place" if w.freezes else "")
                + f"; the gauge at the pump shows {scale.show(w.at_pump_Pa, 'absolute pressure')}"
                + ("; heat from the room limits it" if w.limited_by_heat else ""),
            )
            for w in record.water
        )
    if record.rise is not None:
        _print_rise(record.rise, record, scale)
    print_notes(record.notes)
    heading("The compressor")
    if record.never_start:
        paragraph(f"Never start it now: {record.never_start}.", indent=2)
    else:
        paragraph("By the log the circuit no longer stands under vacuum.", indent=2)
    print_cautions(record.cautions)


def _print_pumped(record: EvacuationRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading("What the gauge showed while pumping")
    rows = []
    for look in record.pumped:
        said = scale.show(look.read_Pa, "absolute pressure")
        if look.empty_Pa is not None:
            said += f"; pump and hoses alone {scale.show(look.empty_Pa, 'absolute pressure', 2)}"
        if look.gas_load_Pa_m3_per_s is not None:
            load = scale.show(look.gas_load_Pa_m3_per_s, "gas throughput", 2)
            said += f", so {load} keeps coming"
        rows.append((f"after {scale.show(look.time_s, 'time', 2)}", said))
    listing(rows)


def _print_rise(rise: RiseRecord, record: EvacuationRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    heading(
        f"Shut off at {scale.show(rise.first_Pa, 'absolute pressure')}, "
        f"{scale.show(rise.last_Pa, 'absolute pressure')} after "
        f"{scale.show(rise.duration_s, 'time', 2)}"
    )
    listing(
        (f"{100 * chance:3.0f} %", name)
        for name, chance in (
            ("nothing comes in: tight and dry", rise.chance_none),
            ("a leak: climbs steadily", rise.chance_leak),
            ("moisture: levels off towards the vapour pressure of water", rise.chance_moisture),
            ("gas out of oil and walls: climbs ever more slowly", rise.chance_outgassing),
        )
    )
    paragraph(rise.what_to_do[:1].upper() + rise.what_to_do[1:] + ".", indent=2)
    rows = []
    if rise.decide_after_s is not None and rise.likeliest == "undecided":
        rows.append(
            ("decides", f"a reading {scale.show(rise.decide_after_s, 'time', 2)} after shutting")
        )
    if rise.chance_moisture > 0.1 and rise.plateau_Pa is not None:
        rows.append(
            ("if moisture", f"it stops near {scale.show(rise.plateau_Pa, 'absolute pressure', 2)}")
        )
    if rise.chance_leak > 0.1 and rise.air_Pa_m3_per_s is not None:
        said = f"draws in {scale.range(rise.air_Pa_m3_per_s, 'gas throughput', 2)} of air"
        if rise.loss_kg_per_s is not None:
            said += (
                f", and would lose {scale.range(rise.loss_kg_per_s, 'leak rate', 2)} of "
                f"{record.refrigerant} at rest"
            )
        rows.append(("if a leak", said + ", nine tenths"))
    words = {True: "met", False: "NOT met", None: "not read so long"}
    rows += [(words[c.met], f"at most {c.name} ({c.source}; {c.status})") for c in rise.criteria]
    listing(rows)
