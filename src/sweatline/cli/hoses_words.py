"""What `hose` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.bench.bench_records import (
        CylinderRecord,
        HoseRecord,
    )
    from sweatline.units import Scale

__all__ = ["print_hose"]


def print_hose(record: HoseRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions, print_notes
    from sweatline.cli.sources import print_taken
    from sweatline.cli.terminal import heading, listing

    print_taken(record.log_path or "", record.taken)
    if record.hoses:
        heading(f"{record.refrigerant} in the hoses")
        listing(
            (
                f"{scale.show(h.bore_m, 'bore')}, {scale.show(h.length_m, 'length')}, {h.state}",
                f"{scale.show(h.holds_kg, 'mass', 2)} ± {scale.show(h.sd_kg, 'mass', 2)} at "
                f"{scale.show(h.pressure_Pa, 'pressure')}"
                + (
                    f"; {scale.show(h.returned_kg, 'mass', 2)} went into the low side"
                    if h.returned_kg > 0.0
                    else ""
                ),
            )
            for h in record.hoses
        )
    if record.machine is not None:
        m = record.machine
        heading("In the machine")
        listing(
            [
                (
                    "weighed out",
                    f"{scale.show(m.weighed_kg, 'mass')} ± "
                    f"{scale.show(m.weighed_sd_kg, 'mass', 2)}",
                ),
                (
                    "left in hoses",
                    f"{scale.show(m.in_hoses_kg, 'mass', 2)} ± "
                    f"{scale.show(m.in_hoses_sd_kg, 'mass', 2)}",
                ),
                (
                    "vented or lost",
                    f"{scale.show(m.vented_kg, 'mass', 2)} ± "
                    f"{scale.show(m.vented_sd_kg, 'mass', 2)}",
                ),
                (
                    "in the machine",
                    f"{scale.show(m.mass_kg.middle, 'mass')}, nine tenths "
                    f"{scale.range(m.mass_kg, 'mass')}",
                ),
            ]
        )
    if record.weigh_out is not None:
        w = record.weigh_out
        heading(f"For {scale.show(w.want_kg, 'mass')} in the machine")
        listing(
            [
                (
                    "weigh out",
                    f"{scale.show(w.weigh_out_kg, 'mass')}; the charge is then right to ± "
                    f"{scale.show(w.sd_kg, 'mass', 2)}",
                )
            ]
        )
    if record.charge_limit is not None:
        c = record.charge_limit
        heading("Limit of the room")
        listing(
            [
                (
                    "STOP" if c.over else "within",
                    f"{scale.show(c.mass_kg, 'mass')}, at most {scale.show(c.limit_kg, 'mass')} "
                    f"({c.source}; {c.status})",
                )
            ]
        )
    if record.fractionation is not None:
        f = record.fractionation
        heading(f"{100 * f.taken_share:.0f} % of the cylinder taken as vapour")
        listing(
            [
                (
                    "light part",
                    f"{' and '.join(f.light)}: {100 * f.nominal_mass_share:.1f} % by mass in the "
                    f"blend, {100 * f.taken_mass_share:.1f} % in the machine, "
                    f"{100 * f.left_mass_share:.1f} % left in the liquid"
                    + (", at most" if f.bound else ""),
                ),
                (
                    "pressures",
                    f"up by {100 * f.bubble_rise_share:.0f} % at one temperature: charts and "
                    "cards no longer hold, for the machine and for what is left",
                ),
            ]
        )
    if record.cylinder is not None:
        _print_cylinder(record.cylinder, record, scale)
    if record.fill is not None:
        fill = record.fill
        heading(f"A cylinder of {scale.show(fill.volume_m3, 'volume')}")
        rows = [
            (
                "holds at most",
                f"{scale.show(fill.most_kg, 'mass')}: four fifths as liquid at "
                f"{scale.show(fill.temperature_K, 'temperature')} (MEMORY 0.85)",
            )
        ]
        if fill.asked_kg is not None:
            full = (
                f"full of liquid at {scale.show(fill.liquid_full_K, 'temperature')}, and then it "
                "bursts"
                if fill.liquid_full_K is not None
                else "never full of liquid below the critical point"
            )
            rows.append(
                (
                    "STOP" if fill.too_much else "asked",
                    f"{scale.show(fill.asked_kg, 'mass')}: {full}",
                )
            )
        listing(rows)
    print_notes(record.notes)
    print_cautions(record.cautions)


def _print_cylinder(c: CylinderRecord, record: HoseRecord, scale: Scale) -> None:
    from sweatline.cli.terminal import heading, listing

    heading(f"Cylinder at {scale.show(c.temperature_K, 'temperature')}: {c.verdict}")
    said = {
        "as it should be": "as far as gauge and thermometer can tell",
        "above saturation": "gas that does not condense, or a lighter fluid; let it stand in even "
        "temperature and read again before believing it",
        "below saturation": "no liquid left, a heavier fluid, or a liquid colder than the "
        "thermometer says",
    }
    rows = [
        (
            "read",
            f"{scale.show(c.pressure_Pa, 'pressure')}; {record.refrigerant} stands at "
            f"{scale.show(c.saturation_Pa, 'pressure')}: {said[c.verdict]}",
        ),
        (
            "if it is air",
            f"{100 * c.non_condensable_share:.1f} ± {100 * c.non_condensable_sd:.1f} % of the "
            f"vapour; above {100 * c.limit:.1f} % with a chance of "
            f"{100 * c.chance_over_limit:.0f} % ({c.limit_source})",
        ),
    ]
    if c.propane_with_isobutane is not None:
        other = (
            f" or {100 * c.propane_with_butane:.0f} % with n-butane"
            if c.propane_with_butane is not None
            else ""
        )
        rows.append(
            (
                "if a mixture",
                f"{100 * c.propane_with_isobutane:.0f} % propane with isobutane{other} would show "
                f"this; it boils over {scale.show(c.glide_K, 'temperature difference')}, and "
                "vapour is richer in propane than liquid",
            )
        )
    if c.propylene_with_propane is not None:
        rows.append(
            (
                "if a mixture",
                f"{100 * c.propylene_with_propane:.0f} % propylene with propane would show this",
            )
        )
    rows += [("sees", text) for text in c.sees]
    rows += [("cannot see", text) for text in c.blind_to]
    listing(rows)
