r"""Hermetic compressors: displacement, clearance, suction-gas heating, and three losses.

Flow. The swept volume is filled with suction gas that the motor and the hot cylinder have heated,
less what re-expands from the clearance:

.. math::
    \dot m = \lambda\,\frac{V N}{v_1}\left[1 + C - C\,\frac{v_1}{v_{2s}}\right], \qquad
    \lambda = \frac{\lambda_0}{1 + \Delta T / T_1}, \qquad
    \Delta T = \varphi\,\frac{P}{\dot m\,c_p}

where the volume ratio of the isentropic path stands for :math:`(p_2/p_1)^{1/k}`.

Liquid that comes along boils off before the cylinder, on the heat of motor and cylinder walls, and
the cylinder draws saturated gas: the flow stays, and what the liquid would have cooled is lost
(textbook). In a high-side shell an accumulator and the hot walls of the cylinder do the same.

Power. What carries from one refrigerant to another in the same motor is a fixed loss, a loss in
valves and gas passages, and a proportional one, not a single efficiency:

.. math:: P = W_0 + \frac{\dot m\,w_s + \dot m_s\,\kappa N^2}{\eta_1}, \qquad
    \dot m_s = \frac{V N}{v_1} .

The middle term: gas passes a valve with the pressure loss of an orifice,
:math:`\Delta p = \tfrac12 \zeta \varrho u^2` (Costagliola 1950), and the piston gives the speed
:math:`u`, which goes with the revolutions and not with the gas. The work lost per mass,
:math:`\Delta p/\varrho`, is then the same for every gas and every pressure, and all the mass that
fills the cylinder loses it, also what re-expands and is not pumped. It weighs most where the
isentropic work is small, at a low pressure ratio and in a heavy gas, and where little of what is
swept is pumped, at a high one. Its size agrees with 45 m/s, at 50 Hz, in ports of discharge
coefficient 0.6, twice.

Clearance volumetric efficiency is textbook; combined efficiency of small hermetics: Jaehnig,
Reindl & Klein, ASHRAE Transactions 2000; constant plus proportional loss: Jin & Spitler 2002;
pressure losses at suction and discharge in such a model: Popovic & Shapiro, ASHRAE Transactions
1995. `docs/why/compressor.md` has the other forms that were tried.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple

from sweatline.compiled import inner_kernel, kernel
from sweatline.constants import ZERO_CELSIUS
from sweatline.parts.compressor_shell import (
    NOT_STATED,
    Compressed,
    CompressorShell,
    ShellBalance,
    shell_balance,
    usual_conductances,
)
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_from_entropy,
    enthalpy_liquid,
    enthalpy_vapour,
    full_state,
    saturation,
    state,
)

Kind = Literal["reciprocating", "rotary"]

BEST_PROPORTIONAL = 0.95  # no motor and bearings do better
_DESIGN_EXPANSION = 2.0  # by which the clearance gas grows at 7/54 °C: 1.8 of R-22, 2.3 of R-134a
_MIST: Final = 600.0  # J/kg of liquid, as mist, that saturated gas still carries into the cylinder
_PULL = 0.07  # deviation at one point of a map that a valve loss twice the usual weighs


class CompressorParameters(NamedTuple):
    """A compressor as the kernels see it."""

    displacement: float  # m3 per revolution
    speed: float  # revolutions per second
    clearance: float  # share of the displacement that re-expands
    filling: float  # lambda0: throttling and leakage at the valves
    heating: float  # phi: share of the electrical input that warms the suction gas
    fixed_loss: float  # W, W0
    valve_loss: float  # m2, kappa: work lost per mass swept in valves, over the speed squared
    proportional: float  # eta1, of isentropic work and the work lost in valves
    shell_conductance: float  # W/K, inside of the shell to the air round it
    discharge_tube: float  # W/K, discharge tube to the inside of a low-side shell
    oil_at_discharge: float  # 1 when oil and shell are at discharge pressure (rotary), else 0
    flow_multiplier: float  # - uncertainty of the flow
    power_multiplier: float  # - uncertainty of the power


@inner_kernel
def _cylinder_enthalpy(table: Table, suction_pressure: float, suction_enthalpy: float) -> float:
    """What fills the cylinder: the suction gas, or saturated gas where liquid comes along. [J/kg]

    No drier than by a quarter of a per cent of liquid, so that the slope does not jump.
    """
    saturated = saturation(table, suction_pressure)[3]
    if suction_enthalpy >= saturated:
        return suction_enthalpy
    return saturated + _MIST * math.expm1((suction_enthalpy - saturated) / _MIST)


@kernel
def compress(
    table: Table,
    compressor: CompressorParameters,
    suction_pressure: float,
    suction_enthalpy: float,
    discharge_pressure: float,
) -> tuple[float, float, float, float]:
    """Mass flow [kg/s], electrical power [W], discharge and isentropic enthalpy [J/kg].

    The discharge enthalpy is that of a shell which keeps its heat; :func:`leaving` takes off what
    it gives away. Valid for superheated, saturated and wet suction; the pressure ratio must exceed
    one.
    """
    drawn_enthalpy = _cylinder_enthalpy(table, suction_pressure, suction_enthalpy)
    t1, v1, s1, cp, _mu, _k, _x = full_state(table, suction_pressure, drawn_enthalpy)
    h2s = enthalpy_from_entropy(table, discharge_pressure, s1)
    _t2, v2s, _s2, _x2 = state(table, discharge_pressure, h2s)
    work = max(h2s - drawn_enthalpy, 10.0)
    ratio = max(v1 / v2s, 1.0)
    filled = 1.0 + compressor.clearance - compressor.clearance * ratio
    # Past the ratio at which the clearance gas fills the cylinder nothing is pumped; the floor
    # keeps the flow positive and smooth there.
    filled = 0.5 * (filled + math.sqrt(filled * filled + 1e-4))
    swept = compressor.displacement * compressor.speed / v1
    drawn = swept * filled * compressor.filling
    valves = swept * compressor.valve_loss * compressor.speed * compressor.speed
    lost = compressor.fixed_loss + (drawn * work + valves) / compressor.proportional
    rise = compressor.heating * lost / (drawn * max(cp, 300.0))
    flow = compressor.flow_multiplier * drawn / (1.0 + rise / t1)
    valves *= compressor.flow_multiplier
    power = compressor.fixed_loss + (flow * work + valves) / compressor.proportional
    power *= compressor.power_multiplier
    return flow, power, suction_enthalpy + power / flow, h2s


@kernel
def leaving(
    table: Table,
    compressor: CompressorParameters,
    run: tuple[float, float, float, float],
    suction_pressure: float,
    suction_enthalpy: float,
    discharge_pressure: float,
    conductance: float,
    surroundings: float,
) -> ShellBalance:
    """What leaves by the discharge stub and through the shell.

    Parameters
    ----------
    run : tuple of float
        From :func:`compress` at these pressures and this suction enthalpy.
    suction_pressure, discharge_pressure : float
        [Pa]
    suction_enthalpy : float
        [J/kg]
    conductance : float
        Between the inside and what is round the shell. [W/K]
    surroundings : float
        What is round the shell. [K]
    """
    flow, power, _h2, _h2s = run
    # Isentropic and in valves: what of the input neither motor nor bearings lose.
    work = power / compressor.power_multiplier - compressor.fixed_loss
    work *= compressor.proportional / flow
    return shell_balance(
        table,
        CompressorShell(
            conductance,
            surroundings,
            compressor.discharge_tube,
            compressor.oil_at_discharge > 0.5,
        ),
        Compressed(
            flow,
            power,
            work,
            suction_pressure,
            suction_enthalpy,
            discharge_pressure,
        ),
    )


class RatingCondition(NamedTuple):
    """Temperatures of a rating condition: dew on both sides, return gas and liquid. [K]"""

    evaporating: float
    condensing: float
    suction: float
    liquid: float


_RATED_CELSIUS = {
    "EN 12900 air-conditioning": (5, 50, 15, 50),  # PUBLISHED (IIR note)
    "ARI air-conditioning": (7.2, 54.4, 18.3, 46.1),  # PUBLISHED (IIR note)
    "commercial HBP": (7.2, 54.4, 18.3, 54.4),  # PUBLISHED (open data set)
    "commercial MBP": (-6.7, 48.9, 18.3, 48.9),  # PUBLISHED (open data set)
    "commercial LBP": (-31.7, 40.6, 18.3, 40.6),  # PUBLISHED (open data set)
    "ASHRAE LBP": (-23.3, 54.4, 32.2, 32.2),  # MEMORY 0.95
    "ASHRAE HBP": (7.2, 54.4, 35.0, 46.1),  # MEMORY 0.9
    "CECOMAF household": (-25, 55, 32, 55),  # MEMORY 0.85
    "EN 12900 household": (-35, 40, 20, 40),  # MEMORY 0.75
}
RATING_ROOM: Final = 308.15  # K round a compressor at its rating (35 °C, MEMORY 0.8)
RATING_CONDITIONS = {
    name: RatingCondition(*(t + ZERO_CELSIUS for t in celsius))
    for name, celsius in _RATED_CELSIUS.items()
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KindDefaults:
    """What is assumed of a kind of compressor when nothing else is known, with one sd."""

    clearance: float
    clearance_sd: float
    filling: float
    heating: float
    slip: float
    valve_loss: float  # m2
    overall: float  # share of the electrical input at design load that becomes isentropic work
    overall_sd: float
    design_work: float  # J/kg, isentropic work at that load
    fixed_share: float  # of the input at the rating point
    oil_at_discharge: float


# Chosen on two thirds of the machines at hand, of each by the points beside its rating point; the
# other third judges them (docs/why/compressor.md). Reciprocating: 36 maps of welded machines, 300
# to 1700 W. Heating: a round value, any from 0.1 to 0.8 does with its own clearance. Efficiency:
# 0.38 to 0.63 in these maps. Design work: R-134a and R-22 at 7/54 °C. Rotary: a measured R-290
# machine and an R-22 map at three speeds; no suction valve, so a fifth of the valve loss.
DEFAULTS: dict[Kind, KindDefaults] = {
    "reciprocating": KindDefaults(
        clearance=0.065,
        clearance_sd=0.018,
        filling=0.96,
        heating=0.40,
        slip=0.03,
        valve_loss=2.5,
        overall=0.46,
        overall_sd=0.07,
        design_work=32e3,
        fixed_share=0.25,
        oil_at_discharge=0.0,
    ),
    "rotary": KindDefaults(
        clearance=0.02,
        clearance_sd=0.01,
        filling=0.94,
        heating=0.10,
        slip=0.03,
        valve_loss=0.5,
        overall=0.58,
        overall_sd=0.05,
        design_work=34e3,
        fixed_share=0.17,
        oil_at_discharge=1.0,
    ),
}

# What more is known of a reciprocating one by its refrigerant and its rating. Where 40 °C asks for
# more than 12 bar (R-22, R-404A, R-290) cylinders re-expand more than where it does not (R-134a,
# R-12), in welded and in semi-hermetic maps.
_RECIPROCATING: Final = DEFAULTS["reciprocating"]
HIGH_PRESSURE: Final = replace(_RECIPROCATING, clearance=0.075, clearance_sd=0.015)
MEDIUM_PRESSURE: Final = replace(_RECIPROCATING, clearance=0.058, clearance_sd=0.015)

# Rated at -10 °F or below, commercial: 49 maps of semi-hermetic machines, R-12, R-22 and R-404A.
COMMERCIAL_LOW_TEMPERATURE: Final = replace(
    _RECIPROCATING, clearance=0.04, clearance_sd=0.01, filling=0.92, fixed_share=0.35
)

# The same, made for a household refrigerator or freezer. Clearance: 0.011 fits what four such
# machines from print say (one with three points, three with displacement and rating;
# tests/published), print gives 0.01 to 0.03 (MEMORY 0.75): a round value between. Efficiency: the
# one of them with watts, 0.46 to 0.50; print 0.40 to 0.66.
HOUSEHOLD_LOW_TEMPERATURE: Final = replace(
    _RECIPROCATING,
    clearance=0.015,
    clearance_sd=0.007,
    filling=0.92,
    overall=0.48,
    overall_sd=0.07,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A compressor at one operating point."""

    mass_flow: float  # kg/s
    power: float  # W
    capacity: float  # W, against the liquid enthalpy asked for
    discharge_temperature: float  # K
    isentropic_efficiency: float  # overall, electrical
    suction_pressure: float  # Pa
    discharge_pressure: float  # Pa


