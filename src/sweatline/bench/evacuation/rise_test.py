"""A vacuum shut off from the pump and watched: leak, moisture, gas from oil and walls, or none.

What may have made the rise stands in `rise_causes`; here it is told what that comes to: a chance
for every cause, alone and together, the rate of a leak if there is one, and what to do. No pumping
is advised where a leak is likely, and a gauge that falls proves nothing.
Below: an evacuation and its rise as a log has them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Hidden, Q, need
from sweatline.bench.answer import check_later
from sweatline.bench.evacuation.rise_causes import (
    Causes,
    Gauge,
    Prior,
    believed,
    causes_of,
)
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, OutOfRange
from sweatline.log.entries import Entry
from sweatline.log.extract import (
    Book,
    Found,
    Logged,
    clock,
    error_of,
    numbers,
    of_kind,
    repeats_of,
    scale_of,
    stretch,
)

FloatArray = NDArray[np.float64]
Cause = Literal["none", "leak", "leak and moisture", "moisture", "outgassing"]
Verdict = Cause | Literal["undecided", "fell"]

FEWEST: Final = 3  # readings
_ENOUGH: Final = 24  # readings
_LIKELY: Final = 0.75
_NOT_LIKELY: Final = 0.15  # chance of a leak below which pumping may be advised
_LEVELLED: Final = 0.65  # share of its plateau at which a rise has shown that it levels off
_FALL: Final = 3.5  # standard deviations of two looks
# When a rise may be looked at last. [s] Half a day is as long as one waits.
_ENDS: Final = 60.0 * np.array([15, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480, 720.0])
_SOONEST: Final = 1.3  # of the watch so far
_WORTH: Final = 0.7  # chance of a verdict for which one waits
_TRIED: Final = 40  # points taken for the truth
_THINNED: Final = 4  # of so many points one is weighed
_FEW: Final = 10  # points of the posterior, too few to say anything of

_NITROGEN = "Break the vacuum with dry nitrogen"
_DO: Final[dict[Verdict, str]] = {
    "none": "Break the vacuum with refrigerant vapour and charge.",
    "leak": f"{_NITROGEN} and look for the leak under pressure. Valves, hoses and their seals come "
    "first, for they leak more often than the machine. Pumping longer does not help.",
    "leak and moisture": f"{_NITROGEN} and look for the leak under pressure first, hoses and "
    "valves before the machine; pumping does not help before it is mended. Then pump out the water "
    "with the cold places warmed, and put in a new drier last.",
    "moisture": f"{_NITROGEN}, warm the cold places of the circuit, and pump again from both sides "
    "with gas ballast open. A new drier goes in last. When the water froze, let it thaw under "
    "nitrogen first. If it rises again as fast, test it under pressure: water hides a small leak.",
    "outgassing": "Pump on from both sides with the shell warm, shut off and read again. The rise "
    "must become slower each time.",
    "undecided": "Read on before doing anything.",
    "fell": "The pump may still draw on it, or gas spreads from one side to the other. See that "
    "the valve between pump and gauge is shut, wait until the gauge no longer falls, and read "
    "three times or more from there on.",
}
_WET_AND_PERHAPS_LEAKING: Final = (
    "There is water inside, and a leak beside it is not out of the question. Read on until it "
    f"levels off, which a leak does not. Or: {_NITROGEN.lower()} and test it under pressure before "
    "pumping again; the nitrogen takes up water meanwhile."
)
# Where reading on would not decide, a pressure test does; and by it the rest is known.
_TEST_IT: Final = (
    f"Reading on decides late or not at all, for a leak beside the rest shows little. {_NITROGEN} "
    "and test it under pressure; where the gauge would take days, seek the leak with bubbles or a "
    "detector. If it holds, "
)
_IF_IT_HOLDS: Final[dict[Cause, str]] = {
    "none": "it is tight and dry: pump down again and charge.",
    "moisture": "the rise is water: warm the cold places of the "
    "circuit, pump again from both sides with gas ballast open, and put in a new drier last.",
    "outgassing": "the rise is gas out of oil and walls: pump again from both sides with the shell "
    "warm.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RiseReading:
    """One look at the vacuum gauge after the valve was shut."""

    time: float = need("Since then.", "time", 0.0, 3e6)  # s
    pressure: float = need("At the gauge.", "absolute pressure", 0.01, 1.2e5)  # Pa

    def check(self, before: RiseReading | None) -> None:
        """Refuse a reading that is not later than the one before it."""
        if before is not None:
            check_later(self.time, before.time)


@dataclass(frozen=True, slots=True, kw_only=True)
class RiseResult(Answer):
    """A vacuum shut off and watched: its causes with their chances."""

    first: Annotated[float, Q("absolute pressure")]
    last: Annotated[float, Q("absolute pressure")]
    duration: Annotated[float, Q("time")]
    fell: bool
    """The gauge fell at first; what is told rests on the readings after that."""
    probability: dict[Cause, float]
    """Of each cause or pair, gas from oil and walls being with any of them."""
    leak: float
    """Chance of a leak, with moisture or without, above what is allowed and what could show."""
    unseen: Annotated[float, Hidden()]  # Pa/s, rise by a leak that would not show
    likeliest: Verdict
    """Undecided while nothing has three chances in four."""
    leak_rates: Annotated[FloatArray, Hidden()]  # (n,) Pa/s, samples of the rise, given a leak
    plateau: Annotated[
        float | None,
        Q(
            "absolute pressure",
            doc="Where moisture would stop; null when it is out of the question.",
        ),
    ]
    decide_after: Annotated[
        float | None,
        Q(
            "time",
            doc="Since the valve was shut: three more looks spread until then will likely decide; "
            "null when the verdict stands, when half a day would not bring one, and when another "
            "step is sooner done.",
        ),
    ]
    decide_chance: float | None
    """That they do."""
    time: Annotated[FloatArray, Hidden()]  # (n,) s, of the looks since the first
    pressure: Annotated[FloatArray, Hidden()]  # (n,) Pa, at them
    later: Annotated[FloatArray, Hidden()]  # (k,) s, of the courses, from the first look on
    courses: Annotated[dict[Cause, FloatArray], Hidden()]  # (k,) Pa, mean of each cause

    @property
    def what_to_do(self) -> Annotated[str, "part of the answer"]:
        """Next step for the likeliest cause."""
        if self.likeliest != "undecided":
            return _DO[self.likeliest]
        if self.decide_after is None:
            return _TEST_IT + _IF_IT_HOLDS[max(_IF_IT_HOLDS, key=lambda c: self.probability[c])]
        wet = self.probability["moisture"] + self.probability["leak and moisture"]
        return _WET_AND_PERHAPS_LEAKING if wet >= _LIKELY else _DO["undecided"]

    @property
    def chance(self) -> float | None:
        """Of what is likeliest; None where nothing is."""
        if self.likeliest == "undecided" or self.likeliest == "fell":
            return None
        return self.leak if "leak" in self.likeliest else self.probability[self.likeliest]


def read_rise(
    readings: Sequence[RiseReading],
    *,
    water_pressure: float,
    gauge_share: float = 0.05,
    gauge_floor: float = 1.3,
    allowed: float = 0.0,
    atmosphere: float = STANDARD_ATMOSPHERE,
    samples: int = 128,
) -> RiseResult:
    """Probabilities of the causes of a rise.

    Parameters
    ----------
    readings : sequence of RiseReading
        Three or more, in the order of time.
    water_pressure : float
        Saturation pressure of water at the temperature of the walls. [Pa]
    gauge_share : float
        How well the gauge repeats, relative. [-]
    gauge_floor : float
        Its noise at the lowest pressure. [Pa]
    allowed : float
        Rate of a rise by a leak that does not matter. [Pa/s] One that the watch could not show,
        less than an error of the gauge, never counts.
    atmosphere : float
        Outside. [Pa]
    samples : int
        Of the rate of a leak.

    Raises
    ------
    OutOfRange
        Fewer than three readings, readings out of order, or a pressure that is not positive.
    """
    t = np.array([r.time for r in readings], float)
    p = np.array([r.pressure for r in readings], float)
    if t.size < FEWEST or np.any(np.diff(t) <= 0.0):
        raise OutOfRange("a rise test needs three readings or more, each later than the one before")
    if not np.all(p > 0.0):
        raise OutOfRange("a pressure in a rise test must be above zero")
    t = t - t[0]
    t, p, often = _thinned(t, p)
    start = _lowest(p, np.hypot(gauge_share * p, gauge_floor) / np.sqrt(often))
    looks, shown, began, first = t, p, float(t[start]), float(p[start])
    t, p, often = t[start:] - began, p[start:], often[start:]
    plateau = max(water_pressure - first, 0.05 * water_pressure)
    span = max(float(t[-1]), 1.0)
    prior = Prior(floor=gauge_floor, plateau=plateau, span=span)
    too_few = t.size < FEWEST
    gauge = Gauge(share=gauge_share, floor=gauge_floor)
    if too_few:
        found = believed(prior, atmosphere=atmosphere)
    else:
        found = causes_of(t, p, gauge=gauge, prior=prior, atmosphere=atmosphere, looks=often)
    unseen = math.hypot(gauge_share * float(p[-1]), gauge_floor) / span
    leaks = found.rate >= max(allowed, unseen)
    even = np.full(leaks.size, 1.0 / leaks.size)
    probability, leak, likeliest = _read(found, even, leaks, span)
    if too_few:
        likeliest = "fell"
    later = span * np.geomspace(1.05, 50.0, 60)
    rises = found.rises(np.concatenate([t, later]))
    courses = {c: first + _mean(rises, here) for c, here in _classes(found, leaks).items()}
    decides = None
    if likeliest == "undecided":
        decides = _decide(found, first=first, span=span, gauge=gauge, allowed=allowed)
    wet = float(found.wet.mean())
    return RiseResult(
        first=float(shown[0]),
        last=float(p[-1]),
        duration=float(looks[-1]),
        fell=start > 0,
        probability=probability,
        leak=leak,
        likeliest=likeliest,
        unseen=unseen,
        leak_rates=_rates(found.rate[leaks], samples, unseen),
        plateau=first + float(found.moisture[found.wet].mean()) if wet > 0.02 else None,
        decide_after=None if decides is None else readings[0].time + began + decides[0],
        decide_chance=None if decides is None else decides[1],
        time=looks,
        pressure=shown,
        later=began + np.concatenate([t, later]),
        courses=courses,
    )


def _lowest(p: FloatArray, sigma: FloatArray) -> int:
    """From which look on a rise is read: the first, or where a gauge that fell came to its end."""
    low = int(np.argmin(p))
    if p[0] - p[low] <= _FALL * math.hypot(sigma[0], sigma[low]):
        return 0
    return int(np.flatnonzero(p <= p[low] + 2.0 * sigma[low])[0])


def _classes(found: Causes, leaks: NDArray[np.bool_]) -> dict[Cause, NDArray[np.bool_]]:
    """Which points of the posterior belong to which cause; each to one."""
    dry = ~found.wet
    return {
        "none": ~leaks & dry & ~found.gassy,
        "leak": leaks & dry,
        "leak and moisture": leaks & found.wet,
        "moisture": ~leaks & found.wet,
        "outgassing": ~leaks & dry & found.gassy,
    }


def _verdict(probability: dict[Cause, float], leak: float, *, levelled: float) -> Verdict:
    """What is likely enough to act on; pumping is none of it where a leak may be behind the rise.

    Slow water and a leak beside a film make the same bend, and only the plateau tells them apart.
    """
    if leak >= _LIKELY:
        wet = probability["leak and moisture"]
        return "leak and moisture" if wet > 0.5 * leak else "leak"
    tight: tuple[Cause, ...] = ("none", "moisture", "outgassing")
    best = max(tight, key=lambda c: probability[c])
    bends_only = best == "moisture" and levelled < _LEVELLED
    if probability[best] >= _LIKELY and leak < _NOT_LIKELY and not bends_only:
        return best
    return "undecided"


def _mean(rises: FloatArray, here: NDArray[np.bool_]) -> FloatArray:
    """Mean course of the points of a cause; of all where hardly one is of it. [Pa]"""
    return np.asarray(rises[here if here.sum() >= _FEW else slice(None)].mean(axis=0))


def _rates(rates: FloatArray, samples: int, unseen: float) -> FloatArray:
    """Rates of a leak, evenly in probability and rising. [Pa/s]"""
    if rates.size == 0:
        return np.full(samples, unseen)
    at = (np.arange(samples) + 0.5) / samples
    return np.asarray(np.exp(np.quantile(np.log(rates), at)))


def _thinned(t: FloatArray, p: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Means of neighbours where there are more readings than the courses need, and of how many."""
    if t.size <= _ENOUGH:
        return t, p, np.ones(t.size)
    groups = [np.array([0]), *np.array_split(np.arange(1, t.size), _ENOUGH - 1)]
    means = [np.array([v[g].mean() for g in groups]) for v in (t, p)]
    return means[0], means[1], np.array([float(g.size) for g in groups])


