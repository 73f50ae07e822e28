r"""Tables of any mixture of propylene, propane and isobutane, from tables at fixed compositions.

A table is a set of spline coefficients over reduced coordinates, so a mixture's table is the same
polynomial in the mass shares for every coefficient,

.. math:: c(w) = \sum_n L_n(w)\,c_n, \qquad L_n(w_m) = \delta_{nm},

with the nodes at the Chebyshev points of the triangle of compositions. The file holds the tables
of the nodes; it is read once for each mixture.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import log
from pathlib import Path
from typing import Any, Final

import numpy as np

from sweatline.errors import StoreError
from sweatline.refrigerant.names import COMPONENTS
from sweatline.refrigerant.spline import SPLINES, FloatArray, Table

MOLAR_MASS: Final = (42.0797e-3, 44.0956e-3, 58.1222e-3)  # kg/mol
DEGREE: Final = 6

_FORMAT: Final = 1


def _terms(shares: FloatArray) -> FloatArray:
    """Powers of the first two shares up to the degree; (n, terms)."""
    powers = [(i, j) for i in range(DEGREE + 1) for j in range(DEGREE + 1 - i)]
    return np.stack([shares[:, 0] ** i * shares[:, 1] ** j for i, j in powers], axis=1)


def write_nodes(
    path: Path, nodes: FloatArray, tables: list[Table], metadata: dict[str, Any]
) -> None:
    """Write the tables of the nodes, (n, 3) mass shares, and their common description."""
    arrays = {name: np.stack([getattr(t, name) for t in tables]) for name in SPLINES}
    first = tables[0]
    numbers = {
        name: getattr(first, name)
        for name in (*[f for f in Table._fields if f.endswith("cells")], "p_min")
    } | {"stretch_liquid": first.stretch_liquid, "stretch_vapour": first.stretch_vapour}
    np.savez_compressed(
        path,
        nodes=nodes,
        line=arrays["line"],
        regions=arrays["regions"].astype(np.float32),
        glide=arrays["glide"].astype(np.float32),
        critical=np.array([(t.t_crit, t.p_crit) for t in tables]),
        description=np.array(
            json.dumps({"format": _FORMAT, "numbers": numbers, **metadata}, sort_keys=True)
        ),
    )


def read_mixture(path: Path, shares: Mapping[str, float]) -> tuple[Table, dict[str, Any]]:
    """Table and description of a mixture.

    Parameters
    ----------
    path : Path
        File of `write_nodes`.
    shares : mapping of str to float
        Mass shares by component, of those in `COMPONENTS`; they add up to 1.

    Raises
    ------
    StoreError
        The file is missing or was written in another format.
    """
    w = np.array([[shares.get(name, 0.0) for name in COMPONENTS]])
    try:
        with np.load(path, allow_pickle=False) as archive:
            metadata: dict[str, Any] = json.loads(str(archive["description"]))
            if metadata.get("format") != _FORMAT:
                raise ValueError("another format")
            at = (_terms(w) @ np.linalg.inv(_terms(archive["nodes"])))[0]
            splines: dict[str, Any] = {
                name: np.ascontiguousarray(np.tensordot(at, archive[name].astype(float), 1))
                for name in SPLINES
            }
            t_crit, p_crit = (float(value) for value in at @ archive["critical"])
    except (OSError, KeyError, ValueError) as reason:
        raise StoreError(
            what=f"no table of the hydrocarbon mixtures could be read ({reason})", path=str(path)
        ) from reason
    numbers = metadata.pop("numbers")
    moles = w[0] / MOLAR_MASS
    p_scale = metadata["scale_reduced_pressure"] * p_crit
    p_max = metadata["top_reduced_pressure"] * p_crit
    x_min = log(numbers["p_min"] / (p_scale - numbers["p_min"]))
    width = log(p_max / (p_scale - p_max)) - x_min
    table = Table(
        **splines,
        **numbers,
        p_max=p_max,
        p_crit=p_crit,
        t_crit=t_crit,
        molar_mass=1.0 / float(moles.sum()),
        p_scale=p_scale,
        x_min=x_min,
        line_scale=numbers["line_cells"] / width,
        region_scale=numbers["region_cells"] / width,
    )
    mole_shares = zip(COMPONENTS, moles / moles.sum(), strict=True)
    metadata["composition"] = {name: float(x) for name, x in mole_shares if x > 0.0}
    return table, metadata