def operate(
    table: Table,
    compressor: CompressorParameters,
    *,
    evaporating: float,
    condensing: float,
    suction: float,
    liquid: float,
    surroundings: float = RATING_ROOM,
) -> Operation:
    """Run a compressor at dew temperatures, return-gas and liquid temperature, all in kelvin.

    `surroundings` is the temperature round its shell.
    """
    ps = dew_pressure(table, evaporating)
    pd = dew_pressure(table, condensing)
    h1 = enthalpy_vapour(table, ps, suction)
    h3 = enthalpy_liquid(table, pd, liquid)
    run = compress(table, compressor, ps, h1, pd)
    flow, power, _h2, h2s = run
    out = leaving(table, compressor, run, ps, h1, pd, compressor.shell_conductance, surroundings)
    return Operation(
        mass_flow=flow,
        power=power,
        capacity=flow * (h1 - h3),
        discharge_temperature=state(table, pd, out.discharge_enthalpy)[0],
        isentropic_efficiency=flow * (h2s - h1) / power,
        suction_pressure=ps,
        discharge_pressure=pd,
    )


def generic(
    kind: Kind,
    *,
    displacement: float,
    frequency: float,
    fixed_loss: float,
    proportional: float | None = None,
    usual: KindDefaults | None = None,
) -> CompressorParameters:
    """A compressor of a kind, from its displacement and the mains frequency.

    Parameters
    ----------
    displacement : float
        Per revolution. [m3]
    frequency : float
        Of the mains; a two-pole motor less its slip. [Hz]
    fixed_loss : float
        Input that does not go with the load. [W]
    proportional : float, optional
        Efficiency of the part that does; by default what makes the overall efficiency of the
        kind at its design load when the fixed loss is its usual share. [-]
    usual : KindDefaults, optional
        What is assumed of it, if not that of its kind.
    """
    d = usual or DEFAULTS[kind]
    speed = frequency * (1.0 - d.slip)
    if proportional is None:
        pumped = d.filling * (1.0 - _DESIGN_EXPANSION * d.clearance)
        lost = d.valve_loss * speed * speed / pumped
        proportional = d.overall * (1.0 + lost / d.design_work) / (1.0 - d.fixed_share)
    shell, tube = usual_conductances(displacement)
    return CompressorParameters(
        displacement=displacement,
        speed=speed,
        clearance=d.clearance,
        filling=d.filling,
        heating=d.heating,
        fixed_loss=fixed_loss,
        valve_loss=d.valve_loss,
        proportional=proportional,
        shell_conductance=shell,
        discharge_tube=tube,
        oil_at_discharge=d.oil_at_discharge,
        flow_multiplier=1.0,
        power_multiplier=1.0,
    )


