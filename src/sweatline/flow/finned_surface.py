"""Air over plain fins on round tubes: areas, heat transfer, pressure drop, fin efficiency, frost.

Areas are per unit of face area, so that a coil of any height and width shares them. Every
function is a compiled kernel on floats. Frost on the fins: how dense it grows and how well it
conducts.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from sweatline.air.moist import conductivity, moist_heat_capacity, viscosity
from sweatline.compiled import kernel
from sweatline.constants import ZERO_CELSIUS

# Wet over dry pressure drop of uncoated fins, with a scatter of 0.25. Print gives 1.6 to 2.2 for
# the friction factor (Wang, Hsieh and Lin 1997, recalled), practice 1.3 to 2.0 for the pressure
# drop; a hydrophilic coating takes 40 to 50 % off.
WET_FRICTION_RATIO: Final = 1.7
_LOWEST_REYNOLDS: Final = 200.0  # below it the correlations are continued with constant Nu
_HIGHEST_REYNOLDS: Final = 2.0e4


class FinGeometry(NamedTuple):
    """A block of plain fins on round tubes, its areas per unit of face area.

    Attributes
    ----------
    rows : float
        Tube rows in the direction of the air. [-]
    fin_pitch : float
        Distance from fin to fin. [m]
    fin_thickness : float
        Thickness of a fin. [m]
    Pt : float
        Tube pitch across the air. [m]
    Pl : float
        Row pitch along the air. [m]
    staggered : bool
        Whether the rows are offset.
    Dc : float
        Outer diameter of tube and fin collar. [m]
    Dh : float
        Hydraulic diameter. [m]
    sigma : float
        Free-flow area over face area. [-]
    area_ratio : float
        Outer surface over face area, all rows. [-]
    fin_fraction : float
        Share of the fins in the outer surface. [-]
    depth : float
        Depth of the block along the air. [m]
    """

    rows: float
    fin_pitch: float
    fin_thickness: float
    Pt: float
    Pl: float
    staggered: bool
    Dc: float
    Dh: float
    sigma: float
    area_ratio: float
    fin_fraction: float
    depth: float


@kernel
def fin_geometry(
    tube_diameter: float,
    fin_thickness: float,
    fin_pitch: float,
    Pt: float,
    Pl: float,
    rows: float,
    staggered: bool,
) -> FinGeometry:
    """Areas of a fin block, per unit of face area.

    Parameters
    ----------
    tube_diameter : float
        Outer diameter of the bare tube. [m]
    fin_thickness : float
        Thickness of a fin. [m]
    fin_pitch : float
        Distance from fin to fin. [m]
    Pt : float
        Tube pitch across the air. [m]
    Pl : float
        Row pitch along the air. [m]
    rows : float
        Tube rows in the direction of the air. [-]
    staggered : bool
        Whether the rows are offset.

    Returns
    -------
    FinGeometry
        The block.

    Notes
    -----
    Collar diameter Dc = Do + 2 t; least free-flow area between collars of one row and between
    fins, (Pt - Dc)(Fp - t) per Pt Fp; fin edges are not counted; Dh = 4 Ac L/Ao.
    """
    Dc = tube_diameter + 2.0 * fin_thickness
    face = Pt * fin_pitch
    sigma = (Pt - Dc) * (fin_pitch - fin_thickness) / face
    fin = 2.0 * (Pt * Pl - math.pi * Dc * Dc / 4.0) * rows / face
    collar = math.pi * Dc * (fin_pitch - fin_thickness) * rows / face
    area_ratio = fin + collar
    depth = rows * Pl
    return FinGeometry(
        rows,
        fin_pitch,
        fin_thickness,
        Pt,
        Pl,
        staggered,
        Dc,
        4.0 * sigma * depth / area_ratio,
        sigma,
        area_ratio,
        fin / area_ratio,
        depth,
    )


@kernel
def colburn_factor_wang(
    Re: float, rows: float, Fp: float, Dc: float, Dh: float, Pt: float, Pl: float
) -> float:
    r"""Colburn factor of dry plain fins, staggered tubes.

    One row: :math:`j = 0.108 Re^{-0.29} (P_t/P_l)^{P_1} (F_p/D_c)^{-1.084} (F_p/D_h)^{-0.786}
    (F_p/P_t)^{P_2}`; two or more:
    :math:`j = 0.086 Re^{P_3} N^{P_4} (F_p/D_c)^{P_5} (F_p/D_h)^{P_6} (F_p/P_t)^{-0.93}`;
    the exponents are beside the code.

    Parameters
    ----------
    Re : float
        Reynolds number on collar diameter and largest mass flux, 300 to 20000. Below 200 the
        Nusselt number is kept constant, above 20000 the factor is. [-]
    rows : float
        Tube rows, 1 to 6; between 1 and 2 the one-row form is left for the other. [-]
    Fp : float
        Fin pitch, 1.19 to 8.7 mm. [m]
    Dc : float
        Collar diameter, 6.9 to 13.6 mm. [m]
    Dh : float
        Hydraulic diameter, 1.3 to 9.4 mm. [m]
    Pt : float
        Tube pitch across the air, 17.7 to 31.8 mm. [m]
    Pl : float
        Row pitch along the air, 12.4 to 27.5 mm. [m]

    Returns
    -------
    float
        Colburn factor j = h/(Gc cp) Pr^(2/3). [-]

    Notes
    -----
    Fitted to 74 coils; the authors state 88.6 % of the data within 15 %, mean deviation 7.5 %.
    For four rows below Re = 1000 the older forms of McQuiston (1978) and of Gray and Webb (1986)
    lie 20 to 35 % lower.

    References
    ----------
    Wang, Chi and Chang, "Heat transfer and friction characteristics of plain fin-and-tube heat
    exchangers, part II: Correlation", International Journal of Heat and Mass Transfer, 43,
    pages 2693-2700, 2000.
    """
    inside = min(max(Re, _LOWEST_REYNOLDS), _HIGHEST_REYNOLDS)
    ln = math.log(inside)
    if rows < 1.5:
        P1 = 1.9 - 0.23 * ln
        P2 = -0.236 + 0.126 * ln
        j = (
            0.108
            * inside**-0.29
            * (Pt / Pl) ** P1
            * (Fp / Dc) ** -1.084
            * (Fp / Dh) ** -0.786
            * (Fp / Pt) ** P2
        )
    else:
        P3 = -0.361 - 0.042 * rows / ln + 0.158 * math.log(rows * (Fp / Dc) ** 0.41)
        P4 = -1.224 - 0.076 * (Pl / Dh) ** 1.42 / ln
        P5 = -0.083 + 0.058 * rows / ln
        P6 = -5.735 + 1.21 * math.log(inside / rows)
        j = 0.086 * inside**P3 * rows**P4 * (Fp / Dc) ** P5 * (Fp / Dh) ** P6 * (Fp / Pt) ** -0.93
    continued: float = j * max(_LOWEST_REYNOLDS / max(Re, 1e-6), 1.0)
    return continued


@kernel
def friction_factor_wang(
    Re: float, rows: float, Fp: float, Dc: float, Pt: float, Pl: float
) -> float:
    r"""Friction factor of dry plain fins, staggered tubes.

    :math:`f = 0.0267 Re^{F_1} (P_t/P_l)^{F_2} (F_p/D_c)^{F_3}`; the exponents are beside the code.

    Parameters
    ----------
    Re : float
        Reynolds number on collar diameter and largest mass flux, 300 to 20000. Below 200 the
        factor grows as 1/Re (laminar), above 20000 it is kept. [-]
    rows : float
        Tube rows, 1 to 6. [-]
    Fp : float
        Fin pitch, 1.19 to 8.7 mm. [m]
    Dc : float
        Collar diameter, 6.9 to 13.6 mm. [m]
    Pt : float
        Tube pitch across the air, 17.7 to 31.8 mm. [m]
    Pl : float
        Row pitch along the air, 12.4 to 27.5 mm. [m]

    Returns
    -------
    float
        Fanning friction factor on the outer surface. [-]

    Notes
    -----
    The authors state 85.1 % of the data within 15 %, mean deviation 8.3 %.

    References
    ----------
    Wang, Chi and Chang (2000), as for `colburn_factor_wang`, eqs. (12) to (15).
    """
    inside = min(max(Re, _LOWEST_REYNOLDS), _HIGHEST_REYNOLDS)
    ln = math.log(inside)
    F1 = -0.764 + 0.739 * Pt / Pl + 0.177 * Fp / Dc - 0.00758 / rows
    F2 = -15.689 + 64.021 / ln
    F3 = 1.696 - 15.695 / ln
    f = 0.0267 * inside**F1 * (Pt / Pl) ** F2 * (Fp / Dc) ** F3
    continued: float = f * max(_LOWEST_REYNOLDS / max(Re, 1e-6), 1.0)
    return continued


@kernel
def air_side_coefficient(face_mass_flux: float, T: float, W: float, fins: FinGeometry) -> float:
    """Sensible heat transfer coefficient between air and outer surface.

    Parameters
    ----------
    face_mass_flux : float
        Dry-air mass flow per face area. [kg/(m2*s)]
    T : float
        Mean air temperature. [K]
    W : float
        Humidity ratio of the air. [kg/kg]
    fins : FinGeometry
        The fin block.

    Returns
    -------
    float
        Heat transfer coefficient on the outer surface, h = j Gc cp Pr^(-2/3). [W/(m2*K)]

    References
    ----------
    Wang, Chi and Chang (2000). On a wet surface the same value holds within 10 %: Wang, Hsieh and
    Lin, Journal of Heat Transfer, 119, pages 109-117, 1997.
    """
    mu = viscosity(T)
    k = conductivity(T)
    Gc = face_mass_flux * (1.0 + W) / fins.sigma
    cp = moist_heat_capacity(W) / (1.0 + W)
    j = colburn_factor_wang(
        Gc * fins.Dc / mu, fins.rows, fins.fin_pitch, fins.Dc, fins.Dh, fins.Pt, fins.Pl
    )
    h: float = j * Gc * cp * (mu * cp / k) ** (-2.0 / 3.0)
    return h


@kernel
def air_pressure_drop(
    face_mass_flux: float,
    T: float,
    W: float,
    density_in: float,
    density_out: float,
    friction_ratio: float,
    fins: FinGeometry,
) -> float:
    r"""Pressure lost by the air through a fin block.

    :math:`\Delta p = \frac{G_c^2}{2\rho_i}[f \frac{A_o}{A_c}\frac{\rho_i}{\rho_m} +
    (1 + \sigma^2)(\frac{\rho_i}{\rho_o} - 1)]`.

    Parameters
    ----------
    face_mass_flux : float
        Dry-air mass flow per face area. [kg/(m2*s)]
    T : float
        Mean air temperature. [K]
    W : float
        Humidity ratio of the air. [kg/kg]
    density_in : float
        Density of the entering moist air. [kg/m3]
    density_out : float
        Density of the leaving moist air. [kg/m3]
    friction_ratio : float
        Wet over dry friction: 1 when dry, `WET_FRICTION_RATIO` when wet. [-]
    fins : FinGeometry
        The fin block.

    Returns
    -------
    float
        Pressure drop. [Pa]

    References
    ----------
    Wang, Chi and Chang (2000); without entrance and exit terms, as the factors were reduced.
    """
    Gc = face_mass_flux * (1.0 + W) / fins.sigma
    f = friction_factor_wang(
        Gc * fins.Dc / viscosity(T), fins.rows, fins.fin_pitch, fins.Dc, fins.Pt, fins.Pl
    )
    density = 0.5 * (density_in + density_out)
    friction = friction_ratio * f * fins.area_ratio / fins.sigma * density_in / density
    acceleration = (1.0 + fins.sigma**2) * (density_in / density_out - 1.0)
    return Gc * Gc / (2.0 * density_in) * (friction + acceleration)


@kernel
def fin_parameter_schmidt(
    h: float,
    fin_conductivity: float,
    fin_thickness: float,
    tube_radius: float,
    Pt: float,
    Pl: float,
    staggered: bool,
) -> float:
    r"""What the efficiency of a continuous plate fin, :math:`\eta = \tanh(u)/u`, depends on.

    Schmidt's round fin of the same efficiency: :math:`u = m r \phi`, :math:`m = \sqrt{2h/(k t)}`,
    :math:`\phi = (R/r - 1)(1 + 0.35 \ln(R/r))`; staggered
    :math:`R/r = 1.27 (X_T/r)\sqrt{X_D/X_T - 0.3}`, in line
    :math:`R/r = 1.28 (X_T/r)\sqrt{X_L/X_T - 0.2}`.

    Parameters
    ----------
    h : float
        Heat transfer coefficient, the wet one on a wet surface. [W/(m2*K)]
    fin_conductivity : float
        Thermal conductivity of the fin. [W/(m*K)]
    fin_thickness : float
        Thickness of the fin. [m]
    tube_radius : float
        Outer radius of tube and collar. [m]
    Pt : float
        Tube pitch across the air. [m]
    Pl : float
        Row pitch along the air. [m]
    staggered : bool
        Whether the rows are offset.

    Returns
    -------
    float
        The product u; it goes with the square root of `h`. [-]

    Notes
    -----
    Within 1 % of the exact solution for round fins at efficiencies above 0.5.

    References
    ----------
    Schmidt, "Heat transfer calculations for extended surfaces", Refrigerating Engineering, 57,
    pages 351-357, 1949.
    """
    half = Pt / 2.0
    if staggered:
        other = math.sqrt(Pl * Pl + half * half) / 2.0
        short = min(half, other)
        ratio = 1.27 * short / tube_radius * math.sqrt(max(half, other) / short - 0.3)
    else:
        other = Pl / 2.0
        short = min(half, other)
        ratio = 1.28 * short / tube_radius * math.sqrt(max(half, other) / short - 0.2)
    ratio = max(ratio, 1.0)
    phi = (ratio - 1.0) * (1.0 + 0.35 * math.log(ratio))
    return math.sqrt(2.0 * max(h, 0.0) / (fin_conductivity * fin_thickness)) * tube_radius * phi


_LIGHTEST = 50.0  # kg/m3, lower end of the conductivity's data
_DENSEST = 600.0  # kg/m3, well below ice, for surfaces about to melt


@kernel
def frost_density_silva(surface_temperature: float, dew_point: float) -> float:
    r"""Density of a frost layer on a finned coil in an air stream of a fan.

    :math:`\rho = 494 \exp(0.11\,t_s - 0.06\,t_{dew})`, both in degrees Celsius; kept between 50
    and 600 kg/m3.

    Parameters
    ----------
    surface_temperature : float
        Of the frost, where it meets the air. [K]
    dew_point : float
        Of the air. [K]

    Returns
    -------
    float
        Mean density of the layer. [kg/m3]

    Notes
    -----
    Measured on a tube-fin evaporator: refrigerant at -16 to -4 degrees Celsius, air at 16 to 22
    degrees and 50 to 80 % (range MEMORY 0.6; equation read second-hand). Frost of the same
    conditions differs by a third and more between authors.

    References
    ----------
    Da Silva, Hermes and Melo, "First-principles modeling of frost accumulation on fan-supplied
    tube-fin evaporators", Applied Thermal Engineering, 31, pages 2616-2621, 2011.
    """
    ts = min(surface_temperature, ZERO_CELSIUS) - ZERO_CELSIUS
    density: float = 494.0 * math.exp(0.11 * ts - 0.06 * (dew_point - ZERO_CELSIUS))
    return min(max(density, _LIGHTEST), _DENSEST)


@kernel
def frost_conductivity_lee(density: float) -> float:
    r"""Thermal conductivity of frost.

    :math:`k = 0.132 + 3.13 \cdot 10^{-4} \rho + 1.6 \cdot 10^{-7} \rho^2`.

    Parameters
    ----------
    density : float
        Of the frost: 50 to 400. [kg/m3]

    Returns
    -------
    float
        Thermal conductivity. [W/(m*K)]

    References
    ----------
    Lee, Kim and Lee, "A one-dimensional model for frost formation on a cold flat surface",
    International Journal of Heat and Mass Transfer, 40, pages 4359-4365, 1997 (equation read
    second-hand).
    """
    return 0.132 + 3.13e-4 * density + 1.6e-7 * density * density
