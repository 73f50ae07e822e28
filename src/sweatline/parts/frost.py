"""Frost on a coil: what it weighs, how it insulates, how it closes the way of the air.

A coil tube by tube keeps for every cell the mass of frost on it. Thickness follows from density,
resistance from conductivity. The layer grows on fins and tubes from both sides into the gap;
channels of air beside each other share one pressure drop, so that air leaves the ones that close
first. The fan answers along its characteristic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import dew_point
from sweatline.compiled import kernel
from sweatline.constants import ZERO_CELSIUS
from sweatline.flow.finned_surface import (
    WET_FRICTION_RATIO,
    FinGeometry,
    air_pressure_drop,
    air_side_coefficient,
    fin_geometry,
    frost_conductivity_lee,
    frost_density_silva,
)
from sweatline.parts.cell import FREEZING_SPAN
from sweatline.parts.coil import PROFILE, CoilParameters

FloatArray = NDArray[np.float64]

HEAT_OF_FUSION = 333.6e3  # J/kg (textbook)
ICE_HEAT = 2.1e3  # J/(kg*K) (textbook)
_CLOSED = 0.98  # of the half gap: a layer does not grow beyond


class AirPath(NamedTuple):
    """The fan and all that resists it but the evaporator, at the airflow of the clean machine."""

    flux: float  # kg/(m2*s) of dry air over the evaporator's face
    temperature: float  # K, entering
    humidity: float  # kg/kg
    density: float  # kg/m3
    coil_drop: float  # Pa, clean evaporator
    other_drop: float  # Pa, condenser, grilles and casing
    shut_off: float  # Pa, static pressure of the fan with no air moving


@dataclass(frozen=True, slots=True, kw_only=True)
class Frost:
    """Frost on every cell of a coil, (rows, heights, tube_cells) each."""

    mass: FloatArray  # kg/m2 of outside surface
    density: FloatArray  # kg/m3, 0 where there is none

    @property
    def thickness(self) -> FloatArray:
        """Of the layer. [m]"""
        found: FloatArray = self.mass / np.maximum(self.density, 1.0)
        return found


def bare(coil: CoilParameters) -> Frost:
    """No frost yet."""
    return Frost(mass=np.zeros(coil.layer.shape), density=np.zeros(coil.layer.shape))


def half_gap(fins: FinGeometry) -> float:
    """Half the space between two fins. [m]"""
    return 0.5 * (fins.fin_pitch - fins.fin_thickness)


@kernel
def with_layer(fins: FinGeometry, thickness: float) -> FinGeometry:
    """The block with fins and collars grown by a layer."""
    return fin_geometry(
        fins.Dc - 2.0 * fins.fin_thickness - 2.0 * thickness,
        fins.fin_thickness + 2.0 * thickness,
        fins.fin_pitch,
        fins.Pt,
        fins.Pl,
        fins.rows,
        fins.staggered,
    )


@kernel
def _drop(
    flux: float, t: float, w: float, rho: float, fins: FinGeometry, thick: FloatArray
) -> float:
    """Pressure lost in one channel through its rows, each with its layer (rows,). [Pa]"""
    lost = 0.0
    for row in range(thick.shape[0]):
        lost += air_pressure_drop(
            flux, t, w, rho, rho, WET_FRICTION_RATIO, with_layer(fins, thick[row])
        )
    mean: float = lost / thick.shape[0]
    return mean


@kernel
def _flux_at(
    drop: float, start: float, t: float, w: float, rho: float, fins: FinGeometry, thick: FloatArray
) -> float:
    """Face flux of a channel that loses a given pressure. [kg/(m2*s)]"""
    ln = math.log(start)
    for _ in range(60):
        gap = math.log(drop / _drop(math.exp(ln), t, w, rho, fins, thick))
        ln += gap / 1.7  # the drop goes with the flux to a power of 1 (laminar) to 2
        if abs(gap) < 1e-12:
            break
    return math.exp(ln)


@kernel
def _divided(
    path: AirPath,
    fins: FinGeometry,
    thick: FloatArray,
    profile: FloatArray,
    weight: FloatArray,
    fluxes: FloatArray,
) -> float:
    """Fluxes of all channels (n,) where fan and resistance meet; returns the drop. [Pa]

    `thick` is (n, rows), `profile` the speeds of the clean face, `weight` how often a channel
    stands in it.
    """
    n = profile.shape[0]
    low = math.log(1e-6 * path.shut_off)
    high = math.log(path.shut_off)
    drop = 0.0
    for _ in range(60):
        drop = math.exp(0.5 * (low + high))
        total = 0.0
        count = 0.0
        for c in range(n):
            start = fluxes[c] if fluxes[c] > 0.0 else path.flux
            fluxes[c] = _flux_at(
                drop, start, path.temperature, path.humidity, path.density, fins, thick[c]
            )
            total += weight[c] * profile[c] * fluxes[c]
            count += weight[c]
        x = total / count / path.flux
        working = path.coil_drop + path.other_drop
        # The fan's pressure falls with the square of the flow, from shut-off through its point.
        fan = path.shut_off - (path.shut_off - working) * x * x
        if fan - path.other_drop * x * x - drop > 0.0:
            low = math.log(drop)
        else:
            high = math.log(drop)
    return drop


def air_through(
    coil: CoilParameters, frost: Frost, path: AirPath
) -> tuple[float, FloatArray, float]:
    """What the fan still moves.

    Parameters
    ----------
    coil : CoilParameters
        Clean, with the speeds of its clean face.
    frost : Frost
        On it.
    path : AirPath
        The fan and the rest of the way.

    Returns
    -------
    float
        Airflow over that of the clean machine. [-]
    (heights, tube_cells) array
        Speed of the air over its mean across the face. [-]
    float
        Pressure lost in the coil. [Pa]
    """
    rows = coil.rows
    limit = _CLOSED * half_gap(coil.fins)
    thick = np.minimum(frost.thickness, limit).reshape(rows, -1).T.copy()
    profile = coil.speed.ravel()
    weight = np.repeat(coil.layout.height_times, coil.layout.cells)
    fluxes = np.zeros(len(profile))
    drop = _divided(path, coil.fins, thick, profile, weight, fluxes)
    speed = profile * fluxes / path.flux
    mean = float(np.average(speed, weights=weight))
    return mean, (speed / mean).reshape(coil.speed.shape), drop


def air_path(
    coil: CoilParameters,
    behind: FinGeometry,
    *,
    face_ratio: float,
    air_flow: float,
    temperature: float,
    humidity: float,
    density: float,
    shut_off: float | None,
) -> AirPath:
    """Resistances of the clean machine, and its fan.

    Parameters
    ----------
    coil : CoilParameters
        The evaporator, clean.
    behind : FinGeometry
        Fins of the condenser in the same stream.
    face_ratio : float
        Face of the condenser over that of the evaporator. [-]
    air_flow : float
        Dry air. [kg/s]
    temperature, humidity, density : float
        Of the air entering. [K], [kg/kg], [kg/m3]
    shut_off : float, optional
        Static pressure of the fan with no air moving; by default twice that at work. [Pa]
    """
    flux = air_flow / coil.face_area
    thick = np.zeros(coil.rows)
    own = float(_drop(flux, temperature, humidity, density, coil.fins, thick))
    other = float(
        air_pressure_drop(flux / face_ratio, temperature, humidity, density, density, 1.0, behind)
    )
    other += own + other  # grilles and casing take as much as both coils (common practice)
    working = own + other
    return AirPath(
        flux=flux,
        temperature=temperature,
        humidity=humidity,
        density=density,
        coil_drop=own,
        other_drop=other,
        shut_off=max(2.0 * working if shut_off is None else shut_off, 1.05 * working),
    )


def frosted(coil: CoilParameters, frost: Frost, path: AirPath, speed: FloatArray) -> CoilParameters:
    """The coil as it is under its frost, with the speeds the fan still gives it.

    `speed` is relative to its mean (heights, tube_cells); `path` counts with the airflow it has
    now, not with that of the clean machine.
    """
    thickness = np.minimum(frost.thickness, _CLOSED * half_gap(coil.fins))
    coefficient = np.ones(coil.coefficient.shape)
    state = path.temperature, path.humidity
    for row, t, k in np.ndindex(*coefficient.shape):
        layer, flux = float(thickness[row, t, k]), path.flux * float(speed[t, k])
        if layer > 0.0:
            under = air_side_coefficient(flux, *state, with_layer(coil.fins, layer))
            coefficient[row, t, k] = under / air_side_coefficient(flux, *state, coil.fins)
    conductivity = np.array([frost_conductivity_lee(float(d)) for d in frost.density.ravel()])
    return coil._replace(
        speed=speed,
        coefficient=coefficient * coil.coefficient,
        layer=thickness / conductivity.reshape(thickness.shape),
        fusion=HEAT_OF_FUSION,
    )


_COLUMN = {name: n for n, name in enumerate(PROFILE)}


def freezing(coil: CoilParameters, profile: FloatArray) -> FloatArray:
    """Water that freezes on every cell, from the profile of a march. [kg/(m2*s)]

    (rows, heights, tube_cells), per outside surface.
    """
    surface = profile[:, _COLUMN["surface_temperature_K"]]
    frozen = np.clip((ZERO_CELSIUS - surface) / FREEZING_SPAN, 0.0, 1.0)
    rate = profile[:, _COLUMN["water_kg_per_s"]] * frozen
    return _placed(coil, profile, rate) / (
        coil.layout.height_times[None, :, None] * coil.cell_length * coil.outside_per_length
    )


def _placed(coil: CoilParameters, profile: FloatArray, values: FloatArray) -> FloatArray:
    """Values along the circuits, by their places in the coil. (rows, heights, tube_cells)"""
    found = np.zeros(coil.layer.shape)
    row = profile[:, _COLUMN["row"]].astype(int)
    height, cell = np.divmod(profile[:, _COLUMN["position"]].astype(int), coil.layout.cells)
    found[row, height, cell] = values
    return found


def grown(
    coil: CoilParameters,
    frost: Frost,
    profile: FloatArray,
    *,
    air_humidity: float,
    pressure: float,
    seconds: float,
    density_factor: float = 1.0,
) -> Frost:
    """Frost after some seconds in the state of a profile.

    Parameters
    ----------
    coil : CoilParameters
        That was marched.
    frost : Frost
        Before.
    profile : (n, 13) array
        Of the march. [as the columns say]
    air_humidity : float
        Of the air entering the coil. [kg/kg]
    pressure : float
        Atmospheric. [Pa]
    seconds : float
        Duration. [s]
    density_factor : float
        On the density of the correlation. [-]
    """
    rate = freezing(coil, profile)
    surface = _placed(coil, profile, profile[:, _COLUMN["surface_temperature_K"]])
    leaving = _placed(coil, profile, profile[:, _COLUMN["air_out_humidity_ratio"]])
    entering = np.concatenate((np.full((1, *leaving.shape[1:]), air_humidity), leaving[:-1]))
    density = frost.density.copy()
    for place in zip(*np.nonzero(rate), strict=True):
        dew = dew_point(float(entering[place]), pressure)
        # A layer grows denser as its surface warms, never lighter.
        fresh = density_factor * frost_density_silva(float(surface[place]), dew)
        density[place] = max(density[place], fresh)
    return Frost(mass=frost.mass + rate * seconds, density=density)
