"""A charging in words and tables: the next step, where the readings settle, the stop rule."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from sweatline.cli.judgements import print_notes
from sweatline.cli.terminal import gap, heading, listing, paragraph

if TYPE_CHECKING:
    from sweatline.charging.records import (
        ChargingRecord,
        DoubtfulRecord,
        OutlookRecord,
        RuleRecord,
    )
    from sweatline.units import Kind, Scale

__all__ = [
    "KINDS",
    "print_doubtful",
    "print_errors",
    "print_foreseen",
    "print_next",
    "print_outlooks",
    "print_rule",
    "print_state",
    "step_in_words",
]

KINDS: Final[dict[str, Kind]] = {
    "suction gauge": "pressure",
    "head gauge": "pressure",
    "suction gas": "temperature",
    "return gas": "temperature",
    "liquid line": "temperature",
    "discharge gas": "temperature",
    "coil": "temperature",
    "watts": "power",
    "superheat": "temperature difference",
    "subcooling": "temperature difference",
    "coldest surface": "temperature",
}
_MARKS: Final = {"yes": "yes", "no": "NO", "in doubt": "not sure", "not read": "not read"}


def step_in_words(record: ChargingRecord, scale: Scale) -> str:
    """The next step in a few words."""
    if record.action == "wait":
        return f"Wait {duration(record.look_again_s or 0.0)}"
    if record.action == "add":
        return f"Add {scale.show(record.dose_kg, 'mass')}"
    if record.action == "take out":
        return f"Take out {scale.show(-(record.dose_kg or 0.0), 'mass')}"
    return "Stop: add no more" if record.action == "stop" else "More readings"


def duration(seconds: float) -> str:
    """A time to wait, as people say it."""
    if seconds < 55.0:
        return f"{max(seconds, 1.0):.0f} s"
    return f"{seconds / 60.0:.0f} min"


def print_next(record: ChargingRecord, scale: Scale) -> None:
    """The next step, why, and what is in."""
    heading(step_in_words(record, scale))
    paragraph(_sentence(record.reason), indent=2)
    for obstacle in record.obstacles:
        if obstacle != record.reason:
            paragraph(_sentence(obstacle), indent=2)
    inside = f"In the machine {scale.show(record.charge_kg, 'mass')}"
    if record.charge_sd_kg > 0.0:
        inside += f" ± {scale.show(record.charge_sd_kg, 'mass', 2)}"
    if record.best_charge_kg is not None:
        best = record.best_charge_kg
        inside += (
            f"; best by these readings {scale.show(best.middle, 'mass')} "
            f"[{scale.range(best, 'mass')}]"
        )
    paragraph(inside + ".", indent=2)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def print_outlooks(outlooks: Sequence[OutlookRecord], scale: Scale) -> None:
    """Where every reading is heading, and what it should show after the dose."""
    from sweatline.cli.tables import Column, print_table

    rows = [_row(o, scale) for o in outlooks if o.what in KINDS]
    if not rows:
        return
    titles = ("", "read", "settles", "nine tenths", "", "then", "nine tenths")
    used = 7 if any(o.expected_after_SI is not None for o in outlooks) else 5
    gap()
    print_table(
        [Column(titles[i], [r[i] for r in rows], right=i in (1, 2, 5)) for i in range(used)]
    )


def _row(o: OutlookRecord, scale: Scale) -> list[str]:
    kind = KINDS[o.what]
    s, a = o.settles_SI, o.expected_after_SI
    after = (None, None, None) if a is None else (a.low, a.middle, a.high)
    unit, cells = scale.column((o.last_SI, s.middle, s.low, s.high, *after), kind)
    name = {"coldest surface": "coldest coil"}.get(o.what, o.what.removesuffix(" gauge"))
    state = "settled" if o.state == "settled" else f"in {duration(o.look_again_s)}"
    if o.what == "coldest surface":
        state = "model"
    elif o.state == "disturbed":
        state = "moved"
    bands = [
        f"{low}..{high}" if low != "-" else ""
        for low, high in ((cells[2], cells[3]), (cells[4], cells[6]))
    ]
    return [f"{name} {unit}".strip(), cells[0], cells[1], bands[0], state, cells[5], bands[1]]


def print_rule(rules: Sequence[RuleRecord], scale: Scale) -> None:
    """The stop rule, condition by condition."""
    if not rules:
        return
    gap()
    rows = []
    for r in rules:
        mark = _MARKS[r.state]
        if r.state == "no" and r.what == "evaporator wet to its end":
            mark = "not yet"
        rows.append((r.what, f"{mark}: {_value(r, scale)}" if r.settles_SI else mark))
    listing(rows)


def _value(rule: RuleRecord, scale: Scale) -> str:
    assert rule.settles_SI is not None
    shown = scale.show(rule.settles_SI.middle, rule.kind)
    if rule.limit_SI is not None:
        limit = scale.show(rule.limit_SI, rule.kind)
        over = rule.what in ("suction dry and a little warm", "coil above freezing in this room")
        side = "at least" if over else "at most"
        shown += f", {side} {limit}"
    if rule.by == "model":
        shown += ", by the model"
    return shown


def print_doubtful(doubtful: Sequence[DoubtfulRecord], *, log: str = "") -> None:
    """Entries in doubt, each with what to type."""
    for d in doubtful:
        for asked in d.questions:
            paragraph(f"? {d.number}: {_sentence(asked).rstrip('.')}", indent=2)
        correct = f"correct {d.number} {d.offered or '...'}"
        confirm = f"confirm {d.number}"
        if log:
            value = f'"{d.offered}"' if d.offered else "..."
            correct = f"sweatline log correct {log} {d.number} {value}"
            confirm = f"sweatline log confirm {log} {d.number}"
        rest = (
            "no dose is told before that"
            if d.holds_up
            else "a later reading has taken its place meanwhile"
            if "twice" not in " ".join(d.questions)
            else "it counts once meanwhile"
        )
        paragraph(f"`{correct}` or `{confirm}`; {rest}.", indent=2)


def print_foreseen(record: ChargingRecord, scale: Scale) -> None:
    """What will be wrong with the machine when it is charged right."""
    from sweatline.cli.speech import judgement

    if not record.foreseen:
        return
    heading("Foreseen, when it is charged right by the job's best values")
    listing(
        (
            ("FAULT" if v.state == "fails" else "note"),
            f"{judgement(v, scale, 0)}. {_sentence(v.sentence)}",
        )
        for v in record.foreseen
    )


def print_errors(record: ChargingRecord, scale: Scale) -> None:
    """How well the instruments are taken to read."""
    told = []
    for e in record.reading_errors:
        kind: Kind = KINDS[e.what]
        if kind == "pressure":
            kind = "pressure difference"
        elif kind == "temperature":
            kind = "temperature difference"
        told.append(f"{e.what} {scale.show(e.sd_SI, kind, 2)} ({e.source})")
    if told:
        paragraph("Errors of the instruments: " + ", ".join(told) + ".", indent=2)


def print_state(record: ChargingRecord, scale: Scale, *, log: str = "") -> None:
    """Everything that follows from a log."""
    print_next(record, scale)
    print_doubtful(record.doubtful, log=log)
    print_outlooks(record.outlooks, scale)
    print_rule(record.stop_rule, scale)
    if record.notes:
        gap()
        print_notes(record.notes)
    if record.reading_errors:
        gap()
        print_errors(record, scale)
    print_foreseen(record, scale)