def in_usual_shell(
    compressor: CompressorParameters, conductance: float = NOT_STATED
) -> CompressorParameters:
    """A compressor in a shell of the size usual for its displacement.

    `conductance` is that of a machine of 8 cm3 where it stands. [W/K]
    """
    shell, tube = usual_conductances(compressor.displacement, conductance)
    return compressor._replace(shell_conductance=shell, discharge_tube=tube)


def displacement_from_rating(
    table: Table,
    kind: Kind,
    *,
    capacity: float,
    frequency: float,
    condition: RatingCondition,
    power: float | None = None,
    usual: KindDefaults | None = None,
) -> CompressorParameters:
    """Compressor that gives a rated capacity, and a rated power when that is known.

    The displacement follows from the capacity with the kind's volumetric behaviour; fixed and
    proportional loss from the power with the kind's usual split, or from the kind's overall
    efficiency when no power is stated. A machine so good that its power leaves no room for the
    usual losses gets a smaller fixed loss, then a smaller valve loss.
    """
    d = usual or DEFAULTS[kind]
    trial = generic(kind, displacement=8e-6, frequency=frequency, fixed_loss=50.0, usual=d)
    square = trial.speed * trial.speed
    suction_pressure = dew_pressure(table, condition.evaporating)
    suction_enthalpy = enthalpy_vapour(table, suction_pressure, condition.suction)
    volume = float(state(table, suction_pressure, suction_enthalpy)[1])
    for _ in range(12):
        run = operate(table, trial, **condition._asdict())
        scale = capacity / run.capacity
        swept = trial.displacement * scale * trial.speed / volume
        ideal = run.isentropic_efficiency * run.power * scale  # m * isentropic work
        wanted = power if power is not None else ideal / d.overall
        room = max(BEST_PROPORTIONAL * wanted - ideal, 0.0)  # W for the valves at the very most
        valves = min(swept * d.valve_loss * square, room)
        fixed = d.fixed_share * wanted
        proportional = min((ideal + valves) / (wanted - fixed), BEST_PROPORTIONAL)
        fixed = max(wanted - (ideal + valves) / proportional, 0.0)
        trial = trial._replace(
            displacement=trial.displacement * scale,
            fixed_loss=fixed,
            valve_loss=valves / (swept * square),
            proportional=proportional,
        )
        if abs(scale - 1.0) < 1e-10:
            break
    return in_usual_shell(trial)


