"""The answer of match in text: the ranking, the best in full, and why each other one loses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sweatline.assembly.build import Parts
    from sweatline.design.records import CandidateRecord, MatchRecord
    from sweatline.units import Scale

__all__ = ["print_match"]

_WORTH_TELLING = 0.2  # chance of a fault that explains a lower rank


def print_match(record: MatchRecord, scale: Scale, top: int) -> None:
    """Print a ranking; `top` shortens the table, never what is said about safety."""
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.speech import room_line
    from sweatline.cli.terminal import heading, paragraph

    heading(record.job.title or record.job.path)
    paragraph(room_line(record.job, scale), indent=2)
    if not record.complete:
        paragraph(
            f"Interrupted: {record.finished} of {record.combinations} combinations are finished; "
            "the others are missing from what follows.",
            indent=2,
        )
    if record.ranked:
        _print_ranking(record.ranked[:top], scale)
        if len(record.ranked) > top:
            solved = len(record.ranked)
            paragraph(f"{solved - top} more are solved: --top {solved} lists all.", indent=2)
        _print_best(record.ranked[0], scale)
    elif record.finished:
        heading("No combination has a balance in this room.")
    _print_losers(record, scale)
    print_cautions(record.cautions)


def _short(parts: Parts, scale: Scale) -> str:
    length = scale.show(parts.capillary_length, "length")
    return f"{parts.compressor} + {parts.refrigerant}\n{parts.capillary}, {length}"


def _print_ranking(ranked: Sequence[CandidateRecord], scale: Scale) -> None:
    from sweatline.cli.tables import Column, measured, print_table
    from sweatline.cli.terminal import gap, paragraph

    drawn = any(c.draws for c in ranked)
    columns = [
        Column("", [str(c.rank) for c in ranked]),
        Column("parts", [_short(c.parts, scale) for c in ranked], right=False, wrap=True),
        measured("water", [c.steady.water for c in ranked], "water removal", scale),
        measured("watts", [c.steady.total_power for c in ranked], "power", scale),
        Column("verdict", [_word(c) for c in ranked], right=False, wrap=True),
    ]
    if drawn:
        sure = [c.sure_water_kg_per_s for c in ranked]
        columns[3:3] = [
            measured("sure", sure, "water removal", scale),
            Column("no\nfault", [f"{100 * c.chance_no_fault:.0f} %" for c in ranked]),
        ]
    gap()
    print_table(columns)
    gap()
    if drawn:
        paragraph(
            "Ranked by sure water: the mean over the draws, where a draw that shows a fault "
            'counts as no water. "No fault" is the share of draws without any.',
            indent=2,
        )
    else:
        paragraph("Ranked by water, without draws: nothing is said about how sure it is.", indent=2)


def _word(c: CandidateRecord) -> str:
    return f"STOP: {c.word}" if c.stopped else c.word


def _print_best(best: CandidateRecord, scale: Scale) -> None:
    from sweatline.answers import rows_of
    from sweatline.cli.judgements import print_notes, print_shares, print_verdicts
    from sweatline.cli.speech import parts_line
    from sweatline.cli.tables import print_rows
    from sweatline.cli.terminal import gap, heading

    if best.stopped:
        heading(f"None may be built as it stands. The first: {parts_line(best.parts, scale)}")
    else:
        heading(f"The best: {parts_line(best.parts, scale)}")
    gap()
    print_rows(rows_of(best.steady, best.bands), scale)
    print_notes(best.steady.notes)
    print_verdicts(best.verdicts, scale, best.draws)
    print_shares(best.matters)


def _print_losers(record: MatchRecord, scale: Scale) -> None:
    from sweatline.cli.speech import judgement
    from sweatline.cli.terminal import heading, listing

    rows: list[tuple[str, str]] = []
    for c in record.ranked[1:]:
        why = [judgement(v, scale, 0) for v in c.verdicts if v.state == "fails"]
        said = "; ".join(why) if why else _weakness(c, record.ranked[0], scale)
        stop = "STOP, " if c.stopped else ""
        length = scale.show(c.parts.capillary_length, "length")
        parts = f"{c.parts.compressor} + {c.parts.refrigerant} + {c.parts.capillary}, {length}"
        rows.append((f"{c.rank}", f"{parts}: {stop}{said}"))
    rows += [
        ("-", f"{c.compressor} + {c.refrigerant} + {c.capillary}: no balance, {c.reason}")
        for c in record.lost
    ]
    if rows:
        heading("Why the others lose")
        listing(rows)


def _weakness(c: CandidateRecord, best: CandidateRecord, scale: Scale) -> str:
    """Why a combination without a failing verdict still comes later."""
    from sweatline.cli.speech import chance

    if not c.draws:
        water = scale.show(c.steady.water, "water removal")
        return f"{water}, against {scale.show(best.steady.water, 'water removal')}"
    worst = max(c.verdicts, key=lambda v: v.probability or 0.0)
    sure = scale.show(c.sure_water_kg_per_s, "water removal")
    text = f"{sure} sure, against {scale.show(best.sure_water_kg_per_s, 'water removal')}"
    if worst.probability is not None and worst.probability > _WORTH_TELLING:
        return f"{worst.fault}, {chance(worst.probability, c.draws)}; {text}"
    return text
