"""Condensation inside horizontal smooth tubes.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    mass_flux  mass flow per flow area [kg/(m2*s)]
    x          quality; values outside 0 to 1 are taken as the nearer end [-]
    D          inner diameter [m]
    p          pressure [Pa]
    pc         critical pressure [Pa]
    mul        viscosity of the liquid [Pa*s]
    kl         thermal conductivity of the liquid [W/(m*K)]
    cpl        heat capacity of the liquid [J/(kg*K)]
    phases     both phases at saturation [SI units]
"""

import math
from typing import Final

from sweatline.compiled import kernel
from sweatline.constants import GRAVITY
from sweatline.flow.inside_tube import Phases, heat_transfer_single_phase

# Span of quality at each end over which the single-phase value is reached. Narrow: a film condenses
# from the first to the last of the vapour, and a wide one leaves a tail that never closes.
_END: Final = 0.01
_REGIMES: Final = 0.1  # half-width of the change of regime, as a share of the vapour velocity


@kernel
def condensation_shah(
    mass_flux: float,
    x: float,
    D: float,
    p: float,
    pc: float,
    mul: float,
    kl: float,
    cpl: float,
) -> float:
    r"""Condensation coefficient inside a tube from the all-liquid coefficient.

    :math:`h = h_l [(1 - x)^{0.8} + 3.8 x^{0.76}(1 - x)^{0.04}/p_r^{0.38}]`,
    :math:`h_l = 0.023 (k_l/D) Re_l^{0.8} Pr_l^{0.4}`, :math:`Re_l = G D/\mu_l`.

    Returns
    -------
    float
        Heat transfer coefficient; the turbulent liquid value at x = 0, zero at x = 1 (reached
        only in the last thousandths: see `condensation_shah_2009_with_ends`). [W/(m2*K)]

    Notes
    -----
    Fitted to 474 points of ten fluids, 7 to 40 mm, mass flux 11 to 211 kg/(m2*s) as printed,
    reduced pressure 0.002 to 0.44, all-liquid Reynolds number above 350; mean deviation 15.4 %.
    At low mass flux (vapour velocity below about 3 m/s) the flow stratifies and gravity takes
    over: this one is then low by up to half, see `condensation_shah_2009`.

    References
    ----------
    Shah, "A general correlation for heat transfer during film condensation inside pipes",
    International Journal of Heat and Mass Transfer, 22(4), pages 547-556, 1979.
    """
    x = min(max(x, 0.0), 1.0)
    # Products of powers as one power of e: a third of the time.
    ln_dry = math.log(1.0 - x) if x < 1.0 else -1e3
    ln_wet = math.log(x) if x > 0.0 else -1e3
    ln_liquid = 0.8 * math.log(mass_flux * D / mul) + 0.4 * math.log(mul * cpl / kl)
    film = 3.8 * math.exp(0.76 * ln_wet + 0.04 * ln_dry - 0.38 * math.log(p / pc))
    return 0.023 * kl / D * math.exp(ln_liquid) * (math.exp(0.8 * ln_dry) + film)


@kernel
def condensation_shah_2009(mass_flux: float, x: float, D: float, phases: Phases) -> float:
    r"""Condensation coefficient in a horizontal tube, with the gravity film of slow flow.

    :math:`h_I = h_{1979} (\mu_l/14\mu_g)^{0.0058 + 0.557 p_r}`; where the vapour is slow,
    :math:`J_g < 0.98 (Z + 0.263)^{-0.62}`, the film that runs down the wall is added:
    :math:`h_{Nu} = 1.32 Re_{ls}^{-1/3} [g k_l^3 \rho_l(\rho_l - \rho_g)/\mu_l^2]^{1/3}`.
    :math:`J_g = x G/\sqrt{g D \rho_g(\rho_l - \rho_g)}`, :math:`Z = (1/x - 1)^{0.8} p_r^{0.4}`,
    :math:`Re_{ls} = G(1 - x)D/\mu_l`. Preferred below about 150 kg/(m2*s), where small coils run.

    Parameters
    ----------
    x : float
        Quality; values outside 1e-6 to 1 - 1e-6 are taken as the nearer end. [-]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    Fitted to 1189 points of 22 fluids, 2 to 49 mm, mass flux 4 to 820 kg/(m2*s), reduced pressure
    0.0008 to 0.9, all-liquid Reynolds number 68 to 85000; mean deviation 14.4 %. As printed the
    film term jumps in at the border; here it comes in over 10 % of the vapour velocity on either
    side, since a jump could leave a machine without balance.

    References
    ----------
    Shah, "An improved and extended general correlation for heat transfer during condensation in
    plain tubes", HVAC&R Research, 15(5), pages 889-913, 2009, eqs. (6), (8), (9) and (11).
    """
    x = min(max(x, 1e-6), 1.0 - 1e-6)
    p, pc, _molar_mass, vl, vg, _latent, mul, mug, kl, _kg, cpl, _cpg, _sigma = phases
    pr = p / pc
    ratio = math.exp((0.0058 + 0.557 * pr) * math.log(mul / (14.0 * mug)))
    forced = condensation_shah(mass_flux, x, D, p, pc, mul, kl, cpl) * ratio
    difference = max(1.0 / vl - 1.0 / vg, 0.0)
    speed = x * mass_flux / math.sqrt(GRAVITY * D * max(difference, 1e-6) / vg)
    Z = math.exp(0.8 * math.log(1.0 / x - 1.0) + 0.4 * math.log(pr))
    border = 0.98 * math.exp(-0.62 * math.log(Z + 0.263))
    s = (speed / border - (1.0 - _REGIMES)) / (2.0 * _REGIMES)
    if s >= 1.0:
        return forced
    Re = mass_flux * (1.0 - x) * D / mul
    falling = GRAVITY * kl * kl * kl * difference / (vl * mul * mul * Re)
    film = 1.32 * math.exp(math.log(max(falling, 1e-300)) / 3.0)
    if s > 0.0:
        film *= 1.0 - s * s * (3.0 - 2.0 * s)
    return forced + film


@kernel
def condensation_shah_2009_with_ends(mass_flux: float, x: float, D: float, phases: Phases) -> float:
    """Condensation coefficient of slow flow that meets the single-phase ones at quality 0 and 1.

    `condensation_shah_2009` between quality 0.01 and 0.99; at each end a cubic step leads to the
    single-phase coefficient of the liquid or the vapour.

    Parameters
    ----------
    x : float
        Quality; outside 0 to 1 the single-phase coefficient is returned. [-]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    The steps are a choice of this project, continuous with their slope at both ends.

    References
    ----------
    See `condensation_shah_2009` and `sweatline.flow.inside_tube.nusselt_gnielinski`.
    """
    if x >= _END and x <= 1.0 - _END:
        return condensation_shah_2009(mass_flux, x, D, phases)
    if x < _END:
        end = heat_transfer_single_phase(mass_flux, D, phases.mul, phases.kl, phases.cpl)
        s = x / _END
    else:
        end = heat_transfer_single_phase(mass_flux, D, phases.mug, phases.kg, phases.cpg)
        s = (1.0 - x) / _END
    if s <= 0.0:
        return end
    film = condensation_shah_2009(mass_flux, x, D, phases)
    return end + (film - end) * s * s * (3.0 - 2.0 * s)
