r"""What to measure next: what each reading not yet taken is expected to tell, against its trouble.

Foretold by every hypothesis, a reading to come has a density. What it tells is by how much it is
expected to lower the doubt between the hypotheses,

.. math:: I = H\left[\sum_h P_h\,p(y \mid h)\right] - \sum_h P_h\,H[p(y \mid h)],

in bits (Lindley, "On a measure of the information provided by an experiment", Annals of
Mathematical Statistics 27, 1956).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Q, Range
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import SHOWS
from sweatline.diagnosis.weighed import Reading, Weighed, Weighted
from sweatline.diagnosis.weighing import Weighing
from sweatline.log.channels import CHANNELS
from sweatline.units import Kind

FloatArray = NDArray[np.float64]

_MOST: Final = 4  # told
_LEAST: Final = 0.03  # bits
_CERTAIN: Final = 0.97  # of the first cause: then nothing is asked for
_SETUP: Final = 3.0  # minutes that any reading takes
_POINTS: Final = 24  # of each hypothesis that are followed


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """How something is read, and how long that takes. [minutes, common practice]"""

    how: str
    minutes: float


_WAYS: Final[Mapping[str, _Way]] = {
    "condenser bend": _Way(
        how="clamp a thermometer on the return bend half way down the condenser and wrap it",
        minutes=5.0,
    ),
    "evaporator bend": _Way(
        how="clamp a thermometer on the return bend half way through the evaporator and wrap it",
        minutes=5.0,
    ),
    "discharge gas": _Way(
        how="clamp a thermometer on the discharge line a hand's breadth from the compressor",
        minutes=5.0,
    ),
    "liquid line": _Way(how="clamp a thermometer on the liquid line and wrap it", minutes=5.0),
    "suction gas": _Way(
        how="clamp a thermometer on the tube at the evaporator's outlet and wrap it", minutes=5.0
    ),
    "return gas": _Way(
        how="clamp a thermometer on the suction line at the compressor and wrap it", minutes=5.0
    ),
    "coil": _Way(how="look for the coldest place of the evaporator", minutes=5.0),
    "air between": _Way(how="hold a thermometer in the air between the coils", minutes=4.0),
    "air out": _Way(how="hold a thermometer in the air that leaves the machine", minutes=2.0),
    "watts": _Way(how="read the watts on a meter in the socket", minutes=3.0),
    "amps": _Way(how="read the amps with a clamp round one wire of the cord", minutes=3.0),
    "suction gauge": _Way(how="read the suction pressure", minutes=10.0),
    "head gauge": _Way(how="read the head pressure", minutes=10.0),
    "water rate": _Way(
        how="catch the water for half an hour, with a cup and a watch", minutes=35.0
    ),
    "standing pressure": _Way(
        how="stop it, wait until both gauges agree and the tubes are at room temperature, and read "
        "the pressure",
        minutes=30.0,
    ),
    "charge weighed": _Way(
        how="recover the charge into an empty cylinder and weigh it", minutes=60.0
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold(Answer):
    """What a reading would show if one cause is what is wrong."""

    cause: str
    expected_SI: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading(Answer):
    """A reading that was not taken, and what it would tell."""

    channel: str
    kind: Kind
    how: str
    trouble: Annotated[float, Q("time", doc="That it takes.")]
    information: float
    """Bits that it is expected to take from the doubt."""
    doubt: float
    """Bits of doubt that there are."""
    separates: tuple[Foretold, ...]
    """What it shows by the causes that it tells apart best."""


def next_readings(
    weighing: Weighing, weighed: Weighed, readings: Sequence[Reading]
) -> tuple[NextReading, ...]:
    """The readings worth taking next, what tells most for its trouble first."""
    groups = _groups(weighed)
    chances = np.array([c for _name, c, _grids in groups])
    if not groups or chances.max() > _CERTAIN:
        return ()
    chances = chances / chances.sum()
    doubt = float(-(chances * np.log2(chances)).sum())
    taken = {r.channel for r in readings}
    found = []
    for channel, way in _WAYS.items():
        if channel in taken:
            continue
        one = _told(weighed, channel, groups, chances)
        if one is None or one[0] < _LEAST:
            continue
        found.append(
            NextReading(
                channel=channel,
                kind=CHANNELS[channel].kind,
                how=way.how,
                trouble=60.0 * way.minutes,
                information=one[0],
                doubt=doubt,
                separates=one[1],
            )
        )
    found.sort(key=lambda n: -n.information / (n.trouble / 60.0 + _SETUP))
    return tuple(found[:_MOST])


_Group = tuple[str, float, list[tuple[int, float]]]


def _groups(weighed: Weighed) -> list[_Group]:
    """Hypotheses by what is wrong with the machine: name, chance, the grids with theirs."""
    found: dict[str, list[tuple[int, float]]] = {}
    for i in np.argsort(-weighed.chance)[:20]:
        h = weighed.grids[i].hypothesis
        of_machine = [c for c in h.causes if CAUSES[c].part in ("charge", "machine")]
        names = of_machine or list(h.causes) or ["nothing"]
        name = " and ".join(_short(n, h.channels) for n in names)
        found.setdefault(name, []).append((int(i), float(weighed.chance[i])))
    groups = [(name, sum(c for _i, c in grids), grids) for name, grids in found.items()]
    groups.sort(key=lambda g: -g[1])
    return [g for g in groups[:8] if g[1] > 0.01]


def _short(key: str, channels: Sequence[str]) -> str:
    return CAUSES[key].name.format(" and ".join(channels))


def _told(
    weighed: Weighed, channel: str, groups: Sequence[_Group], chances: FloatArray
) -> tuple[float, tuple[Foretold, ...]] | None:
    """Bits that a reading would tell, and what it shows by the causes it tells apart best."""
    densities, ranges = [], []
    parts = []
    for _name, _chance, grids in groups:
        means, sds, weights = [], [], []
        for i, c in grids:
            mean, sd, weight = weighed.grids[i].to_come(channel, _POINTS)
            means.append(mean)
            sds.append(sd)
            weights.append(c * weight)
        parts.append((np.concatenate(means), np.concatenate(sds), np.concatenate(weights)))
    low = min(float((m - 5.0 * s).min()) for m, s, _w in parts)
    high = max(float((m + 5.0 * s).max()) for m, s, _w in parts)
    step = min(float(s.min()) for _m, s, _w in parts) / 3.0
    y = np.linspace(low, high, int(min(max((high - low) / step, 50), 1200)))
    width = y[1] - y[0]
    for mean, sd, weight in parts:
        w = weight / weight.sum()
        p = (w / (sd * math.sqrt(2.0 * math.pi))) @ np.exp(
            -0.5 * ((y[None, :] - mean[:, None]) / sd[:, None]) ** 2
        )
        densities.append(p / max(float(p.sum() * width), 1e-300))
        ranges.append(Weighted.of_normals(mean, sd, w).range())
    p = np.array(densities)
    together = chances @ p
    inside = np.log2(np.where(p > 0.0, p, 1.0) / np.where(together > 0.0, together, 1.0))
    information = float(chances @ (p * inside).sum(axis=1) * width)
    logarithm = SHOWS[channel].logarithm
    best, far = (0, min(1, len(groups) - 1)), -1.0
    for a in range(len(groups)):
        for b in range(a + 1, len(groups)):
            overlap = float(np.sqrt(p[a] * p[b]).sum() * width)
            gain = (1.0 - overlap) * float(chances[a] * chances[b])
            if gain > far:
                best, far = (a, b), gain
    separates = tuple(
        Foretold(cause=groups[k][0], expected_SI=_shown(ranges[k], logarithm))
        for k in dict.fromkeys(best)
    )
    return information, separates


def _shown(r: Range, logarithm: bool) -> Range:
    if not logarithm:
        return r
    return Range(low=math.exp(r.low), middle=math.exp(r.middle), high=math.exp(r.high))
