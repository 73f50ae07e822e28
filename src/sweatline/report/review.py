"""What an instructor says of a practice, sentence by sentence, from its debrief."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from sweatline.diagnosis.faults import Fault
from sweatline.training.debrief import Debrief, DoseReview, PassedLimit
from sweatline.training.session import Attempt, weight
from sweatline.units import Scale

_NEAR: Final = 0.05  # of the best charge: well done
_FAR: Final = 0.08
_BRIEF: Final = 30.0  # s: a moment that does no harm
_MOST_SLIPS: Final = 4  # that are listed


def outcome(found: Debrief, scale: Scale) -> str:
    """How it ended, in one sentence."""
    return (
        f"{found.machine}, machine {found.seed}: "
        f"{scale.show(found.charge, 'mass')} in, {_against(found, scale)}; "
        f"{_additions(found.additions)}, {found.time / 60.0:.0f} min."
    )


def _additions(count: int | None) -> str:
    if count is None:
        return "not to the end"
    return "1 addition" if count == 1 else f"{count} additions"


def best_charge(found: Debrief) -> float:
    """That the machine was to be brought to: as it stands, or mended where no charge fills it."""
    return found.best_charge if found.best_charge is not None else found.mended_charge


def _against(found: Debrief, scale: Scale) -> str:
    best = best_charge(found)
    miss = found.charge / best - 1.0
    side = "over" if miss > 0.0 else "short of"
    return f"{100.0 * abs(miss):.1f} % {side} the best charge of {scale.show(best, 'mass')}"


def fault_in_words(fault: Fault, scale: Scale) -> str:
    """What was wrong, with its size."""
    size = scale.show(abs(fault.size), fault.kind.size_of)
    if fault.kind.size_of == "pressure difference":
        size += " too high" if fault.size > 0.0 else " too low"
    name = f"{fault.kind.name}, the {fault.place}" if fault.place else fault.kind.name
    return f"{name}: {fault.kind.means.format(size)}"


def story(found: Debrief, scale: Scale) -> Iterator[str]:
    """How it ended, and whether the readings were waited for."""
    if found.ended == "broken off":
        yield f"Broken off: {found.broken_off}."
    elif found.ended == "interrupted":
        yield "Interrupted; this is how it stands so far."
    yield (
        f"You ended with {scale.show(found.charge, 'mass')} in, {_against(found, scale)}; "
        f"the most ever in was {scale.show(found.most, 'mass')}. "
        f"{_additions(found.additions)} in {found.time / 60.0:.0f} min."
    )
    if found.best_charge is None:
        yield "As it stands no charge fills its evaporator; the best is that of the machine mended."
    elif abs(found.best_charge / found.mended_charge - 1.0) > 0.02:
        yield (
            "That is the best as it stands; once mended it takes "
            f"{scale.show(found.mended_charge, 'mass')}."
        )
    if found.lost > 1e-4:
        yield f"{scale.show(found.lost, 'mass')} of what you weighed in has leaked out."
    if found.doses:
        yield from _waiting(found)


def _waiting(found: Debrief) -> Iterator[str]:
    """Whether the readings were waited for."""
    doses = found.doses
    unread = [d for d in doses if d.running and d.advised == "read"]
    if unread:
        count = "the addition" if len(doses) == 1 else f"{len(unread)} of {len(doses)} additions"
        yield f"Before {count} a reading was missing, too old or in doubt: read once more first."
    early = [d for d in doses if d.running and d.advised == "wait"]
    if not early:
        if not unread:
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


def remarks(found: Debrief, scale: Scale) -> Iterator[str]:
    """Limits that were passed, slips of the pen, and the fault."""
    yield from _limits(found, scale)
    yield from _slips(found)
    yield from _fault(found, scale)


def _limits(found: Debrief, scale: Scale) -> Iterator[str]:
    for one in found.limits:
        if not one.at_end and one.time is not None and one.time < _BRIEF:
            continue
        yield _LIMITS[one.what](one, scale) + _when(one)
    if found.largest_liquid > 0.0 and found.charge_as == "either":
        yield (
            "You let liquid into the low side of a running machine. A compressor cannot press "
            "liquid: take vapour."
        )
    elif found.charge_as == "liquid":
        if any(d.phase == "vapour" for d in found.doses):
            yield (
                "You took this blend from its cylinder as vapour; that changes what is in it. "
                "Take liquid, and let it in a sip at a time."
            )
        if found.largest_liquid > 0.1 * found.mended_charge:
            yield (
                f"{scale.show(found.largest_liquid, 'mass')} of liquid at once is too much for "
                "a running low side: throttle it, a sip at a time."
            )


def _when(one: PassedLimit) -> str:
    if one.at_start and not one.at_end:
        return "; it began so, and you brought it out of that."
    if one.at_start:
        return "; it began so, and it is so still."
    return "; it is so still." if one.at_end else "; that is over."


_LIMITS: Final[dict[str, Callable[[PassedLimit, Scale], str]]] = {
    "head pressure": lambda o, s: (
        f"The head reached {s.show(o.reached_SI, 'pressure')}; the high side is good for "
        f"{s.show(o.limit_SI, 'pressure')}"
    ),
    "discharge gas": lambda o, s: (
        f"The discharge gas reached {s.show(o.reached_SI, 'temperature')}; oil and valves suffer "
        f"above {s.show(o.limit_SI, 'temperature')}"
    ),
    "frozen coil": lambda o, s: (
        f"The coil was below freezing for {(o.time or 0.0) / 60.0:.0f} min, at the coldest "
        f"{s.show(o.reached_SI, 'temperature')}"
    ),
    "flooding back": lambda o, s: (
        f"Liquid left the evaporator for {(o.time or 0.0) / 60.0:.0f} min"
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


def _slips(found: Debrief) -> Iterator[str]:
    told = [
        f"{s.what} at {s.time / 60.0:.1f} min written {s.written}, was {s.meant}"
        for s in found.slips[:_MOST_SLIPS]
    ]
    if len(found.slips) > _MOST_SLIPS:
        told.append(f"and {len(found.slips) - _MOST_SLIPS} more")
    if told:
        yield f"Slips of the pen: {'; '.join(told)}."


def _fault(found: Debrief, scale: Scale) -> Iterator[str]:
    fault = found.fault
    if fault is None:
        if found.fault_hidden:
            yield "Nothing was wrong with this machine" + (
                ", as you said." if found.naming == "right" else "."
            )
        elif found.naming == "wrong":
            yield "Nothing was wrong with this machine."
        return
    yield f"The fault was {fault_in_words(fault, scale)}."
    if found.fault_hidden:
        verdict = {
            "right": "You named it.",
            "close": "You came close: gauges and thermometers alone hardly tell the two apart.",
            "wrong": "You named another.",
            "not named": "You did not name it.",
        }[found.naming]
        yield f"{verdict} How it shows: {fault.kind.shows}."
    if found.odd_from is not None:
        yield (
            f"By {found.odd_from / 60.0:.0f} min hardly any machine in order would have shown "
            "your readings together."
        )
    if found.look_from is not None:
        yield (
            f"From addition {found.look_from} on, settled readings would have said to look before "
            "letting in more."
        )


def advised(dose: DoseReview, scale: Scale) -> str:
    """What the advice was when a dose was let in."""
    if not dose.running:
        return "at rest"
    if dose.advised == "add":
        return f"add {weight(dose.advised_dose or 0.0, scale.system)}"
    if dose.advised == "take out":
        return f"take out {weight(-(dose.advised_dose or 0.0), scale.system)}"
    return "read again" if dose.advised == "read" else dose.advised


def attempts(found: Debrief) -> list[tuple[str, Attempt]]:
    """Who charged the same machine, in words, and how it ended: the person first."""
    you = Attempt(
        way="hand",
        charge=found.charge,
        most=found.most,
        additions=found.additions,
        time=found.time,
        gave_up=found.broken_off,
    )
    rows = [you, *found.others]
    return [
        (_WAYS[r.way] + (", broken off" if r.gave_up else "") + _looks(r.looks), r) for r in rows
    ]


def _looks(count: int) -> str:
    return "" if not count else ", 1 look" if count == 1 else f", {count} looks"


_WAYS: Final = {"hand": "you", "advice": "the advice", "habit": "half an ounce, 5 min"}


def next_step(found: Debrief, scale: Scale) -> str:
    """The best next thing."""
    if found.next == "mend":
        assert found.fault is not None
        return f"The best next thing: {found.fault.kind.mend}."
    words = {
        "wait": "wait until the readings say where they go",
        "stop": "add no more",
        "add": f"add {weight(found.next_dose or 0.0, scale.system)}",
        "take out": f"take out {weight(-(found.next_dose or 0.0), scale.system)}",
        "read": "read the instruments again, or confirm what is in doubt",
    }[found.next]
    band = found.best_by_readings
    known = (
        f"; by your readings the best charge is {scale.range(band, 'mass')}"
        if band is not None
        else ""
    )
    return f"The best next thing: {words}{known}."


def lesson(found: Debrief, scale: Scale) -> str:
    """The one thing to do otherwise next time."""
    best = best_charge(found)
    miss = found.charge / best - 1.0
    if found.fault is not None and found.fault_hidden and found.naming in ("wrong", "not named"):
        return (
            "Next time: where readings do not go together, look for the reason before the next "
            "dose."
        )
    if found.fault is not None and found.fault.kind.of_machine:
        wants = scale.show(found.mended_charge, "mass")
        if found.most > (1.0 + _NEAR) * found.mended_charge:
            return (
                f"Next time: do not charge a fault away; all above {wants} has to come out again "
                "once it is mended."
            )
        return f"Then charge it to {wants}; until it is mended no charge makes it right."
    passed = {one.what for one in found.limits if not one.at_start}
    early = [d for d in found.doses if d.running and d.advised in ("wait", "read")]
    if "head pressure" in passed:
        return "Next time: keep the limit of the high side in view at every addition."
    if found.most > (1.0 + _FAR) * best:
        weighed = found.begun
        for d in found.doses:
            weighed += d.weighed
            if weighed > (1.0 + _NEAR) * best:
                why = (
                    "weigh against the best charge"
                    if not d.running
                    else {
                        "wait": "it was made while the readings still moved",
                        "stop": "the readings said stop",
                        "take out": "the readings said there was too much already",
                        "add": f"{weight(d.advised_dose or 0.0, scale.system)} was enough",
                        "read": "a reading was missing or in doubt",
                    }[d.advised]
                )
                return (
                    f"Next time: the addition at {d.time / 60.0:.1f} min made it too much; {why}."
                )
    if miss < -_NEAR:
        return (
            f"Next time: go on a little longer, {weight(best - found.charge, scale.system)} "
            "were missing."
        )
    if miss > _NEAR:
        return "Next time: smaller doses near the end; what is in comes out only by recovery."
    if early:
        return (
            "Next time: the end is right; wait longer before each addition, so that it is not luck."
        )
    return "Well done: within 5 % of the best, and never far over it."
