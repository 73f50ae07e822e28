"""What is wrong with a machine, how sure that is, what speaks for it, and what to measure next."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Hidden, Q, Range, Shown
from sweatline.assembly.build import Build, Parts
from sweatline.design.verdicts import cautions_clear
from sweatline.diagnosis.atlas import Atlas, atlas_of
from sweatline.diagnosis.causes import CAUSES, Cause
from sweatline.diagnosis.contradictions import Contradiction, contradictions_in
from sweatline.diagnosis.narrowing import narrowed
from sweatline.diagnosis.next_reading import NextReading, next_readings
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Grid, Reading, Weighed
from sweatline.diagnosis.weighing import Weighing
from sweatline.errors import JobError
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.log.channels import CHANNELS
from sweatline.safety.cautions import Caution, Work, cautions_of
from sweatline.units import Kind

FloatArray = NDArray[np.float64]

_NAMED: Final = 0.8  # chance from which a cause is called what is wrong
_NOT_WORTH: Final = 0.02  # chance below which a cause is not told
_MOST: Final = 6  # causes told
_SPEAKS: Final = 0.5  # of ln odds, from which a reading speaks for or against
_NINE_TENTHS: Final = 1.645

Certainty = Literal["named", "likely", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect(Answer):
    """One thing that may be wrong."""

    key: str
    """Of the cause."""
    channels: tuple[str, ...]
    """Instruments that it is about."""
    name: str
    probability: float
    """That it is there, alone or with another."""
    before: float
    """The same before any reading."""
    alone: float
    """That it is there and nothing else."""
    beside: str
    """What is most likely wrong as well, where that is likelier than this one alone; else empty."""
    size: Range | None
    """Its size as a ratio; null where it has none."""
    size_in_words: str
    speaks_for: tuple[str, ...]
    """Readings that make it likelier than nothing being wrong."""
    speaks_against: tuple[str, ...]
    what_to_do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingHeld(Answer):
    """One reading against what the machine shows when nothing is wrong."""

    channel: str
    kind: Kind
    read_SI: float
    sd_SI: float
    """Of its instrument, and of what has not settled."""
    in_order_SI: Range
    """What it shows in a machine that is in order."""
    explained_SI: Range
    """What the likeliest cause leads one to expect."""
    off: float
    """From the middle of a machine in order, in standard deviations of the difference."""
    left: float
    """The same from what the likeliest cause explains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition(Answer):
    """One property of the machine, before and after the readings."""

    key: str
    name: str
    before: Range
    """Of its best value, as a ratio."""
    after: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis(Answer):
    """What is wrong with a machine, by its readings."""

    answer: str
    """In one sentence."""
    certainty: Certainty
    suspects: tuple[Suspect, ...]
    """The likeliest first."""
    next_readings: tuple[NextReading, ...]
    """What to measure next, what tells most for its trouble first."""
    contradictions: tuple[Contradiction, ...]
    """Readings that cannot be right together."""
    readings: tuple[ReadingHeld, ...]
    conditions: tuple[Condition, ...]
    charge: Annotated[Range, Q("mass", doc="In the machine, by all readings together.")]
    right_charge: Annotated[Range, Q("mass", doc="That fills its evaporator in the job's room.")]
    notes: tuple[str, ...]
    build: Annotated[Build, Hidden()] = field(repr=False)

    @property
    def job(self) -> Annotated[JobSummary, Shown()]:
        """The job the answer is about."""
        return summary_of(self.build.job)

    @property
    def parts(self) -> Annotated[Parts, Shown()]:
        """The parts, with the length of the capillary."""
        return self.build.parts

    @property
    def cautions(self) -> Annotated[tuple[Caution, ...], Shown()]:
        """Of the work that the likeliest causes ask for. Local codes decide."""
        work: set[Work] = {"running"}
        for one in self.suspects[:2]:
            work |= CAUSES[one.key].work
        clear = cautions_clear(self.build, self.charge.middle)
        return cautions_of([self.build.refrigerant.name], work=work, clear=clear)


