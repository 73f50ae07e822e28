r"""A vacuum shut off from the pump and watched: leak, moisture, gas from oil and walls, or none.

Each cause has its own course,

    none        p0
    leak        p0 + r t
    moisture    p0 + a (1 - exp(-t/tau)), a towards the vapour pressure of water at the wall
    outgassing  p0 + a ln(1 + t/tau), ever slower without a plateau

or a leak together with gas. The probability of each follows by Bayes from its likelihood averaged
over wide priors of its numbers, so a cause with more freedom has to earn it.
Below: an evacuation and its rise as a log has them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Hidden, Q, need
from sweatline.bench.answer import check_later
from sweatline.bench.leak_channel import even_samples
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
Cause = Literal["none", "leak", "moisture", "outgassing"]

# Chances before the test, judged: most circuits that come so far are tight and nearly dry.
PRIORS: Final = {"none": 0.40, "leak": 0.20, "moisture": 0.20, "outgassing": 0.15, "both": 0.05}

_SLOW, _FAST = 20.0, 14400.0  # s, range of tau
_SCATTERED: Final = 30_000
FEWEST: Final = 3  # readings
_ENOUGH: Final = 40  # readings
_LIKELY: Final = 0.75
_WALL: Final = 0.15  # relative spread of a plateau of free water: 2 K of wall temperature

_DO: Final[dict[str, str]] = {
    "none": "Break the vacuum with refrigerant vapour and charge.",
    "leak": "Break the vacuum with dry nitrogen and look for the leak under pressure. Valves, "
    "hoses and their seals come first, for they leak more often than the machine. Pumping longer "
    "does not help.",
    "moisture": "Break the vacuum with dry nitrogen, warm the cold places of the circuit, and "
    "pump again from both sides with gas ballast open. A new drier goes in last. When the water "
    "froze, let it thaw under nitrogen first.",
    "outgassing": "Pump on with the shell warm, shut off and read again. The rise must become "
    "slower each time.",
    "undecided": "Read on before doing anything.",
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
    probability: dict[Cause, float]
    likeliest: Literal["none", "leak", "moisture", "outgassing", "undecided"]
    """Undecided while no cause has three chances in four."""
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
        Q("time", doc="Since the valve was shut: when the two likeliest causes will differ."),
    ]
    time: Annotated[FloatArray, Hidden()]  # (n,) s, of the looks since the first
    pressure: Annotated[FloatArray, Hidden()]  # (n,) Pa, at them
    later: Annotated[FloatArray, Hidden()]  # (k,) s, of the courses, from the first look on
    courses: Annotated[dict[Cause, FloatArray], Hidden()]  # (k,) Pa, mean of each cause

    @property
    def what_to_do(self) -> Annotated[str, "part of the answer"]:
        """Next step for the likeliest cause."""
        return _DO[self.likeliest]


@dataclass(frozen=True, slots=True)
class _Model:
    """Curves of a cause over a grid of its numbers, with their prior weights."""

    curves: FloatArray  # (m, n) rises at the readings
    weights: FloatArray  # (m,)
    later: FloatArray  # (m, k) rises at times to come
    rates: FloatArray  # (m,) Pa/s of the leak


def read_rise(
    readings: Sequence[RiseReading],
    *,
    water_pressure: float,
    gauge_share: float = 0.05,
    gauge_floor: float = 1.3,
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
    sigma = np.hypot(gauge_share * p, gauge_floor)
    t, p, sigma = _thinned(t, p, sigma)
    later = t[-1] * np.geomspace(1.05, 50.0, 60)
    models = _models(t, later, float(t[-1]), float(p[0]), water_pressure, gauge_floor)
    logs = {name: _log_likelihoods(m.curves, p, sigma) for name, m in models.items()}
    top = max(float(v.max()) for v in logs.values())
    mass = {name: models[name].weights * np.exp(logs[name] - top) for name in models}
    total = {name: PRIORS[name] * float(m.sum()) for name, m in mass.items()}
    whole = sum(total.values())
    probability: dict[Cause, float] = {
        "none": total["none"] / whole,
        "leak": (total["leak"] + total["both"]) / whole,
        "moisture": total["moisture"] / whole,
        "outgassing": total["outgassing"] / whole,
    }
    best = max(probability, key=lambda cause: probability[cause])
    return RiseResult(
        probability=probability,
        likeliest=best if probability[best] >= _LIKELY else "undecided",
        leak_rates=_sampled_rates(models, mass, samples),
        plateau=_plateau(models["moisture"], mass["moisture"], float(p[0]))
        if probability["moisture"] > 0.02
        else None,
        decide_after=_decide(models, mass, total, later, p[0], gauge_share, gauge_floor),
        first=float(p[0]),
        last=float(p[-1]),
        duration=float(t[-1]),
        time=t,
        pressure=p,
        later=np.concatenate([t, later]),
        courses={cause: _course(models[cause], mass[cause], float(p[0])) for cause in probability},
    )


def _course(model: _Model, mass: FloatArray, first: float) -> FloatArray:
    """Mean course of a cause, at the looks and after them. [Pa]"""
    rises = np.concatenate([model.curves, model.later], axis=1)
    return np.asarray(first + mass @ rises / max(float(mass.sum()), 1e-300))


def _thinned(
    t: FloatArray, p: FloatArray, sigma: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Means of neighbours where there are more readings than the courses need."""
    if t.size <= _ENOUGH:
        return t, p, sigma
    groups = np.array_split(np.arange(1, t.size), _ENOUGH - 1)
    mean = [np.concatenate([v[:1], [v[g].mean() for g in groups]]) for v in (t, p, sigma)]
    count = np.array([1.0] + [float(g.size) for g in groups])
    return mean[0], mean[1], mean[2] / np.sqrt(count)


