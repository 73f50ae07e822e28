"""Causes and charge by points of a low-discrepancy sequence, against the weighing on a grid.

The draws are those of `scipy.stats.qmc`: samplers that walk give no evidence of a hypothesis, and
those that do would be one more dependency. A share and a size are drawn anywhere between their
ends, then the state, from a normal density about as narrow as the readings make it; each draw
counts by its true density over that one, with superheat and subcooling as they are. So nothing of
the grid is in it, nor of what the weighing takes for a thermometer at the end of superheat.
Several scrambled sequences tell its error. One cause at a time is compared; two gauges and the
watts leave several answers.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from sweatline.assembly.build import Build, build_for
from sweatline.diagnosis.atlas import SHARES, SLOPED_SIZE, atlas_of, near_right
from sweatline.diagnosis.causes import CAUSES
from sweatline.diagnosis.observed import MODEL_SD, SHOWS, place_of
from sweatline.diagnosis.trials import case
from sweatline.diagnosis.weighed import Reading
from sweatline.diagnosis.weighing import Weighing
from sweatline.job.reading import read_job
from sweatline.machine.balance import filled

FloatArray = NDArray[np.float64]

SEED = Path(__file__).resolve().parents[2] / "examples" / "seed-store.toml"
FEW = ("suction gauge", "head gauge", "watts")
SOME = (*FEW, "suction gas", "liquid line")
ONE_CAUSE = ("nothing", *(k for k, c in CAUSES.items() if c.part in ("charge", "machine")))
POWER = 11  # of two, draws for each cause and sequence
SEQUENCES = 4
WIDER = 1.3  # than the readings make it
RIGHT_SD, RIGHT_REACH = 0.05, 0.11  # of ln share, as the weighing takes it


@cache
def bench() -> tuple[Build, Weighing]:
    build = build_for(read_job(SEED), compressor=0, refrigerant="R-134a", capillary=0)
    return build, Weighing(atlas_of(build))


class Drawn(NamedTuple):
    charge: FloatArray  # of each draw, ln kg
    density: FloatArray  # of the readings


def drawn(cause: str, readings: list[Reading], seed: int) -> Drawn:
    """Machines with one cause, drawn, and how well each explains the readings."""
    _build, weighing = bench()
    atlas = weighing.atlas
    shows = [SHOWS[r.channel] for r in readings]
    names = list(
        dict.fromkeys([*(s.trait for s in shows), *(s.beyond for s in shows if s.beyond), "charge"])
    )
    of = [place_of(name) for name in names]
    points = qmc.Sobol(len(of) + 2, seed=seed).random_base2(POWER)
    u, place, normal = points[:, 0], points[:, 1], ndtri(np.clip(points[:, 2:], 1e-9, 1.0 - 1e-9))
    part = CAUSES[cause].part
    if part == "charge":
        low, high = CAUSES[cause].sizes
        share = low + u * (high - low)
    else:
        edge = math.erf(RIGHT_REACH / RIGHT_SD / math.sqrt(2.0)) / 2.0
        share = np.exp(RIGHT_SD * ndtri(0.5 - edge + 2.0 * edge * u))
    near = np.clip(np.searchsorted(SHARES, share) - 1, 0, SHARES.size - 2)
    f = (share - SHARES[near]) / (SHARES[near + 1] - SHARES[near])
    curves = atlas.faults[cause] if part == "machine" else atlas.healthy[None]
    at = place * (curves.shape[0] - 1)
    size = np.minimum(at.astype(int), max(curves.shape[0] - 2, 0))
    up = np.minimum(size + 1, curves.shape[0] - 1)
    g = (at - size)[:, None]
    middle = np.zeros((share.size, len(of)))
    straight = np.zeros((share.size, atlas.slopes.shape[1], len(of)))
    for x, weight in ((near, 1.0 - f), (near + 1, f)):
        middle += weight[:, None] * ((1.0 - g) * curves[size, x] + g * curves[up, x])[:, of]
        straight += weight[:, None, None] * atlas.slopes[x][:, :, of]
    if part == "machine":
        much = (at + 1.0) / (SLOPED_SIZE + 1.0) * near_right(share)
        straight += much[:, None, None] * atlas.bent[cause][:, of]
    solved = np.isfinite(middle).all(axis=1) & np.isfinite(straight).all(axis=(1, 2))
    middle, straight, normal = middle[solved], straight[solved], normal[solved]
    wide = straight.transpose(0, 2, 1) @ straight + np.diag(MODEL_SD[of] ** 2)
    # A normal density about where the readings put the state, a little wider.
    rows = np.zeros((middle.shape[0], len(readings), len(of)))
    offset = np.zeros((middle.shape[0], len(readings)))
    for j, show in enumerate(shows):
        rows[:, j, names.index(show.trait)] = 1.0
        if show.beyond:
            k = names.index(show.beyond)
            rows[:, j, k] = show.sign * ndtr(middle[:, k] / np.sqrt(wide[:, k, k]))
        offset[:, j] = readings[j].y - np.einsum("nt,nt->n", rows[:, j], middle)
    error = np.diag([r.error**2 for r in readings])
    cross = wide @ rows.transpose(0, 2, 1)
    gain = np.linalg.solve(rows @ cross + error, cross.transpose(0, 2, 1)).transpose(0, 2, 1)
    about = np.einsum("ntm,nm->nt", gain, offset)
    root = WIDER * np.linalg.cholesky(wide - gain @ cross.transpose(0, 2, 1))
    away = about + np.einsum("nst,nt->ns", root, normal)
    prior_root = np.linalg.cholesky(wide)
    own = np.linalg.solve(prior_root, away[:, :, None])[:, :, 0]
    log = 0.5 * (normal**2).sum(axis=1) - 0.5 * (own**2).sum(axis=1)
    for k in range(len(of)):
        log += np.log(root[:, k, k] / prior_root[:, k, k])
    state = middle + away
    for r, show in zip(readings, shows, strict=True):
        seen = state[:, names.index(show.trait)]
        if show.beyond:
            seen = seen + show.sign * np.maximum(state[:, names.index(show.beyond)], 0.0)
        log -= 0.5 * ((r.y - seen) / r.error) ** 2 + math.log(r.error * math.sqrt(2.0 * math.pi))
    return Drawn(state[:, names.index("charge")], np.exp(log))


def sampled(readings: list[Reading]) -> tuple[FloatArray, FloatArray]:
    """Chances of the causes and three points of the charge [ln kg], for each sequence."""
    chances, points = [], []
    for seed in range(SEQUENCES):
        each = [drawn(cause, readings, seed) for cause in ONE_CAUSE]
        odds = np.array(
            [CAUSES[c].usual * d.density.mean() for c, d in zip(ONE_CAUSE, each, strict=True)]
        )
        chances.append(odds / odds.sum())
        charge = np.concatenate([d.charge for d in each])
        weights = np.concatenate(
            [
                CAUSES[c].usual * d.density / d.density.size
                for c, d in zip(ONE_CAUSE, each, strict=True)
            ]
        )
        order = np.argsort(charge)
        total = np.cumsum(weights[order])
        points.append(np.interp((0.05, 0.5, 0.95), total / total[-1], charge[order]))
    return np.array(chances), np.array(points)


@pytest.mark.parametrize(
    ("cause", "channels", "seed"),
    [("restriction", SOME, 3), ("short", FEW, 4), ("", SOME, 5)],
    ids=["restriction", "several answers", "in order"],
)
def test_grid_and_sampler_agree(cause: str, channels: tuple[str, ...], seed: int) -> None:
    build, weighing = bench()
    full = build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)
    one = case(build, full, np.random.default_rng([7_301, seed]), (cause,) if cause else ())
    readings = one.of(channels)
    weighed = weighing.weigh(readings, pairs=False)
    kept = {
        (g.hypothesis.causes or ("nothing",))[0]: (g, c)
        for g, c in zip(weighed.grids, weighed.chance, strict=True)
        if not g.hypothesis.channels
    }
    chance = np.array([kept[c][1] for c in ONE_CAUSE])
    grid = replace(
        weighed, grids=tuple(kept[c][0] for c in ONE_CAUSE), chance=chance / chance.sum()
    )
    chances, points = sampled(readings)
    error = chances.std(axis=0, ddof=1) / math.sqrt(SEQUENCES)
    charge = grid.of_trait("charge").range()
    step = 0.01  # of the chances, what a grid of nine sizes costs; of the charge, a fortieth
    assert np.all(np.abs(grid.chance - chances.mean(axis=0)) <= step + 4.0 * error)
    error = points.std(axis=0, ddof=1) / math.sqrt(SEQUENCES)
    away = np.array([charge.low, charge.middle, charge.high]) - points.mean(axis=0)
    assert np.all(np.abs(away) <= 0.025 + 4.0 * error)
