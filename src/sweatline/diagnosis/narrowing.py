"""What a round of readings of the same machine says that was taken when it ran well."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sweatline.diagnosis.atlas import SHARES, SLOPED_SIZE, Atlas, near_right
from sweatline.diagnosis.observed import MODEL_SD, Shows
from sweatline.diagnosis.weighed import Reading
from sweatline.diagnosis.weighing import RIGHT_SD


def narrowed(atlas: Atlas, readings: Sequence[Reading], *, then: Atlas | None = None) -> Atlas:
    """The atlas, with what readings of the same machine say that were taken when it ran well.

    Parameters
    ----------
    then : Atlas, optional
        In the room of those readings, where that was another one.
    """
    then = then or atlas
    shows = Shows.of(tuple(r.channel for r in readings))
    right = int(np.flatnonzero(SHARES == 1.0)[0])
    slopes = then.slopes[right].copy()  # (p, t)
    model = np.diag(MODEL_SD**2)
    # It may have been a few per cent off its right charge.
    beside = (then.healthy[right + 1] - then.healthy[right - 1]) / math.log(
        SHARES[right + 1] / SHARES[right - 1]
    )
    model += RIGHT_SD**2 * np.outer(beside, beside)
    traits, covariance = then.healthy[right : right + 1], (slopes.T @ slopes + model)[None]
    first = np.zeros(1, dtype=np.int64)
    mean, corner, more = shows.shown(traits, covariance, first)
    spread = shows.covariance(shows.blocks(covariance), first, corner)[0]
    spread += np.diag(more[0] + np.array([r.error for r in readings]) ** 2)
    rows = slopes[:, shows.base] + corner[0] * slopes[:, shows.beyond]  # (p, m)
    # The room is another one by now, and nothing is learned of it.
    rows[[i for i, key in enumerate(then.keys) if key[0] == "room"]] = 0.0
    gain = np.linalg.solve(spread, rows.T).T
    z = gain @ (np.array([r.y for r in readings]) - mean[0])
    left = np.eye(len(rows)) - gain @ rows.T
    values, vectors = np.linalg.eigh(0.5 * (left + left.T))
    root = (vectors * np.sqrt(np.clip(values, 0.0, None))) @ vectors.T
    moved = np.einsum("p,xpt->xt", z, atlas.slopes)
    near = near_right(SHARES)[:, None]
    faults = {}
    for key, value in atlas.faults.items():
        much = (np.arange(len(value)) + 1.0) / (SLOPED_SIZE + 1.0)
        faults[key] = value + moved + much[:, None, None] * near * (z @ atlas.bent[key])
    return replace(
        atlas,
        healthy=atlas.healthy + moved,
        slopes=np.einsum("qp,xpt->xqt", root, atlas.slopes),
        faults=faults,
        bent={key: root @ bent for key, bent in atlas.bent.items()},
    )
