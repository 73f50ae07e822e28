r"""Table of one refrigerant: cubic B-splines aligned to its saturation line, and its file.

Pressure enters as :math:`x = \ln\frac{p}{1.04\,p_c - p}`, which spaces isobars evenly at low
pressure and crowds them towards the critical point, where properties bend most. Along x run the
saturation lines. In each single-phase region enthalpy enters as its distance from saturation,

.. math:: y = \frac{h - h_g(x)}{h_{max}(x) - h_g(x)} \quad\text{(vapour)}, \qquad
          y = \frac{h_l(x) - h}{h_l(x) - h_{min}(x)} \quad\text{(liquid)}, \qquad
          u = y\,(1 + a - a y),

and the tensor-product spline over (x, u) holds the *difference* from saturation. Its edge u = 0
is zero by construction, so that every property is continuous across the saturation line to the
last bit. All splines are uniform and twice continuously differentiable. On disk a fluid is one
compressed archive with its description inside.
"""

from __future__ import annotations

import json
from math import log
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeAlias, cast

import numpy as np
from numpy.typing import NDArray

from sweatline.compiled import kernel
from sweatline.errors import StoreError

FloatArray = NDArray[np.float64]
Weights: TypeAlias = tuple[float, float, float, float]


def _column(number: int) -> int:
    """A column number that is not a literal: kernels are compiled anew for every literal int."""
    return cast(int, np.int64(number))


# Columns of `Table.line`. Quantities that would span decades are held in a smooth disguise.
BUBBLE: Final = _column(0)
DEW: Final = _column(1)
H_LIQUID: Final = _column(2)
H_VAPOUR: Final = _column(3)
V_LIQUID: Final = _column(4)
PV_VAPOUR: Final = _column(5)  # p v
S_LIQUID: Final = _column(6)
S_VAPOUR: Final = _column(7)
PER_SPAN_LIQUID: Final = _column(8)  # 1/(hl - h_min)
PER_SPAN_VAPOUR: Final = _column(9)  # 1/(h_max - hg)
FLUIDITY_LIQUID: Final = _column(10)  # 1/mu
MU_VAPOUR: Final = _column(11)
K_LIQUID: Final = _column(12)
K_VAPOUR: Final = _column(13)
PER_CP_LIQUID: Final = _column(14)  # 1/cp
PER_CP_VAPOUR: Final = _column(15)
SIGMA: Final = _column(16)
LINE_COLUMNS: Final = 17
# First index of `Table.regions`; `Table.glide` has one sheet only.
LIQUID: Final = _column(0)
VAPOUR: Final = _column(1)
ONLY: Final = _column(0)
# Columns of `Table.regions`, relative to saturation at the same pressure.
DT: Final = _column(0)  # T - Tsat
DV: Final = _column(1)  # v/vsat - 1
DS: Final = _column(2)  # s - ssat
DCP: Final = _column(3)  # cpsat/cp - 1
DMU: Final = _column(4)  # musat/mu - 1
DK: Final = _column(5)  # k/ksat - 1
REGION_COLUMNS: Final = 6
# `Table.glide` has the columns DT, DV, DS: departures from a straight line in quality, as
# fractions of the width between bubble and dew.
GLIDE_COLUMNS: Final = 3

# Unsigned, because a signed index is first asked whether it counts from the end.
_ONE, _TWO, _THREE = np.uint64(1), np.uint64(2), np.uint64(3)
_SIXTH = 1.0 / 6.0
_TWO_THIRDS = 2.0 / 3.0
_COLDEST = 20.0  # K, floor of the straight continuation below h_min


