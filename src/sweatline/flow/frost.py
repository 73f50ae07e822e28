"""Frost on a cold surface: how dense it grows and how well it conducts."""

import math

from sweatline.compiled import kernel
from sweatline.constants import ZERO_CELSIUS

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
