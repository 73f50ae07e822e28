"""Gases that never condense at the bench: nitrogen, helium and air.

A pressure test counts molecules, so what matters is the amount of gas per volume at a pressure and
a temperature; a leak needs the viscosity and the speed of the molecules.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sweatline.constants import GAS_CONSTANT
from sweatline.errors import check_between

GasName = Literal["nitrogen", "helium", "air"]

_COLDEST, _HOTTEST = 223.15, 373.15  # K
_HIGHEST: Final = 6e6  # Pa; the series has two terms only


@dataclass(frozen=True, slots=True, kw_only=True)
class PermanentGas:
    """One gas: its virial series Z = 1 + B rho + C rho**2, rho in mol/m3, and its viscosity.

    Nitrogen and air: B after Tsonopoulos, AIChE J. 20, 263 (1974), and C after Orbey and Vera,
    AIChE J. 29, 107 (1983), both MEMORY 0.85 and compared with a reference equation of state in
    the tests. Helium is a quantum gas which those forms do not know: B and C are constants with a
    slope, MEMORY 0.85, compared in the same way.
    """

    name: GasName
    molar_mass: float  # kg/mol
    critical_temperature: float  # K
    critical_pressure: float  # Pa
    acentric: float
    # Viscosity: reference, its temperature, and either Sutherland's constant or a power.
    viscosity_reference: float  # Pa*s
    viscosity_temperature: float  # K
    sutherland: float = 0.0  # K
    viscosity_power: float = 0.0

    def virial(self, temperature: float) -> tuple[float, float]:
        """Second and third virial coefficient. [m3/mol], [m6/mol2]

        Parameters
        ----------
        temperature : float
            [K]
        """
        if self.name == "helium":
            # MEMORY 0.85: 11.9 cm3/mol at 0 C, falling by 0.0033 cm3/mol per kelvin.
            return (11.90 - 0.0033 * (temperature - 273.15)) * 1e-6, 112e-12
        x = temperature / self.critical_temperature
        w = self.acentric
        f0 = 0.1445 - 0.330 / x - 0.1385 / x**2 - 0.0121 / x**3 - 0.000607 / x**8
        f1 = 0.0637 + 0.331 / x**2 - 0.423 / x**3 - 0.008 / x**8
        g0 = 0.01407 + 0.02432 / x**2.8 - 0.00313 / x**10.5
        g1 = -0.02676 + 0.0177 / x**2.8 + 0.040 / x**3 - 0.003 / x**6 - 0.00228 / x**10.5
        scale = GAS_CONSTANT * self.critical_temperature / self.critical_pressure
        return scale * (f0 + w * f1), scale**2 * (g0 + w * g1)

    def amount_density(self, pressure: float, temperature: float) -> float:
        """Moles per volume. [mol/m3]

        Parameters
        ----------
        pressure : float
            Absolute, up to 60 bar. [Pa]
        temperature : float
            -50 to 100 °C. [K]

        Raises
        ------
        OutOfRange
            Beyond what the two-term series is good for.
        """
        self._check(pressure, temperature)
        b, c = self.virial(temperature)
        ideal = pressure / (GAS_CONSTANT * temperature)
        rho = ideal
        for _ in range(50):
            z = 1.0 + b * rho + c * rho * rho
            slope = 1.0 + 2.0 * b * rho + 3.0 * c * rho * rho
            step = (rho * z - ideal) / slope
            rho -= step
            if abs(step) <= 1e-14 * rho:
                break
        return rho

    def pressure(self, amount_density: float, temperature: float) -> float:
        """Pressure of so many moles per volume. [Pa]

        Parameters
        ----------
        amount_density : float
            [mol/m3]
        temperature : float
            [K]
        """
        b, c = self.virial(temperature)
        z = 1.0 + b * amount_density + c * amount_density**2
        return amount_density * GAS_CONSTANT * temperature * z

    def compressibility(self, pressure: float, temperature: float) -> float:
        """Z = p/(rho R T). [-]

        Parameters
        ----------
        pressure : float
            Absolute. [Pa]
        temperature : float
            [K]
        """
        return pressure / (self.amount_density(pressure, temperature) * GAS_CONSTANT * temperature)

    def viscosity(self, temperature: float) -> float:
        """Viscosity of the thin gas. [Pa*s]

        Parameters
        ----------
        temperature : float
            [K]

        Notes
        -----
        Sutherland's form for nitrogen and air, a power law for helium; coefficients as in F. M.
        White, "Viscous Fluid Flow" (MEMORY 0.85), within 2 % of a reference correlation.
        """
        t0 = self.viscosity_temperature
        ratio = temperature / t0
        if self.sutherland > 0.0:
            rise = ratio**1.5 * (t0 + self.sutherland) / (temperature + self.sutherland)
        else:
            rise = ratio**self.viscosity_power
        return float(self.viscosity_reference * rise)

    def _check(self, pressure: float, temperature: float) -> None:
        what = f"outside the equation of state of {self.name}"
        check_between(what, "pressure", pressure, 0.0, _HIGHEST, "Pa")
        check_between(what, "temperature", temperature, _COLDEST, _HOTTEST, "K")


NITROGEN: Final = PermanentGas(
    name="nitrogen",
    molar_mass=28.0134e-3,
    critical_temperature=126.192,
    critical_pressure=3.3958e6,
    acentric=0.0372,
    viscosity_reference=1.663e-5,
    viscosity_temperature=273.0,
    sutherland=107.0,
)
HELIUM: Final = PermanentGas(
    name="helium",
    molar_mass=4.002602e-3,
    critical_temperature=5.1953,
    critical_pressure=0.2276e6,
    acentric=-0.385,
    viscosity_reference=1.87e-5,
    viscosity_temperature=273.0,
    viscosity_power=0.666,
)
AIR: Final = PermanentGas(
    name="air",
    molar_mass=28.9647e-3,
    critical_temperature=132.53,
    critical_pressure=3.786e6,
    acentric=0.0335,
    viscosity_reference=1.716e-5,
    viscosity_temperature=273.0,
    sutherland=111.0,
)


def gas_named(name: str) -> PermanentGas:
    """Gas for a pressure test: nitrogen or helium, never air.

    Raises
    ------
    ValueError
        Any other name; oxygen and compressed air explode with oil.
    """
    if name == "nitrogen":
        return NITROGEN
    if name == "helium":
        return HELIUM
    raise ValueError(f"{name} is no gas for a pressure test")