def diagnose(
    build: Build,
    readings: Sequence[Reading],
    *,
    well: Sequence[Reading] = (),
    notes: Sequence[str] = (),
    ruled_out: Collection[str] = (),
    charged: bool = True,
    pairs: bool = True,
    progress: Callable[[float], None] | None = None,
) -> Diagnosis:
    """What is wrong with a machine by its readings.

    Parameters
    ----------
    readings : sequence of Reading
        At most one of each channel, of a machine that runs steadily.
    well : sequence of Reading
        Of the same machine when it ran well.
    ruled_out : collection of str
        What was looked at and is in order, as a log calls it.
    charged : bool
        Whether it should be charged right.
    pairs : bool
        Whether two causes at once are weighed too.

    Raises
    ------
    JobError
        Nothing was read that shows anything of the machine.
    SolveError
        No charge fills the evaporator of these parts.
    """
    told = [r for r in readings if r.channel in SHOWS]
    if not any(r.channel not in ("air in", "room humidity") for r in told):
        raise JobError(
            what="nothing was read of the machine itself",
            read="; ".join(dict.fromkeys(notes)),  # why what was written does not count
            allowed="read a gauge, a thermometer on a tube, or the watts: " + ", ".join(SHOWS),
        )
    room = {r.channel: r.value for r in told}
    atlas = atlas_of(
        build,
        room_temperature=room.get("air in"),
        room_humidity=room.get("room humidity"),
        progress=progress,
    )
    if well:
        atlas = taught(build, atlas, well)
    weighing = Weighing(atlas, charged=charged)
    return held(build, weighing, told, notes=notes, ruled_out=ruled_out, pairs=pairs)


def taught(build: Build, atlas: Atlas, well: Sequence[Reading]) -> Atlas:
    """The atlas with what a round says that was read when the machine ran well.

    Raises
    ------
    SolveError
        No charge fills the evaporator of these parts.
    """
    told = [r for r in well if r.channel in SHOWS]
    room = {r.channel: r.value for r in told}
    then = atlas_of(
        build,
        room_temperature=room.get("air in"),
        room_humidity=room.get("room humidity"),
    )
    return narrowed(atlas, told, then=then)


def held(
    build: Build,
    weighing: Weighing,
    readings: Sequence[Reading],
    *,
    notes: Sequence[str] = (),
    ruled_out: Collection[str] = (),
    pairs: bool = True,
) -> Diagnosis:
    """The same with what was worked out before any reading."""
    weighed = weighing.weigh(readings, pairs=pairs, ruled_out=ruled_out)
    suspects = _suspects(weighed)
    best = weighed.grids[int(np.argmax(weighed.chance))]
    asked = next_readings(weighing, weighed, readings)
    share = weighed.of_trait("charge", minus_share=True).range()
    charge = weighed.of_trait("charge").range()
    return Diagnosis(
        answer=_sentence(suspects, asked),
        certainty=_certainty(suspects),
        suspects=suspects,
        next_readings=asked,
        contradictions=contradictions_in(build, readings),
        readings=_held(weighed, best),
        conditions=_conditions(weighed),
        charge=_exp(charge),
        right_charge=_exp(share),
        notes=tuple(notes),
        build=build,
    )


def _exp(r: Range) -> Range:
    return Range(low=math.exp(r.low), middle=math.exp(r.middle), high=math.exp(r.high))


def _certainty(suspects: Sequence[Suspect]) -> Certainty:
    first = suspects[0].probability
    if first >= _NAMED:
        return "named"
    return "likely" if first >= 0.5 else "open"


def _sentence(suspects: Sequence[Suspect], asked: Sequence[NextReading]) -> str:
    """The answer, in one sentence of the trade."""
    first = suspects[0]
    telling = f"; {asked[0].how} to tell" if asked else ""
    certainty = _certainty(suspects)
    chance = f"{100.0 * first.probability:.0f} in 100"
    name = first.name[:1].upper() + first.name[1:]
    if certainty == "named":
        size = f": {first.size_in_words}" if first.size_in_words else ""
        both = [s for s in suspects[1:] if s.probability >= 0.5 and s.name == first.beside]
        also = f", and {first.beside}" if both else ""
        return f"{name}{also} ({chance}){size}"
    others = [s for s in suspects[1:] if s.probability >= 0.15][:2]
    if certainty == "likely" or not others:
        other = f", else {others[0].name}" if others else ""
        return f"Probably {first.name} ({chance}){other}{telling}"
    names = " or ".join(s.name for s in (first, *others))
    return f"These readings do not decide between {names}{telling}"


def named(cause: Cause, channels: Sequence[str]) -> str:
    """Name of a cause with the instruments that it is about."""
    return cause.name.format(" and ".join(channels))


