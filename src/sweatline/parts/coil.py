r"""A finned-tube coil: geometry, the tubes with what feeds them, and what a march yields.

A coil is marched along its circuits by :mod:`sweatline.parts.coil_march`. Its tubes are laid out in
one of two forms. In the simple one the refrigerant runs through a whole row, turns, and runs back
through the next, first the row at the air outlet (counter flow) or at the air inlet. Circuits are
alike and see the same air, so one is marched, and a row of it counts as one long tube. Tube by tube
(:func:`tube_by_tube`) every circuit has its own path, the air may be faster at some heights than at
others, and a place may carry frost. Circuits that are alike and see the same air are held once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.flow.finned_surface import FinGeometry, fin_geometry, fin_parameter_schmidt
from sweatline.parts.circuiting import (
    Circuiting,
    circuiting_error,
    independent_groups,
    marching_order,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_FIN_CONDUCTIVITY = 200.0  # W/(m*K), aluminium fin stock (textbook)

# Columns of the profile that a march fills, one row a cell along the circuits; `position` is the
# height times the cells of a tube plus the cell.
PROFILE = (
    "row",
    "position",
    "pressure_Pa",
    "enthalpy_J_per_kg",
    "quality",
    "refrigerant_temperature_K",
    "surface_temperature_K",
    "heat_W",
    "water_kg_per_s",
    "air_in_temperature_K",
    "air_out_temperature_K",
    "air_out_humidity_ratio",
    "charge_kg",
)


class TubeLayout(NamedTuple):
    """Which tube lies where, what feeds it, and the order in which to march.

    Tubes are counted along the circuits that are held; heights are those of the tubes held.
    """

    cells: int  # along a tube
    guesses: int  # states that have to be guessed
    # One array, because a kernel pays for every array that it hands over. (6, tubes): row, 0 where
    # the air enters; index into the heights; circuit; 1 from the end where the circuit begins, 0
    # back; order in which to march; number of the guessed state, -1 fed by the tube before.
    tubes: IntArray
    circuit_end: IntArray  # (circuits,) last tube
    circuit_times: FloatArray  # (circuits,) like circuits in the coil
    height_times: FloatArray  # (heights,) like heights in the coil

    @property
    def row(self) -> IntArray:
        """Row of every tube, 0 where the air enters. (tubes,)"""
        found: IntArray = self.tubes[0]
        return found


class CoilParameters(NamedTuple):
    """A coil as the kernels see it."""

    rows: int
    circuits: float  # side by side
    row_length: float  # m of tube in one row of a mean circuit
    bore: float  # m, inside of the tube
    bend_share: float  # m of return bend per m of tube
    bend_radius: float  # m, of its centre line
    friction_multiplier: float  # uncertainty of the pressure drop
    face_area: float  # m2
    outside_per_length: float  # m2 of outside surface per metre of tube
    fins: FinGeometry
    fin_constant: float  # m r phi over the square root of the coefficient, (m2*K/W)^0.5
    air_multiplier: float  # uncertainty and fouling of the air side
    inner_multiplier: float  # uncertainty of boiling or condensation
    charge_multiplier: float  # uncertainty of the inventory
    layout: TubeLayout
    speed: FloatArray  # (heights, cells) air over its mean across the face
    coefficient: FloatArray  # (rows, heights, cells) local multiplier of the air side
    layer: FloatArray  # (rows, heights, cells) m2*K/W on the outside surface, frost
    fusion: float  # J/kg given up by water that freezes; 0 counts all of it as liquid

    @property
    def cells(self) -> int:
        """Cells in a row of a mean circuit."""
        heights = float(self.layout.height_times.sum())
        return max(round(heights / self.circuits * self.layout.cells), 1)

    @property
    def cell_length(self) -> float:
        """Tube in a cell. [m]"""
        whole = self.row_length * self.circuits
        return float(whole / self.layout.height_times.sum() / self.layout.cells)

    @property
    def counter(self) -> bool:
        """Whether the refrigerant of the first circuit enters in the row where the air leaves."""
        return bool(self.layout.row[0] == self.rows - 1)

    @property
    def first_circuit(self) -> int:
        """Rows of a profile that belong to the first circuit."""
        return int(self.layout.circuit_end[0] + 1) * self.layout.cells

    def air_shares(self, positions: FloatArray) -> FloatArray:
        """Relative air flow through cells, from the column `position` of a profile. [-]"""
        place = positions.astype(np.int64)
        shares: FloatArray = (self.layout.height_times[:, None] * self.speed).ravel()[place]
        return shares


class RefrigerantInlet(NamedTuple):
    """Refrigerant entering a coil, all circuits."""

    flow: float  # kg/s
    pressure: float  # Pa
    enthalpy: float  # J/kg


class AirInlet(NamedTuple):
    """Air entering a coil."""

    temperature: float  # K
    humidity: float  # kg/kg
    flow: float  # kg/s of dry air


class CoilMemory(NamedTuple):
    """What a march keeps for the next one of the same coil, and where it writes its cells."""

    # (n, 2) guessed states [J/kg, Pa] and, when there are several circuits, the logarithms of their
    # shares of the flow with a one beside them; zeros at first.
    entry: FloatArray
    inverse: FloatArray  # (m, m) Broyden's inverse, scaled; zeros at first
    profile: FloatArray  # (tubes*cells, 13) with the columns of PROFILE, or (0, 13)


def coil_memory(coil: CoilParameters, *, profile: bool = False) -> CoilMemory:
    """Fresh memory for a coil, with room for its profile if asked."""
    circuits = len(coil.layout.circuit_end)
    split = circuits if circuits > 1 else 0
    states = coil.layout.guesses
    n = 2 * states + split
    cells = coil.layout.tubes.shape[1] * coil.layout.cells if profile else 0
    return CoilMemory(
        np.zeros((states + split, 2)), np.zeros((n, n)), np.zeros((cells, len(PROFILE)))
    )


class CoilResult(NamedTuple):
    """What a march through a coil yields."""

    pressure: float  # Pa at the outlet
    enthalpy: float  # J/kg at the outlet
    heat: float  # W, to the refrigerant
    water: float  # kg/s condensed on the surface
    air_enthalpy: float  # J/kg dry air, mixed outlet
    air_humidity: float  # kg/kg, mixed outlet
    charge: float  # kg inside the finned tubes
    coldest: float  # K, mean of the coldest tenth of an evaporator's surface
    coldest_spot: float  # K, of all pieces of cells; moves by steps
    wet_share: float  # of the outside surface
    frost_share: float  # of the outside surface: wet and below freezing
    sweeps: int  # passes through the tubes; negative when they did not settle


def coil_parameters(
    *,
    tube_outer_diameter: float,
    tube_wall: float,
    rows: int,
    tubes_per_row: int,
    transverse_pitch: float,
    longitudinal_pitch: float,
    finned_length: float,
    fin_pitch: float,
    fin_thickness: float,
    circuits: int,
    counter: bool,
    cells: int = 12,
    air_multiplier: float = 1.0,
    inner_multiplier: float = 1.0,
    charge_multiplier: float = 1.0,
) -> CoilParameters:
    """A coil in the simple form from what calliper and tape give, all in metres.

    `cells` is per row of one circuit; counter flow begins in the row where the air leaves.
    """
    fins = fin_geometry(
        tube_outer_diameter,
        fin_thickness,
        fin_pitch,
        transverse_pitch,
        longitudinal_pitch,
        float(rows),
        True,
    )
    face = tubes_per_row * transverse_pitch * finned_length
    bore = tube_outer_diameter - 2.0 * tube_wall
    return CoilParameters(
        rows=rows,
        circuits=float(circuits),
        row_length=finned_length * tubes_per_row / circuits,
        bore=bore,
        bend_share=0.5 * math.pi * transverse_pitch / finned_length,
        bend_radius=0.5 * transverse_pitch,
        friction_multiplier=1.0,
        face_area=face,
        outside_per_length=fins.area_ratio * transverse_pitch / rows,
        fins=fins,
        fin_constant=fin_parameter_schmidt(
            1.0,
            _FIN_CONDUCTIVITY,
            fin_thickness,
            0.5 * fins.Dc,
            transverse_pitch,
            longitudinal_pitch,
            True,
        ),
        air_multiplier=air_multiplier,
        inner_multiplier=inner_multiplier,
        charge_multiplier=charge_multiplier,
        layout=serpentine(rows, circuits, cells, counter=counter),
        speed=np.ones((1, cells)),
        coefficient=np.ones((rows, 1, cells)),
        layer=np.zeros((rows, 1, cells)),
        fusion=0.0,
    )


def serpentine(rows: int, circuits: int, cells: int, *, counter: bool) -> TubeLayout:
    """A row of one circuit as one tube; like circuits side by side."""
    path = tuple((row, 0) for row in (range(rows - 1, -1, -1) if counter else range(rows)))
    return _layout((path,), [circuits], cells)


def _layout(paths: Circuiting, times: list[int], cells: int) -> TubeLayout:
    """Layout of circuits that are held, each standing for so many of its kind."""
    heights: dict[int, int] = {}
    for path in paths:
        for _row, tube in path:
            heights.setdefault(tube, len(heights))
    height_times = np.zeros(len(heights))
    for path, n in zip(paths, times, strict=True):
        for _row, tube in path:
            height_times[heights[tube]] = n
    order, torn = marching_order(paths)
    guess = np.full(len(order), -1, dtype=np.int64)
    guess[np.flatnonzero(torn)] = np.arange(sum(torn))
    lengths = [len(path) for path in paths]
    return TubeLayout(
        cells=cells,
        guesses=sum(torn),
        tubes=np.array(
            [
                [row for path in paths for row, _ in path],
                [heights[tube] for path in paths for _, tube in path],
                np.repeat(np.arange(len(paths)), lengths),
                np.concatenate([1 - np.arange(n) % 2 for n in lengths]),
                order,
                guess,
            ],
            dtype=np.int64,
        ),
        circuit_end=np.cumsum(lengths) - 1,
        circuit_times=np.array(times, dtype=float),
        height_times=height_times,
    )


def tube_by_tube(
    coil: CoilParameters,
    *,
    tubes_per_row: int,
    circuiting: Circuiting,
    profile: Sequence[float] = (),
    cells: int = 1,
) -> CoilParameters:
    """The same coil with a path of its own for every circuit.

    Parameters
    ----------
    coil : CoilParameters
        In either form; its layout is not used.
    circuiting : Circuiting
        Paths that use every tube once.
    profile : sequence of float, optional
        (tubes_per_row,) speed of the air at the height of each tube, in any unit; even by default.
    cells : int
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
    held = tuple(path for group in groups for path in group.paths)
    layout = _layout(held, [group.times for group in groups for _ in group.paths], cells)
    # In the order in which the circuits that are held come by them, as in the layout.
    heights = list(dict.fromkeys(tube for path in held for _row, tube in path))
    circuits = len(circuiting)
    return coil._replace(
        circuits=float(circuits),
        row_length=coil.row_length * coil.circuits / tubes_per_row * tubes_per_row / circuits,
        layout=layout,
        speed=np.repeat(speeds[heights][:, None], cells, axis=1),
        coefficient=np.ones((coil.rows, len(heights), cells)),
        layer=np.zeros((coil.rows, len(heights), cells)),
        fusion=0.0,
    )