def _models(
    t: FloatArray, later: FloatArray, span: float, first: float, water: float, floor: float
) -> dict[str, _Model]:
    # The steps must be finer than what the readings fix: a size to some 3 per cent, tau to 12.
    tau = np.geomspace(_SLOW, _FAST, 56)
    # A leak is one that the watch could show: from the gauge's noise to some tenths of an
    # atmosphere. Less than that is none, with gas or without.
    sizes = np.geomspace(floor, 3e4, 320)
    gases = np.geomspace(0.1 * floor, 3e3, 240)
    rates = sizes / span

    def grid(*axes: FloatArray) -> tuple[FloatArray, ...]:
        points = np.array(list(itertools.product(*axes)))
        return tuple(points[:, i] for i in range(points.shape[1]))

    def made(rise: tuple[FloatArray, FloatArray], weights: FloatArray, slope: FloatArray) -> _Model:
        return _Model(curves=rise[0], weights=weights / weights.sum(), later=rise[1], rates=slope)

    found: dict[str, _Model] = {}
    zero = np.zeros(1)
    found["none"] = made((np.zeros((1, t.size)), np.zeros((1, later.size))), np.ones(1), zero)
    found["leak"] = made((np.outer(rates, t), np.outer(rates, later)), np.ones(rates.size), rates)
    # Free water goes for its vapour pressure; a film or what the oil lets go stops below it.
    plateau = max(water - first, 0.05 * water)
    z = np.linspace(-2.5, 2.5, 41)
    near = plateau * np.exp(_WALL * z)
    near_weight = np.exp(-0.5 * z**2)
    below = np.geomspace(floor, plateau, 160)
    a = np.concatenate([near, below])
    a_weight = np.concatenate([0.6 * near_weight / near_weight.sum(), np.full(160, 0.4 / 160)])
    aa, tt = grid(a, tau)
    ww = np.repeat(a_weight, tau.size)
    found["moisture"] = made(_saturating(aa, tt, t, later), ww, np.zeros(aa.size))
    aa, tt = grid(gases, tau)
    found["outgassing"] = made(_logarithmic(aa, tt, t, later), np.ones(aa.size), np.zeros(aa.size))
    # Three numbers at once: evenly scattered points, since a coarse grid would favour its nodes.
    u = even_samples(_SCATTERED, 3)
    rr, aa, tt = (
        axis[0] * (axis[-1] / axis[0]) ** u[:, i] for i, axis in enumerate((rates, gases, tau))
    )
    gas = _logarithmic(aa, tt, t, later)
    found["both"] = made(
        (gas[0] + np.outer(rr, t), gas[1] + np.outer(rr, later)), np.ones(rr.size), rr
    )
    return found


def _saturating(
    a: FloatArray, tau: FloatArray, t: FloatArray, later: FloatArray
) -> tuple[FloatArray, FloatArray]:
    def at(x: FloatArray) -> FloatArray:
        return np.asarray(a[:, None] * -np.expm1(-x[None, :] / tau[:, None]))

    return at(t), at(later)


def _logarithmic(
    a: FloatArray, tau: FloatArray, t: FloatArray, later: FloatArray
) -> tuple[FloatArray, FloatArray]:
    def at(x: FloatArray) -> FloatArray:
        return np.asarray(a[:, None] * np.log1p(x[None, :] / tau[:, None]))

    return at(t), at(later)


def _log_likelihoods(curves: FloatArray, p: FloatArray, sigma: FloatArray) -> FloatArray:
    """Gaussian, with the pressure at the start integrated out under a wide prior."""
    w = 1.0 / sigma**2
    r = p[None, :] - curves - p[0]
    wide = (3.0 * sigma[0]) ** 2
    weighted = r @ w
    chi = (r * r) @ w - weighted**2 * wide / (1.0 + wide * w.sum())
    return np.asarray(-0.5 * chi)


def _sampled_rates(
    models: dict[str, _Model], mass: dict[str, FloatArray], samples: int
) -> FloatArray:
    """Rates of a leak as the two causes with one have them, evenly in probability."""
    rates = np.concatenate([models["leak"].rates, models["both"].rates])
    weight = np.concatenate([PRIORS["leak"] * mass["leak"], PRIORS["both"] * mass["both"]])
    order = np.argsort(rates, kind="stable")
    share = np.cumsum(weight[order])
    if share[-1] <= 0.0:
        return np.full(samples, float(rates.min()))
    at = (np.arange(samples) + 0.5) / samples
    middle = (share - 0.5 * weight[order]) / share[-1]
    return np.asarray(np.exp(np.interp(at, middle, np.log(rates[order]))))


def _plateau(model: _Model, mass: FloatArray, first: float) -> float:
    """Mean level at which moisture would stop, by the longest time looked at."""
    return first + float(mass @ model.later[:, -1] / mass.sum())


def _decide(
    models: dict[str, _Model],
    mass: dict[str, FloatArray],
    total: dict[str, float],
    later: FloatArray,
    first: float,
    share: float,
    floor: float,
) -> float | None:
    """When the mean courses of the two likeliest causes will be three gauge errors apart."""
    one, other = sorted(total, key=lambda name: -total[name])[:2]
    if total[other] < 0.05 * total[one]:
        return None
    mean = [
        mass[name] @ models[name].later / max(float(mass[name].sum()), 1e-300)
        for name in (one, other)
    ]
    apart = np.abs(mean[0] - mean[1])
    noise = np.hypot(share * (first + np.maximum(mean[0], mean[1])), floor)
    clear = np.flatnonzero(apart > 3.0 * noise)
    return float(later[clear[0]]) if clear.size and math.isfinite(later[clear[0]]) else None


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