@dataclass(frozen=True, slots=True, kw_only=True)
class MapConvention:
    """How a ten-term map was made: return gas or superheat, and subcooling of the liquid."""

    suction: float | None  # K
    superheat: float | None  # K
    subcooling: float  # K
    evaporating_range: tuple[float, float]  # K
    condensing_range: tuple[float, float]  # K


def map_value(terms: Sequence[float], evaporating: float, condensing: float) -> float:
    """Ten-term polynomial in the order of AHRI 540, dew temperatures in kelvin.

    X = C1 + C2 ts + C3 td + C4 ts^2 + C5 ts td + C6 td^2 + C7 ts^3 + C8 td ts^2 + C9 ts td^2
    + C10 td^3, with ts and td in degrees Celsius.
    """
    s = evaporating - ZERO_CELSIUS
    d = condensing - ZERO_CELSIUS
    basis = (1.0, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3)
    return math.fsum(c * b for c, b in zip(terms, basis, strict=True))


def parameters_from_map(
    table: Table,
    kind: Kind,
    *,
    capacity_terms: Sequence[float],
    power_terms: Sequence[float],
    convention: MapConvention,
    frequency: float,
    map_frequency: float,
) -> tuple[CompressorParameters, dict[str, float]]:
    """Physical parameters that reproduce a ten-term map, so that it carries beyond itself.

    A polynomial map knows one refrigerant, one return gas and its own range. Displacement times
    filling, clearance, fixed, valve and proportional loss are fitted to it on a grid inside its
    range by least squares of relative deviations; points whose overall efficiency is not physical
    (above 0.8) are left out.

    Returns
    -------
    tuple
        The numbers, and the root-mean-square relative deviations ``capacity`` and ``power``.
    """
    import numpy as np
    from scipy.optimize import least_squares

    lo_e, hi_e = convention.evaporating_range
    lo_c, hi_c = convention.condensing_range
    points = []
    for te in np.linspace(lo_e, hi_e, 6):
        for tc in np.linspace(max(lo_c, te + 15.0), hi_c, 6):
            liquid = tc - convention.subcooling
            suction = (
                convention.suction
                if convention.suction is not None
                else te + (convention.superheat or 0.0)
            )
            if suction <= te + 0.1 or tc <= te + 10.0:
                continue
            q = map_value(capacity_terms, te, tc)
            p = map_value(power_terms, te, tc)
            ps, pd = dew_pressure(table, te), dew_pressure(table, tc)
            h1 = enthalpy_vapour(table, ps, suction)
            h3 = enthalpy_liquid(table, pd, liquid)
            h2s = enthalpy_from_entropy(table, pd, state(table, ps, h1)[2])
            efficiency = q / (h1 - h3) * (h2s - h1) / p if p > 0 else 9.0
            if q > 0 and p > 0 and efficiency < 0.8:
                points.append((te, tc, suction, liquid, q, p))
    base = generic(kind, displacement=8e-6, frequency=map_frequency, fixed_loss=50.0)

    def build(x: Sequence[float]) -> CompressorParameters:
        return base._replace(
            displacement=math.exp(x[0]),
            clearance=float(abs(x[1])),
            fixed_loss=float(abs(x[2])) * 100.0,
            valve_loss=float(abs(x[4])),
            proportional=BEST_PROPORTIONAL * math.tanh(abs(x[3])),
        )

    def deviations(x: Sequence[float]) -> list[float]:
        numbers = build(x)
        out = []
        for te, tc, suction, liquid, q, p in points:
            run = operate(
                table, numbers, evaporating=te, condensing=tc, suction=suction, liquid=liquid
            )
            out += [run.capacity / q - 1.0, run.power / p - 1.0]
        # Some maps hardly separate valve and proportional loss: a weak pull to the kind.
        return [*out, _PULL * (x[4] / base.valve_loss - 1.0)]

    start = [math.log(8e-6), base.clearance, 0.5, 0.6, base.valve_loss]
    fit = least_squares(deviations, start, x_scale=[0.3, 0.03, 0.3, 0.1, 1.0])
    left = np.asarray(deviations(fit.x)[:-1])
    quality = {
        "capacity": float(np.sqrt(np.mean(left[0::2] ** 2))),
        "power": float(np.sqrt(np.mean(left[1::2] ** 2))),
    }
    numbers = build(fit.x)
    numbers = numbers._replace(speed=numbers.speed * frequency / map_frequency)
    return in_usual_shell(numbers), quality
