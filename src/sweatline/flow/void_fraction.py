"""Void fraction in tubes: how much of the volume is vapour, hence how much charge a coil holds.

Vapour runs ahead of the liquid, so a coil holds more liquid than a homogeneous mixture would; the
difference is a factor of 1.5 to 2 in condensers and of 4 to 15 in evaporators. Comparisons with
weighed charge favour the forms of Premoli, Hughmark and Baroczy over Zivi's.

Trap for a reader who checks against other libraries: some take mass *flow* where these take mass
flux.

Symbols of the functions below. A function's own list of parameters tells what differs there::

    mass_flux  mass flow per flow area, not mass flow [kg/(m2*s)]
    x          quality; values outside 0 to 1 are taken as the nearer end [-]
    D          inner diameter [m]
    vl         specific volume of the liquid [m3/kg]
    vg         specific volume of the vapour [m3/kg]
    mul        viscosity of the liquid [Pa*s]
    mug        viscosity of the vapour [Pa*s]
    sigma      surface tension [N/m]
"""

import math
from typing import Final

import numpy as np

from sweatline.compiled import kernel
from sweatline.constants import GRAVITY


@kernel
def _with_slip(x: float, vl: float, vg: float, slip: float) -> float:
    """Void fraction from the ratio of the phases' velocities."""
    gas = x * vg
    return gas / (gas + slip * (1.0 - x) * vl)


@kernel
def void_fraction_homogeneous(x: float, vl: float, vg: float) -> float:
    """Void fraction if both phases ran equally fast: the upper bound, not for charge.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]
    """
    return _with_slip(min(max(x, 0.0), 1.0), vl, vg, 1.0)


@kernel
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
    return _with_slip(min(max(x, 0.0), 1.0), vl, vg, (vg / vl) ** (1.0 / 3.0))


@kernel
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
    return min(alpha, _with_slip(x, vl, vg, 1.0))


@kernel
def void_fraction_premoli(
    x: float, mass_flux: float, D: float, vl: float, vg: float, mul: float, sigma: float
) -> float:
    r"""Void fraction from slip that depends on mass flux and surface tension (CISE).

    :math:`S = 1 + E_1 \sqrt{y/(1 + y E_2) - y E_2}`, :math:`y = \beta/(1 - \beta)`,
    :math:`E_1 = 1.578 Re^{-0.19} (\rho_l/\rho_g)^{0.22}`,
    :math:`E_2 = 0.0273 We\, Re^{-0.51} (\rho_l/\rho_g)^{-0.08}`, :math:`Re = G D/\mu_l`,
    :math:`We = G^2 D v_l/\sigma`.

    Returns
    -------
    float
        Share of the volume that is vapour. [-]

    Notes
    -----
    Where the root is of a negative number (quality near 1) slip is 1.

    References
    ----------
    Premoli, Di Francesco and Prina, "Una correlazione adimensionale per la determinazione della
    densità di miscele bifasiche", La Termotecnica, 25, pages 17-26, 1971.
    """
    x = min(max(x, 0.0), 1.0)
    if x >= 1.0:
        return 1.0
    Re = max(mass_flux, 1e-6) * D / mul
    We = mass_flux * mass_flux * D * vl / sigma
    y = x * vg / ((1.0 - x) * vl)
    E1 = 1.578 * Re**-0.19 * (vg / vl) ** 0.22
    E2 = 0.0273 * We * Re**-0.51 * (vg / vl) ** -0.08
    slip = 1.0 + E1 * math.sqrt(max(y / (1.0 + y * E2) - y * E2, 0.0))
    return _with_slip(x, vl, vg, slip)


_HUGHMARK_Z: Final = np.array(
    [1.3, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 40.0, 70.0, 130.0]
)
_HUGHMARK_K: Final = np.array(
    [0.185, 0.225, 0.325, 0.49, 0.605, 0.675, 0.72, 0.767, 0.78, 0.808, 0.83, 0.88, 0.93, 0.98]
)


@kernel
def _hughmark_factor(Z: float) -> float:
    """Hughmark's flow parameter over Z, straight between the printed points."""
    last = _HUGHMARK_Z.size - 1
    if _HUGHMARK_Z[0] >= Z:
        return float(_HUGHMARK_K[0])
    if _HUGHMARK_Z[last] <= Z:
        # beyond the printed points the deficit 1 - K dies out as 1/Z: chosen, not printed
        return float(1.0 - (1.0 - _HUGHMARK_K[last]) * _HUGHMARK_Z[last] / Z)
    i = 0
    while _HUGHMARK_Z[i + 1] < Z:
        i += 1
    s = (Z - _HUGHMARK_Z[i]) / (_HUGHMARK_Z[i + 1] - _HUGHMARK_Z[i])
    return float(_HUGHMARK_K[i] + s * (_HUGHMARK_K[i + 1] - _HUGHMARK_K[i]))


@kernel
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
    beta = _with_slip(x, vl, vg, 1.0)
    # G x vg/(beta (1 - beta)) written so that it keeps its digits as beta nears 0 or 1
    total = x * vg + (1.0 - x) * vl
    speed = mass_flux * total * total / ((1.0 - x) * vl)
    inertia = (speed * speed / (GRAVITY * D)) ** 0.125
    low = 0.0
    high = beta
    alpha = 0.8 * beta
    for _ in range(60):
        Z = (D * mass_flux / (mul + alpha * (mug - mul))) ** (1.0 / 6.0) * inertia
        new = _hughmark_factor(Z) * beta
        if abs(new - alpha) < 1e-13:
            return new
        # K rises with alpha with a slope below 1, so the sign of the step brackets the root
        if new > alpha:
            low = alpha
        else:
            high = alpha
        alpha = new if low < new < high else 0.5 * (low + high)
    return alpha