def _decide(
    found: Causes, *, first: float, span: float, gauge: Gauge, allowed: float
) -> tuple[float, float] | None:
    """When to look last, since the start, so that a verdict is likely; and how likely.

    Points of the posterior are taken for the truth in turn, and it is counted how often three more
    looks would bring a verdict.
    """
    found = replace(found, numbers=found.numbers[::_THINNED])
    truths = np.linspace(0, found.rate.size - 1, _TRIED).astype(int)
    for end in _ENDS[_SOONEST * span <= _ENDS]:
        looks = span + (end - span) * np.array([1.0, 2.0, 3.0]) / 3.0
        shown, weights = found.weighed_by_more(
            looks, first=first, gauge=gauge, truths=truths, seed=0
        )
        unseen = np.hypot(gauge.share * shown[:, -1], gauge.floor) / end
        decided = sum(
            _read(found, w, found.rate >= max(allowed, least), end)[2] != "undecided"
            for w, least in zip(weights, unseen, strict=True)
        )
        if decided >= _WORTH * truths.size:
            return float(end), decided / truths.size
    return None


def _read(
    found: Causes, weights: FloatArray, leaks: NDArray[np.bool_], span: float
) -> tuple[dict[Cause, float], float, Verdict]:
    """Chances of the causes and of a leak, and what they come to, by weights of the points."""
    probability = {cause: float(weights @ here) for cause, here in _classes(found, leaks).items()}
    leak = float(weights @ leaks)
    levelled = found.levelled(span, weights)
    return probability, leak, _verdict(probability, leak, levelled=levelled)


