"""Boiling inside horizontal smooth tubes, up to and through dry-out.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    mass_flux   mass flow per flow area [kg/(m2*s)]
    x           quality; values outside 0 to 1 are taken as the nearer end [-]
    D           inner diameter [m]
    heat_flux   heat flux at the inner wall; negative values are taken as 0 [W/m2]
    p           pressure [Pa]
    pc          critical pressure [Pa]
    molar_mass  molar mass [kg/mol]
    vl          specific volume of the liquid [m3/kg]
    vg          specific volume of the vapour [m3/kg]
    sigma       surface tension [N/m]
    latent      heat of vaporization [J/kg]
    phases      both phases at saturation [SI units]
"""

import math
from typing import Final

from sweatline.compiled import kernel
from sweatline.constants import GRAVITY
from sweatline.flow.inside_tube import Phases, heat_transfer_single_phase

_LN_10: Final = math.log(10.0)
_STRATIFIED: Final = 0.05  # Froude number below which the authors correct for stratification


@kernel
def pool_boiling_cooper(heat_flux: float, p: float, pc: float, molar_mass: float) -> float:
    r"""Pool boiling coefficient on a surface of 1 µm roughness.

    :math:`h = 55\, p_r^{0.12} (-\log_{10} p_r)^{-0.55} M^{-0.5} q^{0.67}` with the exponent 2/3 as
    Liu and Winterton use it.

    Parameters
    ----------
    molar_mass : float
        Molar mass; the printed equation has it in g/mol. [kg/mol]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    References
    ----------
    Cooper, "Heat flow rates in saturated nucleate pool boiling", Advances in Heat Transfer, 16,
    pages 157-239, 1984.
    """
    pr = min(p / pc, 0.95)
    ln_pr = math.log(pr)
    # Products of powers as one power of e, here and below: a third of the time.
    powers = 0.12 * ln_pr - 0.55 * math.log(-ln_pr / _LN_10)
    powers += 2.0 / 3.0 * math.log(max(heat_flux, 1e-300))
    return 55.0 * math.exp(powers) / math.sqrt(1000.0 * molar_mass)


@kernel
def froude_factors(mass_flux: float, D: float, vl: float) -> tuple[float, float]:
    r"""Factors on enhancement and suppression for stratified flow in a horizontal tube.

    :math:`Fr = G^2 v_l^2/(g D)`; below 0.05 the authors multiply the enhancement factor by
    :math:`Fr^{0.1 - 2 Fr}` and the suppression factor by :math:`\sqrt{Fr}`, here by
    :math:`\sqrt{Fr/0.05}`.

    Returns
    -------
    enhancement : float
        Factor on F, 1 at Froude numbers above 0.05. [-]
    suppression : float
        Factor on S. As printed it jumps from 0.22 to 1 at 0.05, where a coil of a small machine
        works; with the printed exponent and a scale that meets 1 there, it neither jumps nor rises
        faster than the flow. [-]

    References
    ----------
    Liu and Winterton (1991), after Gungor and Winterton, International Journal of Heat and Mass
    Transfer, 29(3), pages 351-358, 1986.
    """
    Fr = max(mass_flux * mass_flux * vl * vl / (GRAVITY * D), 1e-12)
    if Fr >= _STRATIFIED:
        return 1.0, 1.0
    return Fr ** (0.1 - 2.0 * Fr), math.sqrt(Fr / _STRATIFIED)


@kernel
def boiling_liu_winterton(
    mass_flux: float, x: float, D: float, heat_flux: float, phases: Phases
) -> float:
    r"""Flow boiling coefficient inside a smooth horizontal tube before dry-out.

    Convection enhanced by the vapour and pool boiling suppressed by the flow, root of the sum of
    squares: :math:`h^2 = (F h_l)^2 + (S h_{pool})^2`,
    :math:`F = [1 + x Pr_l (v_g/v_l - 1)]^{0.35}`,
    :math:`S = (1 + 0.055 F^{0.1} Re_l^{0.16})^{-1}`,
    :math:`h_l = 0.023 (k_l/D) Re_l^{0.8} Pr_l^{0.4}`, :math:`Re_l = G D/\mu_l`.
    Preferred because it behaves at low mass flux and needs no iteration at a given heat flux.

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    Fitted to 4202 saturated points of nine fluids, 2.95 to 32 mm, mass flux 12 to 8180 kg/(m2*s),
    heat flux 350 to 2.6e6 W/m2, reduced pressure 0.0023 to 0.895; mean deviation 20.5 %. The
    heat-flux form equals the wall-superheat form at a superheat of q/h of the pool term.

    References
    ----------
    Liu and Winterton, "A general correlation for saturated and subcooled flow boiling in tubes
    and annuli, based on a nucleate pool boiling equation", International Journal of Heat and Mass
    Transfer, 34(11), pages 2759-2766, 1991.
    """
    x = min(max(x, 0.0), 1.0)
    Re = mass_flux * D / phases.mul
    Pr = phases.mul * phases.cpl / phases.kl
    ln_Re = math.log(Re)
    ln_F = 0.35 * math.log(1.0 + x * Pr * (phases.vg / phases.vl - 1.0))
    h_liquid = 0.023 * phases.kl / D * math.exp(0.8 * ln_Re + 0.4 * math.log(Pr))
    F = math.exp(ln_F)
    S = 1.0 / (1.0 + 0.055 * math.exp(0.1 * ln_F + 0.16 * ln_Re))
    enhancement, suppression = froude_factors(mass_flux, D, phases.vl)
    convective = enhancement * F * h_liquid
    pool = pool_boiling_cooper(heat_flux, phases.p, phases.pc, phases.molar_mass)
    nucleate = suppression * S * pool
    return math.sqrt(convective * convective + nucleate * nucleate)


