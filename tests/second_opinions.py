"""Forms by other authors, and of what no answer asks for: the tests hold ours against them."""

import math

import numpy as np
from scipy.optimize import brentq

from sweatline.air import moist
from sweatline.constants import GRAVITY, ZERO_CELSIUS
from sweatline.flow import inside_tube
from sweatline.flow.finned_surface import fin_parameter_schmidt


def fin_efficiency(*geometry: float) -> float:
    """Efficiency of a fin from the arguments of `fin_parameter_schmidt`. [-]"""
    u = fin_parameter_schmidt(*geometry)
    return math.tanh(u) / u if u > 1e-4 else 1.0 - u * u / 3.0


def surface_efficiency(fin_efficiency: float, fin_fraction: float) -> float:
    """Efficiency of the whole outer surface, fins and bare collars. [-]"""
    return 1.0 - fin_fraction * (1.0 - fin_efficiency)


def wet_bulb(T: float, W: float, p: float) -> float:
    """Thermodynamic wet bulb over water by the balance of adiabatic saturation. [K]

    ASHRAE Fundamentals 2017, chapter 1, eq. (33).
    """

    def surplus(wet: float) -> float:
        saturated = moist.saturated_humidity_ratio(wet, p)
        water = moist.WATER_HEAT_CAPACITY * (wet - ZERO_CELSIUS)
        return moist.enthalpy(wet, saturated) - moist.enthalpy(T, W) - (saturated - W) * water

    return float(brentq(surplus, moist.dew_point(W, p) - 1.0, T + 1.0, xtol=1e-10))


def with_slip(x: float, vl: float, vg: float, slip: float) -> float:
    """Void fraction from the ratio of the phases' velocities."""
    gas = x * vg
    return gas / (gas + slip * (1.0 - x) * vl)


def void_fraction_homogeneous(x: float, vl: float, vg: float) -> float:
    """Void fraction if both phases ran equally fast: the upper bound, not for charge.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]
    """
    return with_slip(min(max(x, 0.0), 1.0), vl, vg, 1.0)


def void_fraction_zivi(x: float, vl: float, vg: float) -> float:
    r"""Void fraction of least entropy production: slip :math:`(v_g/v_l)^{1/3}`.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]

    Notes
    -----
    Analytic; no fit. Gives less charge than weighed.

    References
    ----------
    Zivi, "Estimation of steady-state steam void-fraction by means of the principle of minimum
    entropy production", Journal of Heat Transfer, 86, pages 247-252, 1964.
    """
    return with_slip(min(max(x, 0.0), 1.0), vl, vg, (vg / vl) ** (1.0 / 3.0))


def void_fraction_baroczy(x: float, vl: float, vg: float, mul: float, mug: float) -> float:
    r"""Void fraction from the property index.

    :math:`\alpha = [1 + ((1 - x)/x)^{0.74} (v_l/v_g)^{0.65} (\mu_l/\mu_g)^{0.13}]^{-1}`.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]

    Notes
    -----
    Near quality 1 its slope is unbounded. It passes above the homogeneous value within about
    1 % of quality 0; the homogeneous value is returned there.

    References
    ----------
    Baroczy, "A systematic correlation for two-phase pressure drop", Chemical Engineering Progress
    Symposium Series, 62(64), pages 232-249, 1966; in the form of Butterworth (1975).
    """
    x = min(max(x, 0.0), 1.0)
    liquid = (1.0 - x) ** 0.74 * (vl / vg) ** 0.65 * (mul / mug) ** 0.13
    gas = x**0.74
    alpha: float = gas / (gas + liquid)
    return min(alpha, with_slip(x, vl, vg, 1.0))


HUGHMARK_Z = np.array([1.3, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 40.0, 70.0, 130.0])
HUGHMARK_K = np.array(
    [0.185, 0.225, 0.325, 0.49, 0.605, 0.675, 0.72, 0.767, 0.78, 0.808, 0.83, 0.88, 0.93, 0.98]
)


def hughmark_factor(Z: float) -> float:
    """Hughmark's flow parameter over Z, straight between the printed points."""
    last = HUGHMARK_Z.size - 1
    if HUGHMARK_Z[0] >= Z:
        return float(HUGHMARK_K[0])
    if HUGHMARK_Z[last] <= Z:
        # beyond the printed points the deficit 1 - K dies out as 1/Z: chosen, not printed
        return float(1.0 - (1.0 - HUGHMARK_K[last]) * HUGHMARK_Z[last] / Z)
    i = 0
    while HUGHMARK_Z[i + 1] < Z:
        i += 1
    s = (Z - HUGHMARK_Z[i]) / (HUGHMARK_Z[i + 1] - HUGHMARK_Z[i])
    return float(HUGHMARK_K[i] + s * (HUGHMARK_K[i + 1] - HUGHMARK_K[i]))