def _suspects(weighed: Weighed) -> tuple[Suspect, ...]:
    present, usual = weighed.present(), weighed.present(before=True)
    grids = {
        (g.hypothesis.causes, g.hypothesis.channels): (g, float(c))
        for g, c in zip(weighed.grids, weighed.chance, strict=True)
    }
    nothing = grids[(), ()][0]
    found: list[Suspect] = []
    for (key, about), chance in present.items():
        if found and (chance < _NOT_WORTH or len(found) >= _MOST):
            break
        cause = CAUSES[key]
        own = () if key == "nothing" else (key,)
        grid, alone = grids[own, about]
        beside = _beside(weighed, key, about, alone)
        sizes = weighed.of_size(key)
        size = sizes.range() if sizes else None
        words = ""
        if size is not None and cause.size_means:
            low, middle, high = (f"{100.0 * v:.0f}" for v in (size.low, size.middle, size.high))
            words = f"{cause.size_means.format(f'{middle} %')} ({low} to {high} %)"
        speaks = _speaks(grid, nothing, weighed.readings)
        found.append(
            Suspect(
                key=key,
                channels=about,
                name=named(cause, about),
                probability=chance,
                before=usual[key, about],
                alone=alone,
                beside=beside,
                size=size,
                size_in_words=words,
                speaks_for=tuple(c for c, v in speaks if v > _SPEAKS),
                speaks_against=tuple(c for c, v in reversed(speaks) if v < -_SPEAKS),
                what_to_do=cause.do.format(" and ".join(about)),
            )
        )
    return tuple(found)


def _beside(weighed: Weighed, key: str, about: tuple[str, ...], alone: float) -> str:
    """The cause that stands beside this one more often than it stands alone."""
    with_it: dict[tuple[str, tuple[str, ...]], float] = {}
    for g, c in zip(weighed.grids, weighed.chance, strict=True):
        h = g.hypothesis
        if key not in h.causes or len(h.causes) < 2:
            continue
        if CAUSES[key].part == "instrument" and h.channels != about:
            continue
        other = next(o for o in h.causes if o != key)
        channels = h.channels if CAUSES[other].part == "instrument" else ()
        with_it[other, channels] = with_it.get((other, channels), 0.0) + float(c)
    if not with_it:
        return ""
    (other, channels), chance = max(with_it.items(), key=lambda item: item[1])
    return named(CAUSES[other], channels) if chance > alone else ""


def _speaks(grid: Grid, nothing: Grid, readings: Sequence[Reading]) -> list[tuple[str, float]]:
    """Readings by how much each, given the others, speaks for a cause; what speaks for it first."""
    gain = grid.left_out() - nothing.left_out()
    return sorted(
        ((r.channel, float(v)) for r, v in zip(readings, gain, strict=True)),
        key=lambda item: -item[1],
    )


def _held(weighed: Weighed, best: Grid) -> tuple[ReadingHeld, ...]:
    nothing = next(g for g in weighed.grids if not g.hypothesis.causes)
    found = []
    for j, r in enumerate(weighed.readings):
        before, before_sd = nothing.foretold(j)
        after, after_sd = best.explained(j)
        logarithm = SHOWS[r.channel].logarithm
        own = r.error
        found.append(
            ReadingHeld(
                channel=r.channel,
                kind=CHANNELS[r.channel].kind,
                read_SI=r.value,
                sd_SI=r.sd,
                in_order_SI=_around(before, math.sqrt(max(before_sd**2 - own**2, 0.0)), logarithm),
                explained_SI=_around(after, after_sd, logarithm),
                off=(r.y - before) / before_sd,
                left=(best.given[j] - after) / math.hypot(after_sd, own),
            )
        )
    return tuple(found)


def _around(middle: float, sd: float, logarithm: bool) -> Range:
    low, high = middle - _NINE_TENTHS * sd, middle + _NINE_TENTHS * sd
    r = Range(low=low, middle=middle, high=high)
    return _exp(r) if logarithm else r


_CONDITIONS: Final[Mapping[str, str]] = {
    "airflow": "airflow",
    "evaporator surface": "heat transfer on the evaporator's air side",
    "condenser surface": "heat transfer on the condenser's air side",
    "pumping": "what the compressor sweeps and fills",
    "tube": "what the capillary passes",
}


def _conditions(weighed: Weighed) -> tuple[Condition, ...]:
    nothing = next(g for g in weighed.grids if not g.hypothesis.causes)
    found = []
    for key, name in _CONDITIONS.items():
        middle, sd = nothing.trait(key)
        after = weighed.of_trait(key).range()
        found.append(
            Condition(
                key=key,
                name=name,
                before=_exp(Range(low=-_NINE_TENTHS * sd, middle=0.0, high=_NINE_TENTHS * sd)),
                after=_exp(
                    Range(
                        low=after.low - middle,
                        middle=after.middle - middle,
                        high=after.high - middle,
                    )
                ),
            )
        )
    return tuple(found)
