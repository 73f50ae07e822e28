"""Inside a smooth tube: heat transfer of one phase and of a blend, and friction.

Every function is a compiled kernel on floats. Two-phase gradients take the whole range of
quality, 0 and 1 included, so that a march never has to switch formula. Boiling and condensation
have modules of their own and rest on this one.

As a blend with glide condenses, its temperature falls and the gas that is left has to be cooled
with it. That sensible heat passes from the gas to the liquid surface through the gas's own film,
which is poor. The same holds, warming, for the gas beside a boiling blend.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    mass_flux  mass flow per flow area [kg/(m2*s)]
    x          quality; values outside 0 to 1 are taken as the nearer end [-]
    D          inner diameter [m]
    vl         specific volume of the liquid [m3/kg]
    vg         specific volume of the vapour [m3/kg]
    mul        viscosity of the liquid [Pa*s]
    mug        viscosity of the vapour [Pa*s]
    kg         thermal conductivity of the vapour [W/(m*K)]
    cpg        heat capacity of the vapour [J/(kg*K)]
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from sweatline.compiled import kernel

LAMINAR_NUSSELT: Final = 3.66  # developed laminar flow, constant wall temperature
_LAMINAR: Final = 2300.0  # Reynolds number below which flow is laminar
_TURBULENT: Final = 4000.0  # Reynolds number above which flow is turbulent


class Phases(NamedTuple):
    """A refrigerant at saturation, as boiling and condensation see it."""

    p: float  # Pa
    pc: float  # Pa, critical
    molar_mass: float  # kg/mol
    vl: float  # m3/kg, liquid
    vg: float  # m3/kg, vapour
    latent: float  # J/kg
    mul: float  # Pa*s, liquid
    mug: float  # Pa*s, vapour
    kl: float  # W/(m*K), liquid
    kg: float  # W/(m*K), vapour
    cpl: float  # J/(kg*K), liquid
    cpg: float  # J/(kg*K), vapour
    sigma: float  # N/m, surface tension


@kernel
def _nusselt_turbulent(Re: float, Pr: float) -> float:
    """Gnielinski (2013) eq. (4) with Konakov's friction factor, eq. (5)."""
    f = (1.8 * math.log10(Re) - 1.5) ** -2
    damping = 1.0 + 12.7 * math.sqrt(f / 8.0) * (Pr ** (2.0 / 3.0) - 1.0)
    nusselt: float = f / 8.0 * (Re - 1000.0) * Pr / damping
    return nusselt


@kernel
def nusselt_gnielinski(Re: float, Pr: float) -> float:
    r"""Nusselt number of developed flow in a smooth tube, continuous over all Reynolds numbers.

    Laminar 3.66 up to Re = 2300; above 4000
    :math:`Nu = \frac{(f/8)(Re - 1000)Pr}{1 + 12.7\sqrt{f/8}\,(Pr^{2/3} - 1)}`,
    :math:`f = (1.8 \log_{10} Re - 1.5)^{-2}`; between, a straight line in Re.

    Parameters
    ----------
    Re : float
        Reynolds number. [-]
    Pr : float
        Prandtl number, 0.5 to 2000. [-]

    Returns
    -------
    float
        Nusselt number. [-]

    Notes
    -----
    Entrance and wall-property corrections are left out: in a long coil tube they are below 5 %.
    The author states 90 % of 800 points within 20 %.

    References
    ----------
    Gnielinski, "On heat transfer in tubes", International Journal of Heat and Mass Transfer, 63,
    pages 134-140, 2013.
    """
    if Re <= _LAMINAR:
        return LAMINAR_NUSSELT
    if Re >= _TURBULENT:
        return _nusselt_turbulent(Re, Pr)
    share = (Re - _LAMINAR) / (_TURBULENT - _LAMINAR)
    return (1.0 - share) * LAMINAR_NUSSELT + share * _nusselt_turbulent(_TURBULENT, Pr)


