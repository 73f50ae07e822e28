r"""Readings weighed between hypotheses, exactly for everything that goes straight.

A hypothesis leaves two numbers open that act far from straight: the share of the right charge and
the size of the fault. They run over a grid. At each of its points the traits of the machine are
normal, :math:`N(\mu, S S^T + M)`, with S the slopes in the parameters of the job and M what the
model is off by beside them; instruments err normally too. So the readings have the density

.. math:: p(y \mid h, x, s) = N(y;\ A\mu,\ A (S S^T + M) A^T + R),

and the evidence of the hypothesis is its mean over the grid. Nothing is searched for, so nothing
can be missed or fail to settle, and several answers at once show as several.

Two faults act on the traits as the sum of what each does alone. What is in no list moves every
trait by about as much as the faults in the list do, in no special direction.

References
----------
MacKay, "Information Theory, Inference, and Learning Algorithms", 2003, ch. 28: hypotheses compared
by evidence (textbook form).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.diagnosis.atlas import SHARES, Atlas, along
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
        # What faults of middling size do to each trait beside a healthy machine.
        moved = [(f - self._healthy)[3:6].reshape(-1, len(TRAITS))
                 for _sizes, f in self._faults.values()]  # fmt: skip
        self.far: FloatArray = np.nanmean(np.abs(np.concatenate(moved)), axis=0) ** 2
        self.shares = {s: self._share_prior(s) for s in ("right", "short", "over")}

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

    def hypotheses(self, channels: Sequence[str], *, pairs: bool = True) -> Iterator[Hypothesis]:
        """All that is weighed, given what was read."""
        yield Hypothesis(())
        charge = [k for k, c in CAUSES.items() if c.part == "charge"] if self.charged else []
        machine = [k for k, c in CAUSES.items() if c.part == "machine"]
        for key in (*charge, *machine):
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
        self, readings: Sequence[Reading], *, pairs: bool = True, earlier: Sequence[Earlier] = ()
    ) -> Weighed:
        """Everything that the readings say.

        Parameters
        ----------
        pairs : bool
            Whether two causes at once are weighed too.
        earlier : sequence of Earlier
            Rounds before this one: the machine and its instruments were the same then.
        """
        told = [r for r in readings if r.channel not in BENCH]
        channels = [r.channel for r in told]
        here = _Here(self, [r for r in readings if r.channel in BENCH], told, earlier)
        grids = []
        for one in self.hypotheses(channels, pairs=pairs):
            grid = here.grid(one)
            if grid is not None:
                grids.append(grid)
        prior = np.array([g.hypothesis.log_odds(channels) for g in grids])
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
        self.parts = [part for part, _told in rounds]
        slopes = self.in_rounds(weighing._slopes)
        x = slopes.shape[0]
        cov: FloatArray = slopes.transpose(0, 2, 1) @ slopes
        model = MODEL_SD**2
        several = len(rounds)
        share = _SAME_MODEL + (1.0 - _SAME_MODEL) * np.eye(several)
        cov += np.kron(share, np.diag(model))
        self.moved = np.zeros((x, several * count))
        if room:
            # What is read of the room narrows everything that hangs on it, before all else.
            k = [place_of(SHOWS[r.channel].trait) for r in room]
            inside = cov[:, k][:, :, k] + np.diag([r.error**2 for r in room])
            gain = np.linalg.solve(inside, cov[:, k]).transpose(0, 2, 1)  # (x, t, r)
            away = np.array([r.y for r in room]) - weighing._healthy[:, k]
            self.moved = np.nan_to_num((gain @ away[:, :, None])[:, :, 0])
            cov = cov - gain @ cov[:, k]
        wide = np.kron(np.ones((several, several)), np.diag(weighing.far))
        self.covariance: FloatArray = np.concatenate([cov, *(cov + s * s * wide for s in UNKNOWN)])
        self.blocks = self.shows.blocks(self.covariance)

    def in_rounds(self, along_shares: FloatArray) -> FloatArray:
        """Values along the shares (..., x, t) or (x, p, t), as they were in every round too.

        The traits of all rounds stand side by side. [..., t of each round]
        """
        if len(self.parts) == 1:
            return along_shares
        fine = self.w.fine
        axis = 0 if along_shares.shape[0] == fine.size else 1
        found = [along_shares]
        for part in self.parts[1:]:
            at = np.clip(fine * part, fine[0], fine[-1])
            low = np.clip(np.searchsorted(fine, at) - 1, 0, fine.size - 2)
            f = (at - fine[low]) / (fine[low + 1] - fine[low])
            f = f.reshape((1,) * axis + (-1,) + (1,) * (along_shares.ndim - 1 - axis))
            a = np.take(along_shares, low, axis=axis)
            b = np.take(along_shares, low + 1, axis=axis)
            found.append((1.0 - f) * a + f * b)
        return np.concatenate(found, axis=-1)

    def _points(self, causes: Sequence[Cause]) -> _Points:
        """The points of a hypothesis: those of two machine faults are few."""
        w = self.w
        state = next((c.key for c in causes if c.part == "charge"), "right")
        x_prior = w.shares[state]
        faults = [
            (w._faults[c.key][0], self.in_rounds(w._faults[c.key][1]))
            for c in causes
            if c.part == "machine"
        ]
        healthy = self.in_rounds(w._healthy)
        several = len(causes) > 1
        places = np.flatnonzero(x_prior)
        if several:
            places = places[:: max(1, round(places.size / 7))]
        if not faults:
            traits = healthy[places]
            sizes, often = np.full(1, np.nan), np.ones(1)
        elif len(faults) == 1:
            step = slice(1, None, 2) if several else slice(None)
            sizes = faults[0][0][step]
            traits = faults[0][1][step][:, places]
            often = np.ones(sizes.size)
            if not several:
                often[[0, -1]] = 0.5  # the ends stand for half a step
        else:
            step = slice(1, None, 3)
            first, second = (f[1][step][:, places] for f in faults)
            traits = first[:, None] + second[None] - healthy[places]
            sizes = np.repeat(faults[0][0][step], second.shape[0])
            often = np.ones(sizes.size)
        traits = traits.reshape(-1, traits.shape[-1])
        k = traits.shape[0] // places.size
        at = np.tile(places, k)
        good = np.isfinite(traits).all(axis=1)
        size = np.repeat(sizes, places.size) if faults else np.full(at.size, np.nan)
        return _Points(
            at=at[good],
            size=size[good],
            prior=np.outer(often, x_prior[places]).ravel()[good],
            traits=traits[good] + self.moved[at[good]],
        )

    def grid(self, hypothesis: Hypothesis) -> Grid | None:
        """The points of a hypothesis, weighed; None where it has none."""
        causes = [CAUSES[c] for c in hypothesis.causes]
        p = self._points(causes)
        if not p.at.size:
            return None
        if hypothesis.causes == ("unknown",):
            n = self.w.fine.size
            p = _joined([p._replace(at=p.at + (i + 1) * n) for i in range(len(UNKNOWN))])
        mean, corner, more = self.shows.shown(p.traits, self.covariance, p.at)
        spread = self.shows.covariance(self.blocks, p.at, corner)
        index = np.arange(len(self.channels))
        spread += self.error
        spread[:, index, index] += more
        trust = np.ones(mean.shape)
        if "wrong instrument" in hypothesis.causes:
            p, mean, corner, trust, spread = self._misread(
                hypothesis.channels[0], p, mean, corner, spread
            )
        y = self.y
        if "swapped" in hypothesis.causes:
            y = y.copy()
            here = np.array(self.channels)
            i, j = (np.flatnonzero(here == c) for c in hypothesis.channels)
            n = min(i.size, j.size)
            y[i[:n]], y[j[:n]] = self.y[j[:n]], self.y[i[:n]]
        root = np.linalg.cholesky(spread)
        away = np.linalg.solve(root, (y - mean)[:, :, None])[:, :, 0]
        log = (
            -0.5 * np.sum(away**2, axis=1)
            - np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1)
            - 0.5 * y.size * math.log(2.0 * math.pi)
        )
        return Grid(
            hypothesis=hypothesis,
            share=np.tile(self.w.fine, 1 + len(UNKNOWN))[p.at],
            size=p.size,
            sized=next((i for i, c in enumerate(causes) if c.part == "machine"), 0),
            prior=p.prior / p.prior.sum(),
            traits=p.traits,
            covariance=self.covariance,
            at=p.at,
            shows=self.shows,
            mean=mean,
            corner=corner,
            trust=trust,
            spread=spread,
            given=y,
            log_likelihood=log,
        )

    def _misread(
        self, channel: str, p: _Points, mean: FloatArray, corner: FloatArray, spread: FloatArray
    ) -> tuple[_Points, FloatArray, FloatArray, FloatArray, FloatArray]:
        """The same with an instrument that reads wrong: anything, or toward the room."""
        j = np.flatnonzero(np.array(self.channels) == channel)
        trust = np.ones(mean.shape)
        wide = spread.copy()
        off = np.array([self.readings[i].wrong for i in j])
        wide[:, j[:, None], j] += np.outer(off, off)
        if channel not in CLAMPED:
            return p, mean, corner, trust, wide
        means, trusts, spreads, points = [mean], [trust], [wide], [p]
        own = self.error[np.ix_(j, j)]
        for part in LOOSE:
            moved, less, loose = mean.copy(), trust.copy(), spread.copy()
            moved[:, j] += part * (self.w.atlas.ambient - mean[:, j])
            less[:, j] = 1.0 - part
            loose[:, j] *= 1.0 - part
            loose[:, :, j] *= 1.0 - part
            loose[:, j[:, None], j] += (1.0 - (1.0 - part) ** 2) * own
            means.append(moved)
            trusts.append(less)
            spreads.append(loose)
            points.append(p._replace(prior=p.prior / len(LOOSE)))
        n = len(means)
        return (
            _joined(points), np.concatenate(means), np.tile(corner, (n, 1)),
            np.concatenate(trusts), np.concatenate(spreads),
        )  # fmt: skip


class _Points(NamedTuple):
    at: IntArray  # (n,) among the covariances
    size: FloatArray  # (n,)
    prior: FloatArray  # (n,)
    traits: FloatArray  # (n, t)


def _joined(parts: Sequence[_Points]) -> _Points:
    return _Points(*(np.concatenate(column) for column in zip(*parts, strict=True)))


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
