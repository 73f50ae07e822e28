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
    sigma      surface tension [N/m]
"""

import math

from sweatline.compiled import kernel


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
    gas = x * vg
    alpha: float = gas / (gas + slip * (1.0 - x) * vl)
    return alpha
