"""A coil tube by tube, as numbers: which tube lies where, what feeds it, what air it sees.

:mod:`sweatline.parts.tubes` marches it. Circuits that are alike and see the same air are held once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.flow.finned_surface import FinGeometry
from sweatline.parts.circuiting import (
    Circuiting,
    circuiting_error,
    independent_groups,
    marching_order,
)
from sweatline.parts.coil import PROFILE, CoilParameters

__all__ = ["TubeParameters", "entry_shape", "inverse_shape", "profile_shape", "tube_parameters"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class TubeParameters(NamedTuple):
    """A coil tube by tube, as the kernels see it.

    Circuits that are alike and see the same air are held once. Arrays of one entry a tube run along
    the circuits that are held; heights are those of the tubes that are held.
    """

    coil: CoilParameters  # whole coil: geometry, multipliers; `cells` counts per row of a circuit
    tube_cells: int
    tube_row: IntArray  # (tubes,) 0 where the air enters
    tube_height: IntArray  # (tubes,) index into the heights
    tube_circuit: IntArray  # (tubes,)
    tube_forth: IntArray  # (tubes,) 1: from the end where the circuit begins, 0: back
    order: IntArray  # (tubes,) in which to march
    guess: IntArray  # (tubes,) number of the guessed state, -1: fed by the tube before
    circuit_end: IntArray  # (circuits,) last tube
    circuit_times: FloatArray  # (circuits,) like circuits in the coil
    height_times: FloatArray  # (heights,) like heights in the coil
    speed: FloatArray  # (heights, tube_cells) air over its mean across the face
    coefficient: FloatArray  # (rows, heights, tube_cells) local multiplier of the air side
    layer: FloatArray  # (rows, heights, tube_cells) m2*K/W on the outside surface, frost
    fusion: float  # J/kg given up by water that freezes; 0 counts all of it as liquid

    # What the rest of the machine asks any coil for.
    @property
    def rows(self) -> int:
        """Rows deep."""
        return self.coil.rows

    @property
    def circuits(self) -> float:
        """Circuits side by side."""
        return float(self.circuit_times.sum())

    @property
    def bore(self) -> float:
        """Bore of the tubes. [m]"""
        return self.coil.bore

    @property
    def row_length(self) -> float:
        """Tube in one row of a mean circuit. [m]"""
        return self.coil.row_length

    @property
    def face_area(self) -> float:
        """Face of the block. [m2]"""
        return self.coil.face_area

    @property
    def fins(self) -> FinGeometry:
        """Its fins."""
        return self.coil.fins

    @property
    def cells(self) -> int:
        """Cells in a row of a mean circuit."""
        return self.coil.cells

    @property
    def first_circuit(self) -> int:
        """Rows of a profile that belong to the first circuit."""
        return int(self.circuit_end[0] + 1) * self.tube_cells

    @property
    def cell_length(self) -> float:
        """Tube in a cell. [m]"""
        whole = self.coil.row_length * self.coil.circuits
        return float(whole / self.height_times.sum() / self.tube_cells)

    def air_shares(self, positions: FloatArray) -> FloatArray:
        """Relative air flow through cells, from the column `position` of a profile. [-]"""
        place = positions.astype(np.int64)
        shares: FloatArray = (self.height_times[:, None] * self.speed).ravel()[place]
        return shares


def tube_parameters(
    coil: CoilParameters,
    *,
    tubes_per_row: int,
    circuiting: Circuiting,
    profile: Sequence[float] = (),
    tube_cells: int = 1,
) -> TubeParameters:
    """Tube-by-tube numbers of a coil whose geometry is known.

    Parameters
    ----------
    coil : CoilParameters
        The same coil in the simple form; its number of cells is not used.
    circuiting : Circuiting
        Paths that use every tube once.
    profile : sequence of float, optional
        (tubes_per_row,) speed of the air at the height of each tube, in any unit; even by default.
    tube_cells : int
        Cells along a tube.

    Raises
    ------
    ValueError
        A tube is missing, used twice or not in the coil; a speed is not positive.
    """
    wrong = circuiting_error(circuiting, coil.rows, tubes_per_row)
    if wrong:
        raise ValueError(wrong)
    speeds = np.asarray(profile if len(profile) else np.ones(tubes_per_row), dtype=float)
    if speeds.shape != (tubes_per_row,) or not (speeds > 0.0).all():
        raise ValueError("one positive speed is wanted for each tube of a row")
    speeds = speeds / speeds.mean()
    groups = independent_groups(circuiting, tuple(speeds.tolist()))
    paths = [path for group in groups for path in group.paths]
    times = [group.times for group in groups for _ in group.paths]
    heights: dict[int, int] = {}
    for path in paths:
        for _row, tube in path:
            heights.setdefault(tube, len(heights))
    height_times = np.zeros(len(heights))
    for path, n in zip(paths, times, strict=True):
        for _row, tube in path:
            height_times[heights[tube]] = n
    order, torn = marching_order(tuple(paths))
    guess = np.full(len(order), -1, dtype=np.int64)
    guess[np.flatnonzero(torn)] = np.arange(sum(torn))
    lengths = np.array([len(path) for path in paths])
    rows = coil.rows
    shape = (rows, len(heights), tube_cells)
    circuits = len(circuiting)
    length = coil.row_length * coil.circuits / tubes_per_row  # of one tube
    return TubeParameters(
        coil=coil._replace(
            circuits=float(circuits),
            row_length=length * tubes_per_row / circuits,
            cells=max(round(tubes_per_row / circuits * tube_cells), 1),
        ),
        tube_cells=tube_cells,
        tube_row=np.array([row for path in paths for row, _ in path], dtype=np.int64),
        tube_height=np.array([heights[t] for path in paths for _, t in path], dtype=np.int64),
        tube_circuit=np.repeat(np.arange(len(paths)), lengths).astype(np.int64),
        tube_forth=np.concatenate([1 - np.arange(n) % 2 for n in lengths]).astype(np.int64),
        order=np.array(order, dtype=np.int64),
        guess=guess,
        circuit_end=(np.cumsum(lengths) - 1).astype(np.int64),
        circuit_times=np.array(times, dtype=float),
        height_times=height_times,
        speed=np.repeat(speeds[list(heights)][:, None], tube_cells, axis=1),
        coefficient=np.ones(shape),
        layer=np.zeros(shape),
        fusion=0.0,
    )


def _unknowns(coil: TubeParameters) -> tuple[int, int]:
    """Guessed states, and circuits whose share of the flow is unknown."""
    circuits = len(coil.circuit_end)
    return int((coil.guess >= 0).sum()), circuits if circuits > 1 else 0


def entry_shape(coil: CoilParameters | TubeParameters) -> tuple[int, int]:
    """Shape of the array in which a march keeps the states it had to guess."""
    if isinstance(coil, CoilParameters):
        return coil.rows, 2
    states, split = _unknowns(coil)
    return states + split, 2


def inverse_shape(coil: CoilParameters | TubeParameters) -> tuple[int, int]:
    """Shape of the matrix that a march keeps for the next one."""
    if isinstance(coil, CoilParameters):
        return 2 * coil.rows - 2, 2 * coil.rows - 2
    states, split = _unknowns(coil)
    return 2 * states + split, 2 * states + split


def profile_shape(coil: CoilParameters | TubeParameters) -> tuple[int, int]:
    """Shape of the profile that a march fills."""
    if isinstance(coil, CoilParameters):
        return coil.rows * coil.cells, len(PROFILE)
    return len(coil.order) * coil.tube_cells, len(PROFILE)