@kernel
def heat_transfer_single_phase(mass_flux: float, D: float, mu: float, k: float, cp: float) -> float:
    """Heat transfer coefficient of one phase inside a smooth tube.

    Parameters
    ----------
    mu : float
        Dynamic viscosity. [Pa*s]
    k : float
        Thermal conductivity. [W/(m*K)]
    cp : float
        Heat capacity. [J/(kg*K)]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    References
    ----------
    See `nusselt_gnielinski`.
    """
    return nusselt_gnielinski(mass_flux * D / mu, mu * cp / k) * k / D


_END: Final = 0.01  # span of quality below dry vapour over which the correction is led out


@kernel
def coefficient_with_glide(
    film: float,
    x: float,
    mass_flux: float,
    D: float,
    glide: float,
    latent: float,
    mug: float,
    kg: float,
    cpg: float,
) -> float:
    r"""Coefficient of a blend, from that of a pure fluid with its properties.

    .. math::
        \frac{1}{\alpha} = \frac{1}{\alpha_{film}} + \frac{Z}{\alpha_g}, \qquad
        Z = x\,c_{p,g}\,\frac{dT}{dh} = x\,c_{p,g}\,\frac{T_{dew} - T_{bubble}}{h_{lg}}

    with the gas alone in the tube at its own mass flux. Z is the share of the heat that is
    sensible heat of the gas.

    Parameters
    ----------
    film : float
        Coefficient of the liquid film or of the boiling liquid. [W/(m2*K)]
    x : float
        Quality, 0 to 1. [-]
    mass_flux : float
        Mass flow per flow area, both phases. [kg/(m2*s)]
    glide : float
        Dew less bubble temperature at the pressure; 0 leaves `film` as it is. [K]
    latent : float
        Dew less bubble enthalpy. [J/kg]

    Returns
    -------
    float
        Heat transfer coefficient, at most `film`. [W/(m2*K)]

    Notes
    -----
    Made for condensation; taken for boiling too, where it leaves out that bubbles grow more slowly
    in a blend. Over the last hundredth of quality it is led out to the dry vapour.

    References
    ----------
    Silver, "Gas cooling with aqueous condensation", Transactions of the Institution of Chemical
    Engineers, 25, pages 30-42, 1947. Bell and Ghaly, "An approximate generalized design method for
    multicomponent partial condensers", AIChE Symposium Series, 69, pages 72-79, 1973.
    """
    if glide <= 0.0 or x <= 0.0 or x >= 1.0:
        return film
    share = x * cpg * glide / latent
    if x > 1.0 - _END:
        s = (1.0 - x) / _END
        share *= s * s * (3.0 - 2.0 * s)
    gas = heat_transfer_single_phase(mass_flux * x, D, mug, kg, cpg)
    return film / (1.0 + film * share / gas)


@kernel
def darcy_friction_churchill(Re: float, relative_roughness: float) -> float:
    r"""Darcy friction factor from laminar through transition to fully rough flow.

    One smooth expression for all Reynolds numbers:
    :math:`f = 8 [(8/Re)^{12} + (A + B)^{-3/2}]^{1/12}`,
    :math:`A = \{2.457 \ln [((7/Re)^{0.9} + 0.27\,\epsilon/D)^{-1}]\}^{16}`,
    :math:`B = (37530/Re)^{16}`.

    Parameters
    ----------
    Re : float
        Reynolds number; values below 1e-6 are taken as 1e-6. [-]
    relative_roughness : float
        Roughness height over inner diameter, 0 to 0.05. [-]

    Returns
    -------
    float
        Darcy friction factor, four times Fanning's. [-]

    Notes
    -----
    Within 0.5 % of Colebrook's equation in turbulent flow (up to 3 % near Re = 4000, rough tube).

    References
    ----------
    Churchill, "Friction-factor equation spans all fluid-flow regimes", Chemical Engineering,
    84(24), pages 91-92, 1977.
    """
    per_re = 1.0 / max(Re, 1e-6)
    # Whole powers by squaring, the others by logarithms: half the time of the power function.
    A = 2.457 * math.log(math.exp(0.9 * math.log(7.0 * per_re)) + 0.27 * relative_roughness)
    A *= A
    A *= A
    A *= A
    A *= A
    B = 37530.0 * per_re
    B *= B
    B *= B
    B *= B
    B *= B
    C = 8.0 * per_re
    C *= C
    C *= C
    C *= C * C
    both = A + B
    f: float = 8.0 * math.exp(math.log(C + 1.0 / (both * math.sqrt(both))) / 12.0)
    return f