def void_fraction_hughmark(
    x: float, mass_flux: float, D: float, vl: float, vg: float, mul: float, mug: float
) -> float:
    r"""Void fraction as a share of the homogeneous one: the largest charge of the forms here.

    :math:`\alpha = K(Z) \beta`, :math:`Z = [D G/(\mu_l + \alpha(\mu_g - \mu_l))]^{1/6}
    \{[G x v_g/(\beta(1 - \beta))]^2/(g D)\}^{1/8}`, K from the author's table.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]

    Notes
    -----
    Fitted to air and liquids in vertical upward flow, used by many for horizontal coils.

    References
    ----------
    Hughmark, "Holdup in gas-liquid flow", Chemical Engineering Progress, 58(4), pages 62-65, 1962.
    """
    x = min(max(x, 0.0), 1.0)
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    beta = with_slip(x, vl, vg, 1.0)
    # G x vg/(beta (1 - beta)) written so that it keeps its digits as beta nears 0 or 1
    total = x * vg + (1.0 - x) * vl
    speed = mass_flux * total * total / ((1.0 - x) * vl)
    inertia = (speed * speed / (GRAVITY * D)) ** 0.125
    low = 0.0
    high = beta
    alpha = 0.8 * beta
    for _ in range(60):
        Z = (D * mass_flux / (mul + alpha * (mug - mul))) ** (1.0 / 6.0) * inertia
        new = hughmark_factor(Z) * beta
        if abs(new - alpha) < 1e-13:
            return new
        # K rises with alpha with a slope below 1, so the sign of the step brackets the root
        if new > alpha:
            low = alpha
        else:
            high = alpha
        alpha = new if low < new < high else 0.5 * (low + high)
    return alpha


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


def bend_loss(
    mass_flux: float,
    x: float,
    D: float,
    bend_radius: float,
    vl: float,
    vg: float,
    mul: float,
    mug: float,
) -> float:
    r"""Pressure lost in one 180° return bend of a coil, its own length included.

    Friction as in straight tube plus what the turn adds:
    :math:`\Delta p = \pi R \{(dp/dz)_{MSH} + a\,(\rho_v J_v^2/R)(J_l^2/R)^{1/3}\}` with
    :math:`a = 0.047\,\mathrm{s^{2/3} m^{-1/3}}`, :math:`J_v = G x v_g`, :math:`J_l = G(1 - x)v_l`.

    Parameters
    ----------
    bend_radius : float
        Radius of the bend's centre line, half the distance between the tubes it joins. [m]

    Returns
    -------
    float
        Pressure lost. [Pa]

    Notes
    -----
    Fitted to 325 points with R-12, R-134a and R-410A; the two constants are recalled, not read.
    In one phase the turn itself adds nothing, which is low by some ten diameters of tube; a
    coil's bends lose little there. Other authors' forms are up to three times higher: take its
    scatter as 50 %.

    References
    ----------
    Padilla, Revellin and Bonjour, "Prediction and simulation of two-phase pressure drop in return
    bends", International Journal of Refrigeration, 32(7), pages 1776-1783, 2009.
    """
    x = min(max(x, 0.0), 1.0)
    straight = inside_tube.gradient_mueller_steinhagen_heck(mass_flux, x, D, vl, vg, mul, mug)
    vapor_speed = mass_flux * x * vg
    liquid_speed = mass_flux * (1.0 - x) * vl
    turn: float = (
        0.047
        * (vapor_speed**2 / (vg * bend_radius))
        * (liquid_speed**2 / bend_radius) ** (1.0 / 3.0)
    )
    return math.pi * bend_radius * (straight + turn)


def frost_density_hayashi(surface_temperature: float) -> float:
    r"""Density of frost from the temperature of its surface alone.

    :math:`\rho = 650 \exp(0.277\,t_s)`, in degrees Celsius.

    Parameters
    ----------
    surface_temperature : float
        Of the frost, where it meets the air: 254.5 to 268 K. [K]

    Returns
    -------
    float
        Mean density of the layer. [kg/m3]

    References
    ----------
    Hayashi, Aoki, Adachi and Hori, "Study of frost properties correlating with frost formation
    types", Journal of Heat Transfer, 99, pages 239-245, 1977 (equation read second-hand).
    """
    density: float = 650.0 * math.exp(0.277 * (surface_temperature - ZERO_CELSIUS))
    return density


PASCHEN_A = 11.25  # 1/(Pa*m)
PASCHEN_B = 273.8  # V/(Pa*m)
PASCHEN_SECOND = math.log(1.0 + 1.0 / 0.01)


def breakdown_voltage(pressure: float, gap: float) -> float:
    """Voltage at which air between two terminals breaks down. [V]

    Infinite where the gas is too thin for an avalanche across this gap; a longer way round always
    exists in a shell, so that is no safety.

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    gap : float
        [m]
    """
    x = pressure * gap
    below = math.log(PASCHEN_A * x) - math.log(PASCHEN_SECOND) if x > 0.0 else -math.inf
    return PASCHEN_B * x / below if below > 0.0 else math.inf
