r"""Readings weighed between hypotheses, exactly for everything that goes straight.

A hypothesis leaves two numbers open that act far from straight: the share of the right charge and
the size of the fault. They run over a grid. At each of its points the traits of the machine are
normal, :math:`N(\mu, S S^T + M)`, with S the slopes in the parameters of the job and M what the
model is off by beside them; instruments err normally too. So the readings have the density

.. math:: p(y \mid h, x, s) = N(y;\ A\mu,\ A (S S^T + M) A^T + R),

and the evidence of the hypothesis is its mean over the grid. Nothing is searched for, so nothing
can be missed or fail to settle, and several answers at once show as several.

A fault moves the slopes in proportion to its size, about the right charge. Two faults act on the
traits as the sum of what each does alone and of what the atlas says they do together. What is in no
list moves every trait by about as much as the faults in the list do, in no special direction.

References
----------
MacKay, "Information Theory, Inference, and Learning Algorithms", 2003, ch. 28: hypotheses compared
by evidence (textbook form).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from itertools import combinations, product
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.diagnosis.atlas import (
    SHARES,
    SLOPED_SIZE,
    TOGETHER_SHARES,
    TOGETHER_SIZES,
    Atlas,
    along,
    near_right,
)
from sweatline.diagnosis.causes import CAUSES, Cause
from sweatline.diagnosis.observed import MODEL_SD, SHOWS, TRAITS, Shows, place_of
from sweatline.diagnosis.weighed import Earlier, Grid, Hypothesis, Reading, Weighed
from sweatline.log.channels import CHANNELS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RIGHT_SD: Final = 0.05  # of ln share in a machine that is charged right (judged)
_RIGHT_REACH: Final = 0.11
_ANY_SHARE: Final = (0.4, 1.5)  # of a machine that is being charged
_SIZES_FINE: Final = 9
_FINE: Final = np.unique(
    np.concatenate(
        [np.linspace(0.35, 0.9, 23), np.linspace(0.9, 1.1, 11), np.linspace(1.1, 1.7, 16)]
    )
)
_PLACES: Final = np.linspace(0.0, 4.0, _SIZES_FINE)  # among the five sizes of a fault
_BEND: Final = (_PLACES + 1.0) / (SLOPED_SIZE + 1.0)  # of what a fault does to the slopes


def _between(values: FloatArray, nodes: FloatArray) -> FloatArray:
    """Parts that make values out of those at nodes, on straight lines, past the ends too. (n, k)"""
    low = np.clip(np.searchsorted(nodes, values) - 1, 0, nodes.size - 2)
    f = (values - nodes[low]) / (nodes[low + 1] - nodes[low])
    found = np.zeros((values.size, nodes.size))
    found[np.arange(values.size), low] = 1.0 - f
    found[np.arange(values.size), low + 1] = f
    return found


# Without a fault, one place before the first size, two do nothing together.
_BETWEEN_SIZES: Final = _between(_PLACES, np.array([-1.0, *TOGETHER_SIZES]))[:, 1:]
_BETWEEN_SHARES: Final = _between(np.clip(_FINE, *TOGETHER_SHARES[[0, -1]]), TOGETHER_SHARES)
# How often a cause is met in a machine that was just built and proven tight, against one that
# somebody asks about (judged).
_JUST_BUILT: Final = 1.0 / 3.0
_SAME_MODEL: Final = 0.8  # of what the model is off by, that is the same at every charge (judged)
UNKNOWN: Final = (0.7, 1.5)  # of what the faults in the list do to each trait
LOOSE: Final = (0.25, 0.45, 0.65, 0.85)  # of the way to the room, a badly clamped thermometer
CLAMPED: Final = ("suction gas", "return gas", "discharge gas", "liquid line")
BENCH: Final = ("air in", "room humidity")  # read beside the machine, and seldom wrong


class Weighing:
    """Weighs readings of one machine.

    Parameters
    ----------
    atlas : Atlas
        Of the machine.
    charged : bool
        Whether it should be charged right; else its charge may be anything and is no fault.
    """

    def __init__(self, atlas: Atlas, *, charged: bool = True) -> None:
        self.atlas = atlas
        self.charged = charged
        fine = self.fine = _FINE
        self._healthy = along(atlas.healthy, SHARES, fine)
        flat = along(atlas.slopes.reshape(SHARES.size, -1), SHARES, fine)
        self._slopes = np.nan_to_num(flat.reshape(fine.size, -1, len(TRAITS)))
        self._faults = {key: _with_sizes(atlas, key, fine) for key in atlas.faults}
        self._near = near_right(fine)
        # What faults of middling size do to each trait beside a healthy machine.
        moved = [(f - self._healthy)[3:6].reshape(-1, len(TRAITS))
                 for _sizes, f in self._faults.values()]  # fmt: skip
        self.far: FloatArray = np.nanmean(np.abs(np.concatenate(moved)), axis=0) ** 2
        self.shares = {s: self._share_prior(s) for s in ("right", "short", "over")}
        self._together: dict[tuple[str, str], FloatArray] = {}

    def _share_prior(self, state: str) -> FloatArray:
        """Of the fine shares, for a charge that is right, short, over or anything. (x,)"""
        if state == "right" and self.charged:
            log = np.log(self.fine)
            density = np.exp(-0.5 * (log / RIGHT_SD) ** 2) * (np.abs(log) < _RIGHT_REACH)
        else:
            low, high = _ANY_SHARE if state == "right" else CAUSES[state].sizes
            density = ((self.fine >= low) & (self.fine <= high)).astype(float)
        weight: FloatArray = density * np.gradient(self.fine)
        weight /= weight.sum()
        return weight

    def together(self, a: str, b: str) -> FloatArray:
        """What two faults do beyond the sum of both, at all fine sizes and shares. (s, s, x, t)"""
        if (a, b) not in self._together:
            self._together[a, b] = np.einsum(
                "ai,bj,xk,ijkt->abxt", _BETWEEN_SIZES, _BETWEEN_SIZES, _BETWEEN_SHARES,
                self.atlas.together[a, b], optimize=True,
            )  # fmt: skip
        return self._together[a, b]

    def hypotheses(
        self, channels: Sequence[str], *, pairs: bool = True, times: bool = False
    ) -> Iterator[Hypothesis]:
        """All that is weighed, given what was read; in rounds at known `times` a leak too."""
        yield Hypothesis(())
        charge = [k for k, c in CAUSES.items() if c.part == "charge"] if self.charged else []
        machine = [k for k, c in CAUSES.items() if c.part == "machine"]
        for key in (*charge, *machine, *(("leak",) if times else ())):
            yield Hypothesis((key,))
        for channel in channels:
            yield Hypothesis(("wrong instrument",), (channel,))
        for a, b in combinations(channels, 2):
            if CHANNELS[a].kind == CHANNELS[b].kind and "standing pressure" not in (a, b):
                yield Hypothesis(("swapped",), (a, b))
        yield Hypothesis(("unknown",))
        if not pairs:
            return
        for c in charge:
            for key in machine:
                yield Hypothesis((c, key))
        for a, b in combinations(machine, 2):
            if not {a, b} <= {"compressor too small", "compressor too large"}:
                yield Hypothesis((a, b))
        for key in (*charge, *machine):
            for channel in channels:
                yield Hypothesis((key, "wrong instrument"), (channel,))

    def weigh(
        self,
        readings: Sequence[Reading],
        *,
        pairs: bool = True,
        earlier: Sequence[Earlier] = (),
        ruled_out: Collection[str] = (),
    ) -> Weighed:
        """Everything that the readings say.

        Parameters
        ----------
        pairs : bool
            Whether two causes at once are weighed too.
        earlier : sequence of Earlier
            Rounds before this one: the machine and its instruments were the same then.
        ruled_out : collection of str
            What was looked at and is in order, as a log calls it.
        """
        told = [r for r in readings if r.channel not in BENCH]
        channels = [r.channel for r in told]
        here = _Here(self, [r for r in readings if r.channel in BENCH], told, earlier)
        grids = []
        times = any(e.ago > 0.0 for e in earlier)
        for one in self.hypotheses(channels, pairs=pairs, times=times):
            grid = here.grid(one)
            if grid is not None:
                grids.append(grid)
        prior = np.array([g.hypothesis.log_odds(channels, ruled_out) for g in grids])
        if not self.charged:
            prior += [math.log(_JUST_BUILT) * bool(g.hypothesis.causes) for g in grids]
        log = prior + np.array([g.log_evidence for g in grids])
        chance, before = np.exp(log - log.max()), np.exp(prior)
        return Weighed(
            readings=tuple(told),
            grids=tuple(grids),
            before=before / before.sum(),
            chance=chance / chance.sum(),
        )


class _Here:
    """The states of a machine in the room as it was read, and the readings of one round."""

    def __init__(
        self,
        weighing: Weighing,
        room: Sequence[Reading],
        readings: Sequence[Reading],
        earlier: Sequence[Earlier],
    ) -> None:
        self.w = weighing
        before = [
            (e.part, [r for r in e.readings if r.channel not in BENCH and r.channel in SHOWS])
            for e in earlier
        ]
        rounds = [(1.0, list(readings)), *before]
        self.readings = [r for _part, told in rounds for r in told]
        self.y = np.array([r.y for r in self.readings])
        self.channels = tuple(r.channel for r in self.readings)
        # Every round has its own traits, side by side; what its places among them are.
        count = len(TRAITS)
        first = np.concatenate(
            [np.full(len(told), k * count) for k, (_p, told) in enumerate(rounds)]
        )
        self.shows = Shows.of(self.channels).beside(first.astype(np.int64))
        alike = np.array([[a == b for b in self.channels] for a in self.channels])
        lasting = np.array([r.lasting for r in self.readings])
        self.error: FloatArray = alike * np.outer(lasting, lasting)
        self.error += np.diag(np.array([r.error for r in self.readings]) ** 2 - lasting**2)
        self.parts = np.array([part for part, _told in rounds])
        self.ago = np.array([0.0, *(e.ago for e in earlier)])
        slopes = self.in_rounds(weighing._slopes)
        z, root = self._of_room(room)
        self.slopes = root @ slopes
        self.moved = z @ slopes  # (x, t)
        # While it is charged, every share counts, and the slopes are those without a fault.
        self.bends = weighing.charged and len(rounds) == 1
        self.bent = {key: root @ bent for key, bent in weighing.atlas.bent.items()}
        self.bent_moved = {key: z @ bent for key, bent in weighing.atlas.bent.items()}
        cov: FloatArray = self.slopes.transpose(0, 2, 1) @ self.slopes
        several = len(rounds)
        share = _SAME_MODEL + (1.0 - _SAME_MODEL) * np.eye(several)
        cov += np.kron(share, np.diag(MODEL_SD**2))
        wide = np.kron(np.ones((several, several)), np.diag(weighing.far))
        self.covariance: FloatArray = np.concatenate([cov, *(cov + s * s * wide for s in UNKNOWN)])
        self.kept: dict[tuple[tuple[str, ...], bool], tuple[_Points, FloatArray]] = {}

    def _of_room(self, room: Sequence[Reading]) -> tuple[FloatArray, FloatArray]:
        """What is read of the room narrows its parameters before all else: their mean, their root.

        (p,), (p, p)
        """
        right = int(np.argmin(np.abs(self.w.fine - 1.0)))
        rows = self.w._slopes[right]
        if not room:
            return np.zeros(len(rows)), np.eye(len(rows))
        k = [place_of(SHOWS[r.channel].trait) for r in room]
        error = np.array([r.error for r in room])
        away = (np.array([r.y for r in room]) - self.w._healthy[right, k]) / error
        u, s, v = np.linalg.svd(rows[:, k] / error, full_matrices=False)
        z = u @ (s / (1.0 + s**2) * (v @ away))
        return z, np.eye(len(rows)) + (u * (1.0 / np.sqrt(1.0 + s**2) - 1.0)) @ u.T

    def lost(self, rate: float) -> FloatArray:
        """What a leak took up to each round, since the first, as a share of what is in now. (r,)

        Parameters
        ----------
        rate : float
            Of what is in now. [1/min]
        """
        found: FloatArray = rate / 60.0 * (self.ago.max() - self.ago)
        return found

    def in_rounds(self, along_shares: FloatArray, leak: float = 0.0) -> FloatArray:
        """Values along the shares (..., x, t) or (x, p, t), as they were in every round too.

        The traits of all rounds stand side by side. [..., t of each round] With a leak [1/min]
        there was more in before than was weighed in.
        """
        if len(self.parts) == 1:
            return along_shares
        fine = self.w.fine
        axis = 0 if along_shares.shape[0] == fine.size else 1
        found = [along_shares]
        lost = self.lost(leak)
        for part in self.parts[1:] * (1.0 + lost[0]) - lost[1:]:
            at = np.clip(fine * part, fine[0], fine[-1])
            low = np.clip(np.searchsorted(fine, at) - 1, 0, fine.size - 2)
            f = (at - fine[low]) / (fine[low + 1] - fine[low])
            f = f.reshape((1,) * axis + (-1,) + (1,) * (along_shares.ndim - 1 - axis))
            a = np.take(along_shares, low, axis=axis)
            b = np.take(along_shares, low + 1, axis=axis)
            found.append((1.0 - f) * a + f * b)
        return np.concatenate(found, axis=-1)

    def _points(self, causes: Sequence[Cause], *, several: bool) -> tuple[_Points, FloatArray]:
        """The points of causes, and the covariances of their traits: those of two are few."""
        w = self.w
        state = next((c.key for c in causes if c.part == "charge"), "right")
        x_prior = w.shares[state]
        faults = [c.key for c in causes if c.part == "machine"]
        places = np.flatnonzero(x_prior)
        if several:
            places = places[:: max(1, round(places.size / 7))]
        healthy = self.in_rounds(w._healthy)[places]
        # Sizes of each fault, as places among the fine ones; of two, every size with every other.
        step = slice(1, None, 2) if several else slice(None)
        place = np.arange(_SIZES_FINE)[step]
        pick = np.array([*product(place, repeat=len(faults))], dtype=np.int64).T
        traits = np.repeat(healthy[None], pick.shape[1], axis=0)
        for key, k in zip(faults, pick, strict=True):
            traits += self.in_rounds(w._faults[key][1])[k][:, places] - healthy
        if len(faults) == 2:
            traits += w.together(faults[0], faults[1])[pick[0], pick[1]][:, places]
        traits = traits + self.moved[places]
        covariance, at = self.covariance, np.tile(places, pick.shape[1])
        if faults and self.bends:
            near = w._near[places]
            for key, k in zip(faults, pick, strict=True):
                traits += (_BEND[k][:, None] * near)[:, :, None] * self.bent_moved[key]
            covariance = self._bent_covariance(faults, _BEND[pick], places)
            at = np.arange(at.size)
        often = np.ones(pick.shape[1])
        if len(faults) == 1 and not several:
            often[[0, -1]] = 0.5  # the ends stand for half a step
        size = np.empty((pick.shape[1], len(faults)))
        for i, (key, k) in enumerate(zip(faults, pick, strict=True)):
            size[:, i] = w._faults[key][0][k]
        if causes == [CAUSES["leak"]]:
            rates = CAUSES["leak"].sizes
            traits = np.array([self.in_rounds(w._healthy, r)[places] for r in rates])
            traits += self.moved[places]
            at, often = np.tile(places, len(rates)), np.ones(len(rates))
            size = np.array(rates)[:, None]
        traits = traits.reshape(-1, traits.shape[-1])
        good = np.isfinite(traits).all(axis=1)
        prior = np.outer(often, x_prior[places]).ravel()[good]
        at, traits, size = at[good], traits[good], np.repeat(size, places.size, axis=0)[good]
        share = np.tile(w.fine[places], often.size)[good]
        if causes == [CAUSES["unknown"]]:
            n = len(UNKNOWN)
            at = np.concatenate([at + (i + 1) * w.fine.size for i in range(n)])
            prior, traits, size, share = (
                np.concatenate([v] * n) for v in (prior, traits, size, share)
            )
        mean, corner, more = self.shows.shown(traits, covariance, at)
        spread = self.shows.covariance(self.shows.blocks(covariance), at, corner)
        if causes == [CAUSES["leak"]]:
            more_weighed = np.log1p([self.lost(r)[0] for r in size[:, 0]])
            mean[:, np.array(self.channels) == "charge weighed"] += more_weighed[:, None]
        index = np.arange(len(self.channels))
        spread += self.error
        spread[:, index, index] += more
        return (
            _Points(
                at=at, share=share, size=size, prior=prior, traits=traits, mean=mean,
                corner=corner, trust=np.ones(mean.shape), spread=spread,
            ),
            covariance,
        )  # fmt: skip

    def _bent_covariance(
        self, faults: Sequence[str], bends: FloatArray, places: IntArray
    ) -> FloatArray:
        """Of the traits with faults that move the slopes. (s x, t, t)

        Parameters
        ----------
        bends : (faults, s) array
            At each size, in parts of what a fault does to the slopes.
        """
        slopes, near = self.slopes[places].transpose(0, 2, 1), self.w._near[places, None, None]
        much, parts = [np.ones(bends.shape[1])], [self.covariance[places]]
        for bend, key in zip(bends, faults, strict=True):
            across = slopes @ self.bent[key]
            much += [bend, bend**2]
            parts += [
                near * (across + across.transpose(0, 2, 1)),
                near**2 * (self.bent[key].T @ self.bent[key]),
            ]
        for (a, first), (b, second) in combinations(zip(faults, bends, strict=True), 2):
            across = self.bent[a].T @ self.bent[b]
            much.append(first * second)
            parts.append(near**2 * (across + across.T))
        found = np.array(much).T @ np.array(parts).reshape(len(parts), -1)
        return found.reshape(-1, *parts[0].shape[1:])

    def grid(self, hypothesis: Hypothesis) -> Grid | None:
        """The points of a hypothesis, weighed; None where it has none."""
        causes = tuple(c for c in hypothesis.causes if CAUSES[c].part != "instrument")
        several = len(hypothesis.causes) > 1
        if (causes, several) not in self.kept:
            self.kept[causes, several] = self._points([CAUSES[c] for c in causes], several=several)
        p, covariance = self.kept[causes, several]
        if not p.at.size:
            return None
        if "wrong instrument" in hypothesis.causes:
            p = self._misread(hypothesis.channels[0], p)
        y = self.y
        if "swapped" in hypothesis.causes:
            y = y.copy()
            here = np.array(self.channels)
            i, j = (np.flatnonzero(here == c) for c in hypothesis.channels)
            n = min(i.size, j.size)
            y[i[:n]], y[j[:n]] = self.y[j[:n]], self.y[i[:n]]
        root = np.linalg.cholesky(p.spread)
        away = np.linalg.solve(root, (y - p.mean)[:, :, None])[:, :, 0]
        log = (
            -0.5 * np.sum(away**2, axis=1)
            - np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1)
            - 0.5 * y.size * math.log(2.0 * math.pi)
        )
        return Grid(
            hypothesis=hypothesis,
            share=p.share,
            size=p.size,
            prior=p.prior / p.prior.sum(),
            traits=p.traits,
            covariance=covariance,
            at=p.at,
            shows=self.shows,
            mean=p.mean,
            corner=p.corner,
            trust=p.trust,
            spread=p.spread,
            given=y,
            log_likelihood=log,
        )

    def _misread(self, channel: str, p: _Points) -> _Points:
        """The same with an instrument that reads wrong: anything, or toward the room."""
        j = np.flatnonzero(np.array(self.channels) == channel)
        wide = p.spread.copy()
        off = np.array([self.readings[i].wrong for i in j])
        wide[:, j[:, None], j] += np.outer(off, off)
        found = [p._replace(spread=wide)]
        if channel not in CLAMPED:
            return found[0]
        own = self.error[np.ix_(j, j)]
        for part in LOOSE:
            moved, less, loose = p.mean.copy(), p.trust.copy(), p.spread.copy()
            moved[:, j] += part * (self.w.atlas.ambient - p.mean[:, j])
            less[:, j] = 1.0 - part
            loose[:, j] *= 1.0 - part
            loose[:, :, j] *= 1.0 - part
            loose[:, j[:, None], j] += (1.0 - (1.0 - part) ** 2) * own
            prior = p.prior / len(LOOSE)
            found.append(p._replace(prior=prior, mean=moved, trust=less, spread=loose))
        return _Points(*(np.concatenate(column) for column in zip(*found, strict=True)))


class _Points(NamedTuple):
    at: IntArray  # (n,) among the covariances
    share: FloatArray  # (n,)
    size: FloatArray  # (n, faults)
    prior: FloatArray  # (n,)
    traits: FloatArray  # (n, t)
    mean: FloatArray  # (n, m)
    corner: FloatArray  # (n, m)
    trust: FloatArray  # (n, m)
    spread: FloatArray  # (n, m, m)


def _with_sizes(atlas: Atlas, key: str, fine: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sizes of a cause, finer, and the traits (s, x, t) at each."""
    sizes = np.array(CAUSES[key].sizes)
    nodes = np.array([along(curve, SHARES, fine) for curve in atlas.faults[key]])
    at = np.linspace(0.0, sizes.size - 1.0, _SIZES_FINE)
    low = np.minimum(at.astype(int), sizes.size - 2)
    part = (at - low)[:, None, None]
    return (
        np.interp(at, np.arange(sizes.size), sizes),
        (1.0 - part) * nodes[low] + part * nodes[low + 1],
    )