@kernel
def _friction_blasius(Re: float) -> float:
    """64/Re and 0.3164/Re^0.25, which cross at Re = 1187: the larger is continuous."""
    Re = max(Re, 1e-6)
    turbulent: float = 0.3164 * Re**-0.25
    return max(64.0 / Re, turbulent)


@kernel
def gradient_mueller_steinhagen_heck(
    mass_flux: float, x: float, D: float, vl: float, vg: float, mul: float, mug: float
) -> float:
    r"""Two-phase frictional pressure gradient in a smooth tube.

    An interpolation between all-liquid and all-gas flow; among the best in independent
    comparisons with refrigerant data, and exact at both ends:
    :math:`-dp/dz = [a + 2(b - a)x](1 - x)^{1/3} + b x^3` with
    :math:`a = f_l G^2 v_l/(2D)`, :math:`b = f_g G^2 v_g/(2D)`,
    :math:`f = 64/Re` up to Re = 1187, :math:`0.3164/Re^{1/4}` above.

    Returns
    -------
    float
        Pressure lost per length. [Pa/m]

    Notes
    -----
    Fitted to 9300 points, 4 to 392 mm, mass flux 50 to 2490 kg/(m2*s), several fluids; the
    authors state an average deviation of 42 %. Take its scatter as 30 % for refrigerants. Its
    slope with quality is unbounded at x = 1, the gradient itself is continuous.

    References
    ----------
    Müller-Steinhagen and Heck, "A simple friction pressure drop correlation for two-phase flow
    in pipes", Chemical Engineering and Processing, 20, pages 297-308, 1986.
    """
    x = min(max(x, 0.0), 1.0)
    dynamic = mass_flux * mass_flux / (2.0 * D)
    a = _friction_blasius(mass_flux * D / mul) * dynamic * vl
    b = _friction_blasius(mass_flux * D / mug) * dynamic * vg
    gradient: float = (a + 2.0 * (b - a) * x) * (1.0 - x) ** (1.0 / 3.0) + b * x**3
    return gradient


@kernel
def gradient_bend_padilla(
    mass_flux: float, x: float, bend_radius: float, vl: float, vg: float
) -> float:
    r"""Pressure gradient that the turn of a return bend adds to that of a straight tube.

    :math:`-dp/dz = a\,(\rho_v J_v^2/R)(J_l^2/R)^{1/3}` with
    :math:`a = 0.047\,\mathrm{s^{2/3} m^{-1/3}}`, :math:`J_v = G x v_g`, :math:`J_l = G(1 - x)v_l`.
    It vanishes where one phase flows alone; there a bend loses :math:`K = 0.3` dynamic heads,
    which fade as :math:`(1 - x)^3` and :math:`x^3` of liquid and vapour.

    Parameters
    ----------
    x : float
        Quality, held within 0 and 1. [-]
    bend_radius : float
        Radius of the bend's centre line, half the distance between the tubes it joins. [m]

    Returns
    -------
    float
        Pressure lost per length of the bend, beyond the friction of a straight tube. [Pa/m]

    Notes
    -----
    Fitted to 325 points with R-12, R-134a and R-410A from two laboratories; the two constants are
    recalled (MEMORY 0.7), and so is K, 0.2 to 0.4 (MEMORY 0.6); that it fades so is a choice of
    this project. The whole bend then counts as 10 to 20 bores of straight tube.

    References
    ----------
    Padilla, Revellin and Bonjour, "Prediction and simulation of two-phase pressure drop in return
    bends", International Journal of Refrigeration, 32(7), pages 1776-1783, 2009.
    """
    x = min(max(x, 0.0), 1.0)
    y = 1.0 - x
    per_radius = mass_flux * mass_flux / bend_radius
    liquid = y * y * vl * vl * per_radius  # J_l^2/R
    turn: float = 0.047 * x * x * vg * per_radius * liquid ** (1.0 / 3.0)
    heads = 0.3 / (2.0 * math.pi) * per_radius * (y**3 * vl + x**3 * vg)
    return turn + heads
