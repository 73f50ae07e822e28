"""Why an answer is as it is: verdicts, why others lose, what to measure next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from sweatline.design.match import Candidate, Lost, MatchAnswer
from sweatline.design.verdict import Fact, MeasurementPriority, Verdict
from sweatline.report.sentences import chance, judgement, named, verdict_number
from sweatline.uncertainty.sensitivity import Share
from sweatline.units import Scale

MARKS: Final[Mapping[str, str]] = {"fails": "FAULT", "holds": "clear", "note": "note"}
_ORDER: Final[Mapping[str, int]] = {"fails": 0, "note": 1, "holds": 2}
_MOST_SHARES: Final = 3
_LEAST_SHARE: Final = 0.005
_WORTH_TELLING: Final = 0.2  # chance of a fault that explains a lower rank

VERDICTS: Final = (("Safety", True), ("Working", False))
"""Headings of the verdicts, and whether those beneath are about safety."""


class Told(NamedTuple):
    """One verdict, or several that hold beyond doubt, in words."""

    mark: str
    text: str
    reasons: tuple[str, ...] = ()


def told_verdicts(
    verdicts: Sequence[Verdict], scale: Scale, draws: int, *, details: bool = True
) -> Iterator[tuple[str, list[Told]]]:
    """Verdicts under two headings, safety first, faults before what holds.

    Without `details` what holds beyond doubt stands in one line, a reason only under what fails or
    is a note, and what is behind a doubt nowhere. Where the rebuild must not go ahead only what
    forbids it has a reason, and what holds is left out.
    """
    stopped = not details and any(v.final and v.state == "fails" for v in verdicts)
    for title, safety in VERDICTS:
        chosen = [v for v in verdicts if v.safety is safety]
        if not chosen:
            continue
        rows: list[Told] = []
        for v in sorted(chosen, key=lambda v: (_ORDER[v.state], -(v.probability or 0.0))):
            if v.state == "holds" and not details and (v.doubt is None or stopped):
                continue
            reasons: list[str] = []
            forbids = v.final and v.state == "fails"
            if details or forbids or (v.state != "holds" and not stopped):
                reasons.append(_reason(v, scale))
            if v.doubt is not None and draws and details:
                reasons += doubt_lines(v.doubt)
            if forbids:
                reasons.append("The rebuild must not go ahead with this.")
            rows.append(Told(MARKS[v.state], judgement(v, scale, draws), tuple(reasons)))
        sure = [v.fault for v in chosen if v.state == "holds" and v.doubt is None]
        if sure and not details and not stopped:
            rows.append(Told(MARKS["holds"], "; ".join(sure)))
        yield title, rows


def _reason(verdict: Verdict, scale: Scale) -> str:
    origin = "Source" if verdict.limit is None else "Limit from"
    facts = "".join(f", {_fact(f, scale)}" for f in verdict.facts)
    sentence = f"{verdict.sentence[:1].upper()}{verdict.sentence[1:]}".rstrip(".")
    return f"{sentence}{facts}. {origin}: {verdict.source}."


def _fact(fact: Fact, scale: Scale) -> str:
    return f"{fact.label} {scale.show(fact.value, fact.kind)}"


def doubt_lines(doubt: MeasurementPriority) -> list[str]:
    """What to measure before a doubtful verdict is believed, and what else is behind it."""
    lines = []
    first = doubt.measure_first
    if first:
        told = [f"{first[0].label} ({_percent(first[0].share)} of the doubt)"]
        told += [f"{c.label} ({_percent(c.share)})" for c in first[1:]]
        lines.append(
            f"Measure first: {', '.join(told)}. With {first[0].how} the chance would move to "
            f"{_percent(first[0].chance_low)} or to {_percent(first[0].chance_high)}, as it turns "
            "out."
        )
    if doubt.unmeasured:
        told = [f"{c.label} {_percent(c.share)} ({c.origin})" for c in doubt.unmeasured]
        lines.append(f"Of what nobody measured, most of the doubt: {', '.join(told)}.")
    return lines


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


MEASURE_NEXT: Final = "What to measure next, by its share in the spread of the water"


def told_shares(shares: Sequence[Share], *, details: bool = True) -> list[tuple[str, str]]:
    """What the spread of the water comes from: share, and what it is of; three without details."""
    shown = [s for s in shares if s.share >= _LEAST_SHARE][: None if details else _MOST_SHARES]
    return [
        (
            f"{100 * s.share:.0f} %",
            f"{s.label} ({s.origin}{': ' + s.note if s.note and details else ''})",
        )
        for s in shown
    ]


def not_to_be_built(answer: MatchAnswer) -> list[str]:
    """What must not be built, for each reason, and the rule where one bars it."""
    reasons: dict[str, list[str]] = {}
    for c in answer.ranked:
        if c.stopped and c.worst is not None:
            reason = f"{c.word}."
            if c.worst.barred:
                reason += f" Nothing in a job opens this: the rule is {c.worst.source}."
            reasons.setdefault(reason, []).append(c.parts.refrigerant)
    return [
        f"{len(names)} of {answer.combinations} combinations "
        f"({', '.join(dict.fromkeys(names))}) must not be built: {reason}"
        for reason, names in reasons.items()
    ]


def title_of_ranking(answer: MatchAnswer) -> str:
    """What the combinations are ranked by."""
    if any(c.draws for c in answer.ranked):
        return "Ranked by dependable water (a trial run with a fault counts as none)"
    return "Ranked by water, without trial runs"


class Loser(NamedTuple):
    """A combination that is not the best: its rank (0 without a balance) and what it shows."""

    rank: int
    combination: Candidate | Lost
    more: str = ""


def losers(answer: MatchAnswer, scale: Scale) -> dict[str, list[Loser]]:
    """Why each other combination loses, grouped by the reason."""
    groups: dict[str, list[Loser]] = {}
    for rank, c in enumerate(answer.ranked[1:], 2):
        reason, more = _loses(c, answer.ranked[0], scale)
        groups.setdefault(reason, []).append(Loser(rank, c, more))
    for lost in answer.lost:
        groups.setdefault(f"no balance: {lost.reason}", []).append(Loser(0, lost))
    return groups


def loser_line(loser: Loser, scale: Scale) -> str:
    """A combination that loses, in a line."""
    c = loser.combination
    if isinstance(c, Lost):
        return f"{c.compressor} + {c.refrigerant} + {c.capillary}"
    return f"{loser.rank} {named(c.parts, scale)}{loser.more}"


def _loses(c: Candidate, best: Candidate, scale: Scale) -> tuple[str, str]:
    """Reason that several combinations may share, and what this one shows."""
    worst = c.worst
    if worst is not None and worst.state == "fails":
        shown = ""
        if worst.number is not None and worst.kind not in (None, "ratio"):
            shown = f": {verdict_number(worst.number, worst.kind, scale)}"
        return f"STOP, {worst.fault}" if c.stopped else worst.fault, shown
    if not c.draws:
        against = scale.show(best.steady.water, "water removal", 2)
        water = scale.show(c.steady.water, "water removal", 2)
        return f"less water than the best's {against}", f": {water}"
    against = scale.show(best.dependable_water, "water removal", 2)
    text = f": {scale.show(c.dependable_water, 'water removal', 2)}"
    likely = max(c.verdicts, key=lambda v: v.probability or 0.0)
    if likely.probability is not None and likely.probability > _WORTH_TELLING:
        text += f"; {likely.fault}, {chance(likely.probability, c.draws)}"
    return f"less dependable water than the best's {against}", text
