"""What an instructor says after a practice: the readings on the way, and the judgement in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sweatline.training.records import (
        DoseRecord,
        FaultRecord,
        PassedLimitRecord,
        PracticeRecord,
    )
    from sweatline.training.session import Round
    from sweatline.units import Scale, System

__all__ = ["HELP", "fault_line", "print_judgement", "short_line", "told_round", "told_titles"]

HELP: Final = """\
  wait 5 min        let time pass; readings are written down on the way
  add 10 g          let refrigerant into the low side (add 10 g liquid, add 1/2 oz)
  read              read all instruments once more
  stop, start       switch the machine off and on again
  fault: WORDS      say what you think is wrong with the machine, or none
  done              end, and be told how it went"""

_NEAR: Final = 0.05  # of the best charge: well done
_FAR: Final = 0.08
_BRIEF: Final = 30.0  # s: a moment that does no harm
_MOST_SLIPS: Final = 4  # that are listed

# Titles of the columns, in the order of a round, with the channel's unit by system.
_COLUMNS: Final = (
    ("suction", "bar(g)", "psig"),
    ("head", "bar(g)", "psig"),
    ("suction", "gas °C", "gas °F"),
    ("liquid", "line °C", "line °F"),
    ("watts", "W", "W"),
    ("discharge", "gas °C", "gas °F"),
    ("between", "coils °C", "coils °F"),
    ("air", "out °C", "out °F"),
)
_WIDTHS: Final = (8, 7, 8, 8, 6, 10, 9, 8)


def told_titles(system: System) -> str:
    """Two lines above the rounds of readings."""
    upper, lower = f"{'':5}{'in':>6}", f"{'min':>5}{'oz' if system == 'US' else 'g':>6}"
    for (name, si, us), width in zip(_COLUMNS, _WIDTHS, strict=True):
        upper += f"{name:>{width}}"
        lower += f"{us if system == 'US' else si:>{width}}"
    return f"{upper}\n{lower}"


def told_round(found: Round, system: System) -> str:
    """One round of readings in one line."""
    from sweatline.training.gauge_readout import weight

    line = f"{found.at / 60.0:5.1f}{weight(found.weighed, system).split()[0]:>6}"
    for one, width in zip(found.jotted, _WIDTHS, strict=True):
        line += f"{one.text.split()[0]:>{width}}"
    return line


def short_line(record: PracticeRecord, scale: Scale) -> str:
    """How it ended, in one sentence."""
    return (
        f"{record.machine}, machine {record.seed}: "
        f"{scale.show(record.charge_kg, 'mass')} in, {_against(record, scale)}; "
        f"{_additions(record.additions)}, {record.time_s / 60.0:.0f} min."
    )


def _additions(count: int | None) -> str:
    if count is None:
        return "not to the end"
    return "1 addition" if count == 1 else f"{count} additions"


def _best(record: PracticeRecord) -> float:
    return record.best_charge_kg if record.best_charge_kg is not None else record.mended_charge_kg


def _against(record: PracticeRecord, scale: Scale) -> str:
    best = _best(record)
    miss = record.charge_kg / best - 1.0
    side = "over" if miss > 0.0 else "short of"
    return f"{abs(miss):.1%} {side} the best charge of {scale.show(best, 'mass')}"


def fault_line(fault: FaultRecord, scale: Scale) -> str:
    """What was wrong, with its size."""
    size = scale.show(abs(fault.size_SI), fault.size_of)
    if fault.size_of == "pressure difference":
        size += " too high" if fault.size_SI > 0.0 else " too low"
    name = f"{fault.name}, the {fault.place}" if fault.place else fault.name
    return f"{name}: {fault.means.format(size)}"


def print_judgement(record: PracticeRecord, scale: Scale) -> None:
    """All of it, in eighty columns."""
    from sweatline.cli.terminal import gap, heading, paragraph

    heading("How it went")
    for sentence in _story(record, scale):
        paragraph(sentence)
    if record.doses:
        gap()
        _print_doses(record, scale)
        gap()
    for sentence in (*_limits(record, scale), *_slips(record), *_fault(record, scale)):
        paragraph(sentence)
    gap()
    paragraph(_next(record, scale))
    paragraph(_lesson(record, scale))
    if record.others:
        gap()
        _print_others(record, scale)
    gap()
    for note in record.notes:
        paragraph(note)


def _story(record: PracticeRecord, scale: Scale) -> Iterator[str]:
    if record.ended == "broken off":
        yield f"Broken off: {record.broken_off}."
    elif record.ended == "interrupted":
        yield "Interrupted; this is how it stands so far."
    yield (
        f"You ended with {scale.show(record.charge_kg, 'mass')} in, {_against(record, scale)}; "
        f"the most ever in was {scale.show(record.most_kg, 'mass')}. "
        f"{_additions(record.additions)} in {record.time_s / 60.0:.0f} min."
    )
    if record.best_charge_kg is None:
        yield "As it stands no charge fills its evaporator; the best is that of the machine mended."
    elif abs(record.best_charge_kg / record.mended_charge_kg - 1.0) > 0.02:
        yield (
            "That is the best as it stands; once mended it takes "
            f"{scale.show(record.mended_charge_kg, 'mass')}."
        )
    if record.lost_kg > 1e-4:
        yield f"{scale.show(record.lost_kg, 'mass')} of what you weighed in has leaked out."
    if record.doses:
        yield from _waiting(record)


def _waiting(record: PracticeRecord) -> Iterator[str]:
    """Whether the readings were waited for."""
    doses = record.doses
    early = [d for d in doses if d.running and d.advised == "wait"]
    if not early:
        yield "You waited long enough before every addition."
        return
    unsure = [n for n in _ORDER if any(n in d.unsure for d in early)]
    which = "the readings" if len(unsure) > 3 else _listed(unsure)
    what = f"where {which} would settle" if unsure else "what the last one had done"
    count = "the addition" if len(doses) == 1 else f"{len(early)} of {len(doses)} additions"
    yield f"Before {count} you should have waited longer: {what} could not be told yet."


_ORDER: Final = (
    "suction gauge", "head gauge", "suction gas", "liquid line", "discharge gas", "watts",
)  # fmt: skip


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}" if words[1:] else "".join(words)


def _print_doses(record: PracticeRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.training.gauge_readout import weight

    def advised(d: DoseRecord) -> str:
        if not d.running:
            return "at rest"
        if d.advised == "add":
            return f"add {weight(d.advised_kg or 0.0, scale.system)}"
        if d.advised == "take out":
            return f"take out {weight(-(d.advised_kg or 0.0), scale.system)}"
        return d.advised

    doses = record.doses
    print_table(
        [
            Column("at\nmin", [f"{d.time_s / 60.0:.1f}" for d in doses]),
            Column("waited\nmin", [f"{d.waited_s / 60.0:.1f}" for d in doses]),
            Column("readings", [d.readings for d in doses], right=False),
            Column("advice\nthen", [advised(d) for d in doses], right=False),
            Column("you\nadded", [weight(d.weighed_kg, scale.system) for d in doses]),
            Column(
                "best charge by the\nreadings then", [_range(d, scale) for d in doses], right=False
            ),
        ]
    )


def _range(dose: DoseRecord, scale: Scale) -> str:
    return "-" if dose.best_then_kg is None else scale.range(dose.best_then_kg, "mass")


def _limits(record: PracticeRecord, scale: Scale) -> Iterator[str]:
    for one in record.limits:
        if not one.at_end and one.time_s is not None and one.time_s < _BRIEF:
            continue
        yield _LIMITS[one.what](one, scale) + _when(one)
    if record.largest_liquid_kg > 0.0 and record.charge_as == "either":
        yield (
            "You let liquid into the low side of a running machine. A compressor cannot press "
            "liquid: take vapour."
        )
    elif record.charge_as == "liquid":
        if any(d.phase == "vapour" for d in record.doses):
            yield (
                "You took this blend from its cylinder as vapour; that changes what is in it. "
                "Take liquid, and let it in a sip at a time."
            )
        if record.largest_liquid_kg > 0.1 * record.mended_charge_kg:
            yield (
                f"{scale.show(record.largest_liquid_kg, 'mass')} of liquid at once is too much for "
                "a running low side: throttle it, a sip at a time."
            )


def _when(one: PassedLimitRecord) -> str:
    if one.at_start and not one.at_end:
        return "; it began so, and you brought it out of that."
    if one.at_start:
        return "; it began so, and it is so still."
    return "; it is so still." if one.at_end else "; that is over."


_LIMITS: Final[dict[str, Callable[[PassedLimitRecord, Scale], str]]] = {
    "head pressure": lambda o, s: (
        f"The head reached {s.show(o.reached_SI, 'pressure')}; the high side is good for "
        f"{s.show(o.limit_SI, 'pressure')}"
    ),
    "discharge gas": lambda o, s: (
        f"The discharge gas reached {s.show(o.reached_SI, 'temperature')}; oil and valves suffer "
        f"above {s.show(o.limit_SI, 'temperature')}"
    ),
    "frozen coil": lambda o, s: (
        f"The coil was below freezing for {(o.time_s or 0.0) / 60.0:.0f} min, at the coldest "
        f"{s.show(o.reached_SI, 'temperature')}"
    ),
    "flooding back": lambda o, s: (
        f"Liquid left the evaporator for {(o.time_s or 0.0) / 60.0:.0f} min"
        + (
            f", and for {o.reached_SI / 60.0:.0f} min of these it reached the compressor"
            if o.reached_SI >= _BRIEF
            else ""
        )
    ),
    "vacuum": lambda o, s: (
        f"The low side went below the air's pressure, to {s.show(o.reached_SI, 'pressure')}: a "
        "loose hose draws air in then"
    ),
}


def _slips(record: PracticeRecord) -> Iterator[str]:
    told = [
        f"{s.what} at {s.time_s / 60.0:.1f} min written {s.written}, was {s.meant}"
        for s in record.slips[:_MOST_SLIPS]
    ]
    if len(record.slips) > _MOST_SLIPS:
        told.append(f"and {len(record.slips) - _MOST_SLIPS} more")
    if told:
        yield f"Slips of the pen: {'; '.join(told)}."


def _fault(record: PracticeRecord, scale: Scale) -> Iterator[str]:
    fault = record.fault
    if fault is None:
        if record.fault_hidden:
            yield "Nothing was wrong with this machine" + (
                ", as you said." if record.naming == "right" else "."
            )
        elif record.naming == "wrong":
            yield "Nothing was wrong with this machine."
        return
    yield f"The fault was {fault_line(fault, scale)}."
    if record.fault_hidden:
        verdict = {
            "right": "You named it.",
            "close": "You came close: gauges and thermometers alone hardly tell the two apart.",
            "wrong": "You named another.",
            "not named": "You did not name it.",
        }[record.naming]
        yield f"{verdict} How it shows: {fault.shows}."
    if record.odd_from_s is not None:
        yield (
            f"By {record.odd_from_s / 60.0:.0f} min hardly any machine in order would have shown "
            "your readings together."
        )


def _next(record: PracticeRecord, scale: Scale) -> str:
    if record.next == "mend":
        assert record.fault is not None
        return f"The best next thing: {record.fault.mend}."
    from sweatline.training.gauge_readout import weight

    words = {
        "wait": "wait until the readings say where they go",
        "stop": "add no more",
        "add": f"add {weight(record.next_kg or 0.0, scale.system)}",
        "take out": f"take out {weight(-(record.next_kg or 0.0), scale.system)}",
    }[record.next]
    band = record.best_by_readings_kg
    known = (
        f"; by your readings the best charge is {scale.range(band, 'mass')}"
        if band is not None
        else ""
    )
    return f"The best next thing: {words}{known}."


def _lesson(record: PracticeRecord, scale: Scale) -> str:
    """The one thing to do otherwise next time."""
    from sweatline.training.gauge_readout import weight

    best = _best(record)
    miss = record.charge_kg / best - 1.0
    if record.fault is not None and record.fault_hidden and record.naming in ("wrong", "not named"):
        return (
            "Next time: where readings do not go together, look for the reason before the next "
            "dose."
        )
    if record.fault is not None and record.fault.of_machine:
        wants = scale.show(record.mended_charge_kg, "mass")
        if record.most_kg > (1.0 + _NEAR) * record.mended_charge_kg:
            return (
                f"Next time: do not charge a fault away; all above {wants} has to come out again "
                "once it is mended."
            )
        return f"Then charge it to {wants}; until it is mended no charge makes it right."
    passed = {one.what for one in record.limits if not one.at_start}
    early = [d for d in record.doses if d.running and d.advised == "wait"]
    if "head pressure" in passed:
        return "Next time: keep the limit of the high side in view at every addition."
    if record.most_kg > (1.0 + _FAR) * best:
        weighed = record.begun_kg
        for d in record.doses:
            weighed += d.weighed_kg
            if weighed > (1.0 + _NEAR) * best:
                why = (
                    "weigh against the best charge"
                    if not d.running
                    else {
                        "wait": "it was made while the readings still moved",
                        "stop": "the readings said stop",
                        "take out": "the readings said there was too much already",
                        "add": f"{weight(d.advised_kg or 0.0, scale.system)} was enough",
                    }[d.advised]
                )
                return (
                    f"Next time: the addition at {d.time_s / 60.0:.1f} min made it too much; {why}."
                )
    if miss < -_NEAR:
        return (
            f"Next time: go on a little longer, {weight(best - record.charge_kg, scale.system)} "
            "were missing."
        )
    if miss > _NEAR:
        return "Next time: smaller doses near the end; what is in comes out only by recovery."
    if early:
        return (
            "Next time: the end is right; wait longer before each addition, so that it is not luck."
        )
    return "Well done: within 5 % of the best, and never far over it."


def _print_others(record: PracticeRecord, scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.training.records import AttemptRecord

    best = _best(record)
    you = AttemptRecord(
        way="hand",
        charge_kg=record.charge_kg,
        most_kg=record.most_kg,
        additions=record.additions,
        time_s=record.time_s,
        gave_up=record.broken_off,
    )
    rows = [you, *record.others]
    print_table(
        [
            Column(
                "the same machine\ncharged by",
                [_WAYS[r.way] + (", broken off" if r.gave_up else "") for r in rows],
                right=False,
            ),
            Column("ended\nat", [scale.show(r.charge_kg, "mass") for r in rows]),
            Column("against\nbest", [f"{r.charge_kg / best - 1.0:+.1%}" for r in rows]),
            Column("most\never in", [f"{r.most_kg / best - 1.0:+.1%}" for r in rows]),
            Column("\ndoses", ["-" if r.additions is None else str(r.additions) for r in rows]),
            Column("\nmin", [f"{r.time_s / 60.0:.0f}" for r in rows]),
        ]
    )


_WAYS: Final = {"hand": "you", "advice": "the advice", "habit": "half an ounce, 5 min"}