@kernel
def dryout_quality(
    mass_flux: float, D: float, heat_flux: float, vl: float, vg: float, sigma: float, latent: float
) -> float:
    r"""Quality at which the top of a horizontal tube begins to dry out.

    :math:`x_{di} = 0.58 \exp[0.52 - 0.235\, We_v^{0.17} Fr_v^{0.37} (v_l/v_g)^{0.25}
    (q/q_{crit})^{0.70}]`, :math:`We_v = G^2 D v_g/\sigma`,
    :math:`Fr_v = G^2/[\rho_v(\rho_l - \rho_v) g D]`,
    :math:`q_{crit} = 0.131 \sqrt{\rho_v}\, r\, [g \sigma(\rho_l - \rho_v)]^{1/4}`.

    Returns
    -------
    float
        Quality, never above 0.976 (the limit at no heat flux). [-]

    Notes
    -----
    Fitted to R-22 and R-410A at 5 °C, 8 and 13.84 mm, mass flux 70 to 700 kg/(m2*s), heat flux 2
    to 57.5 kW/m2.

    References
    ----------
    Wojtan, Ursenbacher and Thome, "Investigation of flow boiling in horizontal tubes: Part I",
    International Journal of Heat and Mass Transfer, 48, pages 2955-2969, 2005; Wojtan, thesis
    2978, EPFL, 2004, eq. (7.47).
    """
    rho_l = 1.0 / vl
    rho_v = 1.0 / vg
    difference = max(rho_l - rho_v, 1e-3)
    We = mass_flux * mass_flux * D * vg / sigma
    Fr = mass_flux * mass_flux / (rho_v * difference * GRAVITY * D)
    critical = 0.131 * math.sqrt(rho_v * math.sqrt(GRAVITY * sigma * difference)) * latent
    load = max(heat_flux, 0.0) / critical
    if load == 0.0:
        return 0.58 * math.exp(0.52)
    powers = 0.17 * math.log(We) + 0.37 * math.log(Fr) + 0.25 * math.log(rho_v / rho_l)
    return 0.58 * math.exp(0.52 - 0.235 * math.exp(powers + 0.7 * math.log(load)))


@kernel
def boiling_with_dryout(
    mass_flux: float, x: float, D: float, heat_flux: float, phases: Phases
) -> float:
    """Flow boiling coefficient carried smoothly through dry-out to dry vapour.

    `boiling_liu_winterton` up to `dryout_quality`; from there to the single-phase coefficient of
    the vapour at quality 1 along a cubic step, as the wetted part of the wall shrinks.

    Parameters
    ----------
    x : float
        Quality; above 1 the vapour coefficient is returned. [-]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    The cubic step is a choice of this project, continuous with its slope at both ends.

    References
    ----------
    See `boiling_liu_winterton` and `dryout_quality`.
    """
    if x >= 1.0:
        return heat_transfer_single_phase(mass_flux, D, phases.mug, phases.kg, phases.cpg)
    wet = boiling_liu_winterton(mass_flux, x, D, heat_flux, phases)
    start = dryout_quality(
        mass_flux, D, heat_flux, phases.vl, phases.vg, phases.sigma, phases.latent
    )
    if x <= start:
        return wet
    vapor = heat_transfer_single_phase(mass_flux, D, phases.mug, phases.kg, phases.cpg)
    s = (x - start) / (1.0 - start)
    return wet + (vapor - wet) * s * s * (3.0 - 2.0 * s)
