r"""Refrigerant outside the coils: lines, drier, accumulator, the compressor's shell and its oil.

What the oil holds is the least certain part of an inventory. It takes up refrigerant by its
activity at the oil's temperature. With the Flory-Huggins form

.. math::
    \ln\frac{p}{p_{sat}(T)} = \ln\phi + (1 - 1/r)(1-\phi) + \chi\,(1-\phi)^2, \qquad
    \chi = \chi_{45} + \chi' \left(\frac{318.15\,\mathrm{K}}{T} - 1\right)

the volume share :math:`\phi` rises smoothly from nothing to one; it neither clamps nor jumps. The
size ratio :math:`r` is the molar volume of the oil over that of the liquid refrigerant at 45 °C.
The two numbers of a pair are fitted to measured pressures (`MEASURED`, with sources); where
nothing with numbers was found, a family's number with a wide uncertainty stands in (`FAMILIES`).

Fitted at 263 to 363 K, activity 0.03 to 0.85. One pair of numbers meets the pressure over one oil
to 2 to 9 %, the mass dissolved to 3 to 12 %; oils of one kind differ by more, which is what the
uncertainty stands for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from sweatline.compiled import kernel
from sweatline.flow.void_fraction import void_fraction_premoli
from sweatline.refrigerant.safety_data import safety_data
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    saturation,
    saturation_transport,
    state,
)

# m3/s of liquid that a full accumulator lets through: a hole of 1.2 mm (0.6 to 1.5 mm, MEMORY 0.5)
# under 0.15 m of liquid, discharge coefficient 0.6 (textbook).
_BLED: Final = 1.2e-6

_MIDDLE: Final = 318.15  # K, where chi45 holds
_COLDEST: Final = 243.15  # K
_HOTTEST: Final = 403.15  # K; chi stays as it is beyond

Group = Literal["chlorinated", "fluorinated", "hydrocarbon"]

# m3/mol. POE: 590 g/mol (Grebner 1992, Martz & Jacobi 1994: an ISO 32 ester); PAG: 2000 g/mol
# (Martz & Jacobi); MO: between a naphthenic of 325 and a paraffinic of 500 g/mol (Grebner); AB: 320
# to 350 g/mol, MEMORY 0.6; PVE as POE, MEMORY 0.4.
OIL_MOLAR_VOLUME: Final = {
    "MO": 430e-6,
    "AB": 390e-6,
    "POE": 620e-6,
    "PAG": 2060e-6,
    "PVE": 620e-6,
}

_WAHLSTROM: Final = "Wahlstrom & Vamling 1999 and 2000"
_TAKIGAWA: Final = "Takigawa, Sandler & Yokozeki 2002"


class _Numbers(NamedTuple):
    interaction: float  # chi at 45 C
    slope: float  # chi'
    sd: float  # of chi, from oil to oil of the kind
    source: str


# Each set of measurements counts alike, however many points it has; sd is the spread between the
# oils of a kind where several were measured, and wider where there is one.
MEASURED: Final[dict[tuple[str, str], _Numbers]] = {
    ("R-134a", "POE"): _Numbers(
        0.72,
        2.7,
        0.25,
        f"seven esters: Grebner 1992, Martz & Jacobi 1994, Yokozeki 2001, {_WAHLSTROM}",
    ),
    ("R-152a", "POE"): _Numbers(0.69, 2.9, 0.20, f"four esters: {_WAHLSTROM}"),
    ("R-32", "POE"): _Numbers(
        0.61, 3.5, 0.20, f"five esters: Burton, Jacobi & Mehendale 1999, {_WAHLSTROM}"
    ),
    ("R-1234ze(E)", "POE"): _Numbers(0.55, 0.8, 0.25, "one ester: Bock 2015"),
    ("R-600a", "POE"): _Numbers(0.46, 1.5, 0.20, "one ester: Marcelino Neto & Barbosa 2008"),
    ("R-22", "POE"): _Numbers(0.58, -1.1, 0.30, "one ester: Martz & Jacobi 1994"),
    ("R-134a", "PAG"): _Numbers(0.65, 0.7, 0.25, "one oil: Martz & Jacobi 1994"),
    ("R-134a", "AB"): _Numbers(1.65, 4.7, 0.25, f"two oils: {_TAKIGAWA}"),
    ("R-32", "AB"): _Numbers(1.43, 4.9, 0.25, f"two oils: {_TAKIGAWA}"),
    ("R-12", "MO"): _Numbers(0.76, 0.9, 0.20, "two oils: Grebner 1992"),
}

_NOT_MEASURED: Final = "no measured pair at hand"

# What the measured pairs of a family say of the others. Hydrocarbons: R-290 dissolves less in POE
# and PAG than in mineral oil, in PAG about half as much (IIR record 22122, as quoted elsewhere);
# the number for mineral oil itself is MEMORY 0.5. R-404A, R-407C and R-410A follow from
# (0.3), R-134a and R-143a (0.8) in the same esters.
FAMILIES: Final[dict[tuple[Group, str], _Numbers]] = {
    ("fluorinated", "POE"): _Numbers(0.60, 2.5, 0.35, f"{_NOT_MEASURED}; six others in POE"),
    ("fluorinated", "PVE"): _Numbers(0.60, 2.5, 0.50, f"{_NOT_MEASURED}; taken as in POE"),
    ("fluorinated", "PAG"): _Numbers(0.65, 1.0, 0.40, f"{_NOT_MEASURED}; taken as R-134a"),
    ("fluorinated", "MO"): _Numbers(1.50, 4.5, 0.45, f"{_NOT_MEASURED}; taken as in AB"),
    ("fluorinated", "AB"): _Numbers(1.50, 4.5, 0.35, f"{_NOT_MEASURED}; R-32 and R-134a in AB"),
    ("chlorinated", "MO"): _Numbers(0.76, 1.0, 0.35, f"{_NOT_MEASURED}; taken as R-12"),
    ("chlorinated", "AB"): _Numbers(0.70, 1.0, 0.40, f"{_NOT_MEASURED}; taken as R-12 in MO"),
    ("chlorinated", "POE"): _Numbers(0.58, 0.0, 0.45, f"{_NOT_MEASURED}; taken as R-22"),
    ("chlorinated", "PAG"): _Numbers(0.60, 1.0, 0.50, _NOT_MEASURED),
    ("chlorinated", "PVE"): _Numbers(0.60, 1.0, 0.50, _NOT_MEASURED),
    ("hydrocarbon", "MO"): _Numbers(0.35, 1.5, 0.35, f"{_NOT_MEASURED}; more than in POE"),
    ("hydrocarbon", "AB"): _Numbers(0.35, 1.5, 0.35, f"{_NOT_MEASURED}; more than in POE"),
    ("hydrocarbon", "POE"): _Numbers(0.50, 1.5, 0.30, f"{_NOT_MEASURED}; taken as R-600a"),
    ("hydrocarbon", "PAG"): _Numbers(0.90, 1.5, 0.45, f"{_NOT_MEASURED}; half as much as in MO"),
    ("hydrocarbon", "PVE"): _Numbers(0.50, 1.5, 0.45, f"{_NOT_MEASURED}; taken as in POE"),
}
_UNKNOWN_OIL_SD: Final = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Solubility:
    """What describes one refrigerant in one oil; `interaction_sd` goes from oil to oil."""

    size_ratio: float
    interaction: float
    interaction_slope: float
    interaction_sd: float
    measured: bool
    note: str


def _group(refrigerant: str) -> Group:
    family = safety_data(refrigerant).family
    if family == "HC":
        return "hydrocarbon"
    return "chlorinated" if family in ("CFC", "HCFC") else "fluorinated"


def solubility(table: Table, refrigerant: str, oil: str) -> Solubility:
    """Numbers of a refrigerant in a kind of oil.

    Parameters
    ----------
    table : Table
        Of the refrigerant.
    refrigerant : str
        Its name, such as ``R-134a``.
    oil : str
        ``MO``, ``AB``, ``POE``, ``PAG``, ``PVE``; ``unknown`` takes the first kind that suits the
        refrigerant, with a wide uncertainty.

    Raises
    ------
    JobError
        No such refrigerant.
    """
    known = oil in OIL_MOLAR_VOLUME
    kind = oil if known else safety_data(refrigerant).oils[0]
    measured = MEASURED.get((refrigerant, kind))
    numbers = measured if measured is not None else FAMILIES[_group(refrigerant), kind]
    liquid = float(saturation(table, bubble_pressure(table, _MIDDLE))[4]) * table.molar_mass
    return Solubility(
        size_ratio=OIL_MOLAR_VOLUME[kind] / liquid,
        interaction=numbers.interaction,
        interaction_slope=numbers.slope,
        interaction_sd=numbers.sd if known else max(numbers.sd, _UNKNOWN_OIL_SD),
        measured=known and measured is not None,
        note=numbers.source if known else f"oil not known, taken as {kind}",
    )


@kernel
def interaction_at(interaction: float, slope: float, temperature: float) -> float:
    """Interaction number at an oil temperature [K]; held outside -30 to 130 °C. [-]"""
    t = min(max(temperature, _COLDEST), _HOTTEST)
    return interaction + slope * (_MIDDLE / t - 1.0)


@kernel
def dissolved(activity: float, size_ratio: float, interaction: float) -> float:
    """Volume share of refrigerant in oil at an activity p/psat. [-]

    Activity above one is drawn smoothly to just below it: oil that has fallen to the saturation
    temperature would take up liquid without end. Where oil and refrigerant part into two liquids
    it is the share in the one rich in oil.
    """
    a: float = 0.98 * activity / (1.0 + activity**12) ** (1.0 / 12.0)
    goal = math.log(max(a, 1e-12))
    swelling = 1.0 - 1.0 / size_ratio
    # The share of great dilution lies below the root, and the curve is hollow there: Newton climbs.
    phi: float = min(math.exp(goal - swelling - interaction), 0.9)
    for _ in range(80):
        rest = 1.0 - phi
        f = math.log(phi) + swelling * rest + interaction * rest * rest - goal
        slope = 1.0 / phi - swelling - 2.0 * interaction * rest
        if slope < 0.05:
            slope = 0.05
        new = phi - f / slope
        if new <= 0.0:
            new = 0.5 * phi
        elif new >= 1.0:
            new = 0.5 * (phi + 1.0)
        if abs(new - phi) < 1e-14:
            phi = new
            break
        phi = new
    return phi


class LineParameters(NamedTuple):
    """Tubing between the parts as the kernels see it."""

    suction_bore: float  # m
    suction_length: float  # m
    discharge_bore: float  # m
    discharge_length: float  # m
    liquid_bore: float  # m
    liquid_length: float  # m
    drier_volume: float  # m3
    accumulator_volume: float  # m3
    exchanger_conductance: float  # W/K of the capillary soldered to the suction line
    exchanger_ahead: float = 1.0  # share of its cooling that a capillary feels before it flashes


class ShellParameters(NamedTuple):
    """Compressor shell and its oil as the kernels see them."""

    gas_volume: float  # m3
    oil_volume: float  # m3
    size_ratio: float  # r, molar volume of oil over that of liquid refrigerant
    interaction: float  # chi at 45 C
    interaction_slope: float = 0.0  # how chi goes with 318.15 K / T - 1


@kernel
def tube_charge(
    table: Table, pressure: float, enthalpy: float, flow: float, bore: float, length: float
) -> float:
    """Refrigerant in a plain tube, with slip when it carries both phases. [kg]"""
    area = 0.25 * math.pi * bore * bore
    _t, v, _s, x = state(table, pressure, enthalpy)
    density = 1.0 / v
    if 0.0 < x < 1.0:
        _tb, _td, _hl, _hg, vl, vg, _sl, _sg = saturation(table, pressure)
        mul, _mug, _kl, _kg, _cl, _cg, sigma = saturation_transport(table, pressure)
        alpha = void_fraction_premoli(x, flow / area, bore, vl, vg, mul, sigma)
        density = (1.0 - alpha) / vl + alpha / vg
    return density * area * length


@kernel
def accumulator_charge(
    table: Table, pressure: float, enthalpy: float, flow: float, volume: float
) -> float:
    """Refrigerant in an accumulator before the compressor. [kg]

    Its gas is drawn from the top. Liquid that comes along stands, as high as drives as much of it
    through the bleed hole; in a full one it comes over with the gas.
    """
    v: float = state(table, pressure, enthalpy)[1]
    _tb, _td, hl, hg, vl, vg, _sl, _sg = saturation(table, pressure)
    if volume <= 0.0 or enthalpy >= hg:
        return volume / v
    share = flow * (hg - enthalpy) / (hg - hl) * vl / _BLED
    level = share * share / (1.0 + share**8) ** 0.25
    density: float = level / vl + (1.0 - level) / vg
    return volume * density


@kernel
def shell_charge(
    table: Table,
    shell: ShellParameters,
    pressure: float,
    gas_enthalpy: float,
    oil_temperature: float,
) -> tuple[float, float]:
    """Refrigerant in the shell's gas space and dissolved in its oil. [kg], [kg]"""
    _t, v, _s, x = state(table, pressure, gas_enthalpy)
    if x < 1.0:  # liquid that enters the warm shell boils off there
        v = saturation(table, pressure)[5]
    gas = shell.gas_volume / v
    hottest = min(oil_temperature, 0.985 * table.t_crit)
    p_oil = bubble_pressure(table, hottest)
    if p_oil > table.p_max:
        p_oil = table.p_max
    chi = interaction_at(shell.interaction, shell.interaction_slope, hottest)
    phi = dissolved(pressure / p_oil, shell.size_ratio, chi)
    v_liquid = saturation(table, p_oil)[4]
    oil = shell.oil_volume * phi / (1.0 - phi) / v_liquid
    return gas, oil
