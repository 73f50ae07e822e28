"""A diagnosis in words: what is wrong, what speaks for it, what to measure next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sweatline.diagnosis.diagnosis import Diagnosis, ReadingHeld, Suspect
from sweatline.diagnosis.next_reading import NextReading
from sweatline.log.channels import CHANNELS
from sweatline.report.sentences import duration, sentence
from sweatline.report.told import Told
from sweatline.units import Scale

AT_LENGTH: Final = 2  # causes told at length without details


def in_a_hundred(chance: float) -> str:
    """A chance as people say it."""
    if chance > 0.995:
        return "over 99 in 100"
    if chance < 0.005:
        return "under 1 in 100"
    return f"{100.0 * chance:.0f} in 100"


def headings(channels: Sequence[str]) -> str:
    """Readings by what a table calls them."""
    return ", ".join(CHANNELS[c].heading for c in channels)


def suspect_rows(one: Suspect) -> list[tuple[str, str]]:
    """What is said of a cause below its name."""
    rows = []
    if one.size_in_words:
        rows.append(("how much", sentence(one.size_in_words)))
    if one.speaks_for:
        rows.append(("for it", headings(one.speaks_for)))
    if one.speaks_against:
        rows.append(("against it", headings(one.speaks_against)))
    if one.beside:
        rows.append(("together with", one.beside))
    rows.append(("what to do", sentence(one.what_to_do)))
    return rows


def together_line(found: Diagnosis) -> str:
    """Why the chances make more than a hundred; empty where they do not."""
    if sum(s.probability for s in found.suspects) <= 1.005:
        return ""
    return "Two causes can be there at once and then each counts: so they make more than 100."


def next_row(one: NextReading, scale: Scale) -> tuple[str, str]:
    """What to measure, how long it takes, and what it would show."""
    shows = "; ".join(f"{scale.range(f.expected_SI, one.kind)} if {f.cause}" for f in one.separates)
    return duration(one.trouble), f"{sentence(one.how)} {sentence(shows)}"


def reading_cells(r: ReadingHeld, scale: Scale) -> tuple[str, ...]:
    """A reading: what it is, read, in order, off, explained."""
    return (
        CHANNELS[r.channel].heading,
        scale.show(r.read_SI, r.kind),
        scale.range(r.in_order_SI, r.kind),
        f"{r.off:+.1f}",
        scale.range(r.explained_SI, r.kind),
    )


def charge_line(found: Diagnosis, scale: Scale) -> str:
    """What is in and what belongs in."""
    return (
        f"By these readings {scale.range(found.charge, 'mass')} are in; right is "
        f"{scale.range(found.right_charge, 'mass')}."
    )


def diagnosis_told(a: Diagnosis, scale: Scale, details: bool) -> Iterator[Told]:
    """The answer, what to do, the causes, what to measure next, the readings.

    Parameters
    ----------
    details : bool
        Every cause at length, and the machine by these readings.
    """
    first = a.suspects[0]
    yield Told(
        sentences=(
            sentence(a.answer),
            *(sentence(one.sentence) for one in a.contradictions),
            f"What to do: {sentence(first.what_to_do)}",
        )
    )
    told = a.suspects if details else a.suspects[:AT_LENGTH]
    for suspect in told:
        title = f"{sentence(suspect.name).rstrip('.')}: {in_a_hundred(suspect.probability)}"
        after = together_line(a) if suspect is told[-1] else ""
        yield Told(title=title, rows=tuple(suspect_rows(suspect)), after=after)
    if a.next_readings:
        rows = tuple(next_row(one, scale) for one in a.next_readings)
        yield Told(title="What to measure next", rows=rows)
    cells = [reading_cells(r, scale) for r in a.readings]
    yield Told(
        title="The readings",
        rows=tuple(
            (label, f"{read}; in order {in_order}, off {off}" +
             (f"; as explained {explained}" if details else ""))
            for label, read, in_order, off, explained in cells
        ),
        after="In order: 9 in 10 machines of this job with nothing wrong. Off: from its middle, in "
        f"standard deviations. {charge_line(a, scale)}",
    )  # fmt: skip
    if details:
        yield Told(
            title="The machine by these readings, of its best value",
            rows=tuple(
                (c.name, f"{c.after.middle:.2f} ({c.after.low:.2f} to {c.after.high:.2f})")
                for c in a.conditions
            ),
        )
