"""Condensation inside horizontal smooth tubes."""

from typing import Final

from sweatline.compiled import kernel
from sweatline.flow.single_phase import heat_transfer_single_phase

__all__ = [
    "condensation_cavallini_smith_zecchin",
    "condensation_shah",
    "condensation_with_ends",
]

_END: Final = 0.05  # span of quality at each end over which the single-phase value is reached


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

    Parameters
    ----------
    mass_flux : float
        Mass flow per flow area. [kg/(m2*s)]
    x : float
        Quality; values outside 0 to 1 are taken as the nearer end. [-]
    D : float
        Inner diameter. [m]
    p : float
        Pressure. [Pa]
    pc : float
        Critical pressure. [Pa]
    mul : float
        Viscosity of the liquid. [Pa*s]
    kl : float
        Thermal conductivity of the liquid. [W/(m*K)]
    cpl : float
        Heat capacity of the liquid. [J/(kg*K)]

    Returns
    -------
    float
        Heat transfer coefficient; the turbulent liquid value at x = 0, zero at x = 1 (reached
        only in the last thousandths: see `condensation_with_ends`). [W/(m2*K)]

    Notes
    -----
    Fitted to 474 points of ten fluids, 7 to 40 mm, mass flux 11 to 211 kg/(m2*s) as printed,
    reduced pressure 0.002 to 0.44, all-liquid Reynolds number above 350; mean deviation 15.4 %.
    At low mass flux (vapour velocity below about 3 m/s) the flow stratifies and gravity takes
    over: the coefficient then no longer falls with mass flux, so this one is low there.

    References
    ----------
    Shah, "A general correlation for heat transfer during film condensation inside pipes",
    International Journal of Heat and Mass Transfer, 22(4), pages 547-556, 1979.
    """
    x = min(max(x, 0.0), 1.0)
    h_liquid = 0.023 * kl / D * (mass_flux * D / mul) ** 0.8 * (mul * cpl / kl) ** 0.4
    film = 3.8 * x**0.76 * (1.0 - x) ** 0.04 / (p / pc) ** 0.38
    h: float = h_liquid * ((1.0 - x) ** 0.8 + film)
    return h


@kernel
def condensation_cavallini_smith_zecchin(
    mass_flux: float,
    x: float,
    D: float,
    vl: float,
    vg: float,
    mul: float,
    mug: float,
    kl: float,
    cpl: float,
) -> float:
    r"""Condensation coefficient for annular flow; a second opinion to `condensation_shah`.

    :math:`Nu = 0.05 Re_{eq}^{0.8} Pr_l^{0.33}`,
    :math:`Re_{eq} = Re_v (\mu_v/\mu_l)(v_g/v_l)^{0.5} + Re_l` with each phase's own flow.

    Parameters
    ----------
    mass_flux : float
        Mass flow per flow area. [kg/(m2*s)]
    x : float
        Quality; values outside 0 to 1 are taken as the nearer end. [-]
    D : float
        Inner diameter. [m]
    vl : float
        Specific volume of the liquid. [m3/kg]
    vg : float
        Specific volume of the vapour. [m3/kg]
    mul : float
        Viscosity of the liquid. [Pa*s]
    mug : float
        Viscosity of the vapour. [Pa*s]
    kl : float
        Thermal conductivity of the liquid. [W/(m*K)]
    cpl : float
        Heat capacity of the liquid. [J/(kg*K)]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    For annular flow, quality 0.1 to 0.9, Re_l 5000 to 500000. The difference to Shah's is used
    as scatter of the model's form.

    References
    ----------
    Cavallini, Smith and Zecchin, "A dimensionless correlation for heat transfer in forced
    convection condensation", 6th International Heat Transfer Conference, Tokyo, 1974.
    """
    x = min(max(x, 0.0), 1.0)
    Re_v = mass_flux * x * D / mug
    Re_l = mass_flux * (1.0 - x) * D / mul
    Re = Re_v * (mug / mul) * (vg / vl) ** 0.5 + Re_l
    h: float = 0.05 * kl / D * Re**0.8 * (mul * cpl / kl) ** 0.33
    return h


@kernel
def condensation_with_ends(
    mass_flux: float,
    x: float,
    D: float,
    p: float,
    pc: float,
    mul: float,
    mug: float,
    kl: float,
    kg: float,
    cpl: float,
    cpg: float,
) -> float:
    """Condensation coefficient that meets the single-phase ones at quality 0 and 1.

    `condensation_shah` between quality 0.05 and 0.95; at each end a cubic step leads to the
    single-phase coefficient of the liquid or the vapour.

    Parameters
    ----------
    mass_flux : float
        Mass flow per flow area. [kg/(m2*s)]
    x : float
        Quality; outside 0 to 1 the single-phase coefficient is returned. [-]
    D : float
        Inner diameter. [m]
    p : float
        Pressure. [Pa]
    pc : float
        Critical pressure. [Pa]
    mul : float
        Viscosity of the liquid. [Pa*s]
    mug : float
        Viscosity of the vapour. [Pa*s]
    kl : float
        Thermal conductivity of the liquid. [W/(m*K)]
    kg : float
        Thermal conductivity of the vapour. [W/(m*K)]
    cpl : float
        Heat capacity of the liquid. [J/(kg*K)]
    cpg : float
        Heat capacity of the vapour. [J/(kg*K)]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2*K)]

    Notes
    -----
    The steps are a choice of this project, continuous with their slope at both ends.

    References
    ----------
    See `condensation_shah` and `sweatline.flow.single_phase.nusselt_gnielinski`.
    """
    if x <= 0.0:
        return heat_transfer_single_phase(mass_flux, D, mul, kl, cpl)
    if x >= 1.0:
        return heat_transfer_single_phase(mass_flux, D, mug, kg, cpg)
    film = condensation_shah(mass_flux, x, D, p, pc, mul, kl, cpl)
    if x < _END:
        s = x / _END
        end = heat_transfer_single_phase(mass_flux, D, mul, kl, cpl)
    elif x > 1.0 - _END:
        s = (1.0 - x) / _END
        end = heat_transfer_single_phase(mass_flux, D, mug, kg, cpg)
    else:
        return film
    return end + (film - end) * s * s * (3.0 - 2.0 * s)