def vacuum_in(book: Book, *, alone: bool) -> Logged:
    """The last evacuation of a log: what the vacuum gauge showed pumping, and shut off.

    Times count since the pump was started and since it was shut off.

    Parameters
    ----------
    alone : bool
        Whether only a rise in the log can answer.

    Raises
    ------
    JobError
        The log has none, or no look at the vacuum gauge since; or no rise, and it is needed.
    """
    pumping = stretch(book.held, "evacuating")
    if pumping is None:
        raise JobError(
            what="the log does not say that the circuit was evacuated",
            allowed="record when the pump was started, as `sweatline log event LOG evacuating`, or "
            "give the readings",
            path=book.path,
        )
    began, after = pumping
    pumped = _looks(began, after)
    shut = stretch(book.held, "isolated")
    rise = None
    if shut is not None and shut[0].happened_at >= began.happened_at:
        rise = _looks(*shut)
    if pumped is None and rise is None:
        raise JobError(
            what=f"no look at the vacuum gauge since the pump was started at {clock(began)}",
            allowed='read it, as `sweatline log read LOG vacuum-gauge "450 micron"`',
            path=book.path,
        )
    entries = {*(pumped.entries if pumped else ()), *(rise.entries if rise else ())}
    gauges = [e for e in book.held if e.id in entries]
    notes = []
    if rise is None and alone:
        raise JobError(
            what="the log does not say that the pump was shut off since it was started, so there "
            "is no rise to read",
            allowed="shut the valve, record `sweatline log event LOG isolated`, and read the "
            "vacuum-gauge; or say which pump and hoses",
            path=book.path,
        )
    if rise is not None and len(rise.value) < FEWEST:
        few = (
            "a rise test needs three looks at the vacuum gauge or more, and since it was shut off "
            f"the log has {len(rise.value)}"
        )
        if alone:
            raise JobError(what=few, allowed="read on", path=book.path)
        notes.append(f"{few}: read on")
        rise = None
    return Logged(
        {
            "pumped": pumped,
            "rise": rise,
            "gauge_share": scale_of(book, gauges),
            "gauge_floor": repeats_of(book, gauges) or error_of(book, gauges),
        },
        notes,
    )


def _looks(began: Entry, after: Sequence[Entry]) -> Found[tuple[RiseReading, ...]] | None:
    rows: dict[float, Entry] = {}
    for e in of_kind(after, "reading", "vacuum gauge"):
        rows[e.happened_at - began.happened_at] = e  # of two at once the later word holds
    if not rows:
        return None
    return Found(
        value=tuple(RiseReading(time=t, pressure=e.number) for t, e in sorted(rows.items())),
        text=f"{len(rows)} {'look' if len(rows) == 1 else 'looks'} since {clock(began)}",
        entries=(began.id, *numbers(rows.values())),
    )
