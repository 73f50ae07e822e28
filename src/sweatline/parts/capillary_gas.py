r"""A capillary tube measured with gas: what flows through it from a pressure into the open.

The trade tests tubes so, with dry nitrogen (ASHRAE Standard 28, "Methods of testing flow capacity
of refrigerant capillary tubes"). Steady adiabatic flow of a perfect gas with friction: the Mach
number grows along the tube, and

.. math::
    \frac{f L}{D} + K = F(M_1) - F(M_2), \qquad
    F(M) = \frac{1 - M^2}{\gamma M^2}
    + \frac{\gamma + 1}{2 \gamma} \ln \frac{(\gamma + 1) M^2}{2 + (\gamma - 1) M^2},

where F is the friction to sonic speed. The tube ends at sonic speed, or at the pressure of the
place where that is reached before. Friction is Churchill's, as for a refrigerant, with the
viscosity at the inlet's temperature; K is half a velocity head for the entrance.

References
----------
Shapiro, "The Dynamics and Thermodynamics of Compressible Fluid Flow", volume I, 1953, chapter 6.
"""

from __future__ import annotations

import math
from typing import Final

from sweatline.air.permanent_gas import PermanentGas
from sweatline.constants import GAS_CONSTANT
from sweatline.flow.inside_tube import darcy_friction_churchill
from sweatline.parts.capillary import ENTRANCE_LOSS

_RATIO: Final = 1.4  # of the heat capacities, gases of two atoms
_HALVINGS: Final = 60
_NARROWEST, _WIDEST = 0.1e-3, 10e-3  # m


def friction_to_sonic(mach: float) -> float:
    """Darcy friction times length over bore from this Mach number to sonic speed. [-]"""
    square, k = mach * mach, _RATIO
    grown = math.log((k + 1.0) * square / (2.0 + (k - 1.0) * square))
    return (1.0 - square) / (k * square) + (k + 1.0) / (2.0 * k) * grown


def gas_flow(
    gas: PermanentGas, *, bore: float, length: float, roughness: float, inlet_pressure: float,
    outlet_pressure: float, temperature: float,
) -> float:  # fmt: skip
    """Mass flow of a gas through a tube. [kg/s]

    Parameters
    ----------
    gas : PermanentGas
        Nitrogen or air.
    bore, length, roughness : float
        [m]
    inlet_pressure, outlet_pressure : float
        Absolute, the first above the second. [Pa]
    temperature : float
        Of the gas before the tube. [K]
    """
    k = _RATIO
    viscosity = gas.viscosity(temperature)
    slow, fast = 1e-6, 1.0
    flux = 0.0
    for _ in range(_HALVINGS):
        mach = math.sqrt(slow * fast)
        warmer = 1.0 + 0.5 * (k - 1.0) * mach * mach
        entered = inlet_pressure * warmer ** (-k / (k - 1.0))
        sound = math.sqrt(k * GAS_CONSTANT * temperature / (gas.molar_mass * warmer))
        flux = k * entered * mach / sound
        # p M sqrt(1 + (k - 1)/2 M2) is the same at both ends.
        q = entered / outlet_pressure * mach * math.sqrt(warmer)
        square = (math.sqrt(1.0 + 2.0 * (k - 1.0) * q * q) - 1.0) / (k - 1.0)
        left = friction_to_sonic(math.sqrt(square)) if square < 1.0 else 0.0
        friction = darcy_friction_churchill(flux * bore / viscosity, roughness / bore)
        if friction_to_sonic(mach) - left > friction * length / bore + ENTRANCE_LOSS:
            slow = mach
        else:
            fast = mach
    return 0.25 * math.pi * bore * bore * flux


def bore_of_gas_flow(
    gas: PermanentGas, *, flow: float, length: float, roughness: float, inlet_pressure: float,
    outlet_pressure: float, temperature: float,
) -> float:  # fmt: skip
    """Bore of the tube that passes so much gas. [m]

    Parameters
    ----------
    gas : PermanentGas
        Nitrogen or air.
    flow : float
        [kg/s]
    length, roughness : float
        [m]
    inlet_pressure, outlet_pressure : float
        Absolute, the first above the second. [Pa]
    temperature : float
        Of the gas before the tube. [K]
    """
    narrow, wide = _NARROWEST, _WIDEST
    for _ in range(_HALVINGS):
        bore = math.sqrt(narrow * wide)
        passed = gas_flow(
            gas, bore=bore, length=length, roughness=roughness, inlet_pressure=inlet_pressure,
            outlet_pressure=outlet_pressure, temperature=temperature,
        )  # fmt: skip
        if passed < flow:
            narrow = bore
        else:
            wide = bore
    return math.sqrt(narrow * wide)