class Table(NamedTuple):
    """Splines of one refrigerant, as passed into kernels. Lengths count B-spline coefficients."""

    line: FloatArray  # (n, 17) saturation lines over x
    regions: FloatArray  # (2, m, k, 6) liquid and vapour over (x, u)
    glide: FloatArray  # (1, m, g, 3) over (x, quality)
    p_min: float  # Pa
    p_max: float  # Pa
    p_crit: float  # Pa
    t_crit: float  # K
    molar_mass: float  # kg/mol
    p_scale: float  # Pa, 1.04 p_crit
    x_min: float  # x at p_min
    line_cells: int  # number of cells over x
    line_scale: float  # cells per unit of x
    region_cells: int
    region_scale: float
    u_cells: int
    glide_cells: int  # 0 when properties are straight in quality
    stretch_liquid: float  # a in u(y)
    stretch_vapour: float


@kernel
def clamped(value: float, low: float, high: float) -> float:
    """Value limited to [low, high]; NaN becomes low, so that it never turns into an index."""
    if not value > low:
        return low
    if value > high:
        return high
    return value


@kernel
def cell(position: float, cells: int) -> tuple[int, float]:
    """Cell number and place inside the cell, [0, 1], of a position counted in cells."""
    i = min(int(position), cells - 1)
    return i, position - i


@kernel
def weights(f: float) -> Weights:
    """Values of the four cubic B-splines that live on a cell."""
    g = 1.0 - f
    ff = f * f
    gg = g * g
    w1 = (0.5 * f - 1.0) * ff + _TWO_THIRDS
    w2 = (0.5 * g - 1.0) * gg + _TWO_THIRDS
    return _SIXTH * gg * g, w1, w2, _SIXTH * ff * f


@kernel
def slopes(f: float) -> Weights:
    """Derivatives of the four cubic B-splines with respect to the place inside the cell."""
    g = 1.0 - f
    return -0.5 * g * g, (1.5 * f - 2.0) * f, (1.0 - 1.5 * f) * f + 0.5, 0.5 * f * f


@kernel
def line_value(c: FloatArray, i: int, w: Weights, column: int) -> float:
    """Value of one column of a saturation line in a cell."""
    i0 = np.uint64(i)
    value: float = (
        w[0] * c[i0, column]
        + w[1] * c[i0 + _ONE, column]
        + w[2] * c[i0 + _TWO, column]
        + w[3] * c[i0 + _THREE, column]
    )
    return value


@kernel
def surface_value(
    c: FloatArray,
    e: int,
    i: int,
    w: Weights,
    j: int,
    z: Weights,
    column: int,
) -> float:
    """Value of one column of a surface in a cell; `e` is its first index."""
    z0, z1, z2, z3 = z
    q = column
    i0, j0 = np.uint64(i), np.uint64(j)
    i1, i2, i3 = i0 + _ONE, i0 + _TWO, i0 + _THREE
    j1, j2, j3 = j0 + _ONE, j0 + _TWO, j0 + _THREE
    v0 = z0 * c[e, i0, j0, q] + z1 * c[e, i0, j1, q] + z2 * c[e, i0, j2, q] + z3 * c[e, i0, j3, q]
    v1 = z0 * c[e, i1, j0, q] + z1 * c[e, i1, j1, q] + z2 * c[e, i1, j2, q] + z3 * c[e, i1, j3, q]
    v2 = z0 * c[e, i2, j0, q] + z1 * c[e, i2, j1, q] + z2 * c[e, i2, j2, q] + z3 * c[e, i2, j3, q]
    v3 = z0 * c[e, i3, j0, q] + z1 * c[e, i3, j1, q] + z2 * c[e, i3, j2, q] + z3 * c[e, i3, j3, q]
    value: float = w[0] * v0 + w[1] * v1 + w[2] * v2 + w[3] * v3
    return value


@kernel
def depth(t: Table, p: float) -> float:
    """x of a pressure inside the table, counted from `x_min`, never negative."""
    return max(log(p / (t.p_scale - p)) - t.x_min, 0.0)


@kernel
def glide(t: Table, x: float, quality: float) -> tuple[float, float, float]:
    """Departures of T, v, s from a straight line in quality; only where `glide_cells` > 0."""
    i, f = cell(x * t.region_scale, t.region_cells)
    w = weights(f)
    j, g = cell(clamped(quality, 0.0, 1.0) * t.glide_cells, t.glide_cells)
    z = weights(g)
    return (
        surface_value(t.glide, ONLY, i, w, j, z, DT),
        surface_value(t.glide, ONLY, i, w, j, z, DV),
        surface_value(t.glide, ONLY, i, w, j, z, DS),
    )


