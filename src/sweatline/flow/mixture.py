"""What a blend costs in heat transfer: gas that must cool, or warm, as the blend changes phase.

As a blend with glide condenses, its temperature falls and the gas that is left has to be cooled
with it. That sensible heat passes from the gas to the liquid surface through the gas's own film,
which is poor. The same holds, warming, for the gas beside a boiling blend.
"""

from typing import Final

from sweatline.compiled import kernel
from sweatline.flow.single_phase import heat_transfer_single_phase

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
    D : float
        Inner diameter. [m]
    glide : float
        Dew less bubble temperature at the pressure; 0 leaves `film` as it is. [K]
    latent : float
        Dew less bubble enthalpy. [J/kg]
    mug : float
        Viscosity of the vapour. [Pa*s]
    kg : float
        Thermal conductivity of the vapour. [W/(m*K)]
    cpg : float
        Heat capacity of the vapour. [J/(kg*K)]

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