@kernel
def region_cell(t: Table, x: float, a: float, y: float) -> tuple[int, Weights, int, Weights]:
    """Cells and spline weights of a point of a single-phase region; y past 1 is held at 1."""
    if not y < 1.0:
        y = 1.0
    m, f = cell(x * t.region_scale, t.region_cells)
    n, g = cell(y * (1.0 + a - a * y) * t.u_cells, t.u_cells)
    return m, weights(f), n, weights(g)


@kernel
def beyond(
    t: Table,
    x: float,
    side: int,
    p: float,
    y: float,
    t_edge: float,
    v_edge: float,
    s_edge: float,
) -> Weights:
    """T, v, s continued straight past the edge y = 1 of a region, and 1/cp at that edge.

    Vapour expands in proportion to temperature there; liquid keeps its volume.
    """
    i, f = cell(x * t.line_scale, t.line_cells)
    w = weights(f)
    m, wx, n, z = region_cell(t, x, 0.0, 1.0)
    flatness = 1.0 + surface_value(t.regions, side, m, wx, n, z, DCP)
    if side == LIQUID:
        excess = (1.0 - y) / line_value(t.line, i, w, PER_SPAN_LIQUID)
        per_cp = flatness * line_value(t.line, i, w, PER_CP_LIQUID)
        temperature = max(t_edge + excess * per_cp, _COLDEST)
        return temperature, v_edge, s_edge + excess / t_edge, per_cp
    excess = (y - 1.0) / line_value(t.line, i, w, PER_SPAN_VAPOUR)
    per_cp = flatness * line_value(t.line, i, w, PER_CP_VAPOUR)
    temperature = t_edge + excess * per_cp
    return temperature, v_edge * temperature / t_edge, s_edge + excess / t_edge, per_cp


TABLE_FOLDER: Final = Path(__file__).parent / "tables"

_FORMAT: Final = 1
SPLINES: Final = ("line", "regions", "glide")
_COUNTS: Final = ("line_cells", "region_cells", "u_cells", "glide_cells")
_NUMBERS: Final = tuple(name for name in Table._fields if name not in SPLINES)


def write_table(path: Path, table: Table, metadata: dict[str, Any]) -> None:
    """Write a table and its description.

    The saturation lines are kept in double precision, because capillary flow uses their slopes;
    the surfaces hold small differences from them and are kept in single precision.
    """
    arrays = {name: getattr(table, name).astype(np.float32) for name in SPLINES[1:]}
    np.savez_compressed(
        path,
        line=table.line,
        numbers=np.array([getattr(table, name) for name in _NUMBERS]),
        description=np.array(json.dumps({"format": _FORMAT, **metadata}, sort_keys=True)),
        **arrays,
    )


def read_table(path: Path) -> tuple[Table, dict[str, Any]]:
    """Read a table and its description.

    Raises
    ------
    StoreError
        The file is missing or was written in another format.
    """
    try:
        with np.load(path, allow_pickle=False) as archive:
            arrays: dict[str, Any] = {
                name: np.ascontiguousarray(archive[name], dtype=float) for name in SPLINES
            }
            numbers: list[float] = archive["numbers"].tolist()
            metadata: dict[str, Any] = json.loads(str(archive["description"]))
    except (OSError, KeyError, ValueError) as reason:
        raise StoreError(
            what=f"no refrigerant table could be read ({reason})", path=str(path)
        ) from reason
    if metadata.get("format") != _FORMAT or len(numbers) != len(_NUMBERS):
        raise StoreError(what="the refrigerant table has another format", path=str(path))
    named: dict[str, Any] = dict(zip(_NUMBERS, numbers, strict=True))
    named |= {name: int(named[name]) for name in _COUNTS}
    return Table(**arrays, **named), metadata
