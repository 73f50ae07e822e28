r"""The steady state of a machine: four unknowns, four residuals, Newton with a step limit.

Unknowns: logarithm of the pressure at the evaporator inlet and at the compressor outlet, logarithm
of the flow, and the enthalpy that enters the evaporator. Working in :math:`\ln p` and :math:`h`,
never in temperature or quality, leaves nothing flat or jumping at zero superheat and zero
subcooling.

Residuals: flow of the compressor; flow of the capillary, or a wanted superheat; enthalpy at the
condenser outlet; charge, or a wanted subcooling or superheat. The choices give the modes:
*design* (superheat and subcooling wanted; capillary and charge are answers), *filled* (capillary
given, charged until the evaporator shows the wanted superheat) and *fixed charge*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import kernel
from sweatline.errors import SolveError
from sweatline.machine.circuit import (
    Inventory,
    MachineNumbers,
    Pass,
    Workspace,
    inventory,
    round_circuit,
    workspace,
)
from sweatline.refrigerant.table import (
    Table,
    dew_pressure,
    enthalpy_liquid,
    enthalpy_vapour,
    saturation,
    state,
)

__all__ = [
    "Balance",
    "Target",
    "design",
    "design_start",
    "filled",
    "fixed_charge",
    "solve",
    "solve_nested",
]

FloatArray = NDArray[np.float64]

TOLERANCE = 1e-8


class Target(NamedTuple):
    """What closes the circuit.

    Of capillary and superheat exactly one is used, and so of charge and subcooling.
    """

    with_capillary: int  # 1: the capillary decides the flow; 0: `superheat` does
    superheat: float  # K, against dew at the evaporator outlet; 0 just dry
    with_charge: int  # 1: `charge` is given; 0: `subcooling` is; 2: `superheat` is
    charge: float  # kg
    subcooling: float  # K, against bubble; a negative number is minus the quality of flash gas


_LIMITS = np.array([0.12, 0.10, 0.25, 20e3])  # steps in ln p, ln p, ln m, J/kg
_DIFFERENCES = np.array([2e-6, 2e-6, 2e-6, 1.0])
_H_SCALE = 2e4  # J/kg


@kernel
def _residuals_at(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    space: Workspace,
    target: Target,
    y: FloatArray,
    r: FloatArray,
) -> None:
    pe = math.exp(y[0])
    pd = math.exp(y[1])
    flow = math.exp(y[2])
    run = round_circuit(table, line, machine, space, pe, pd, flow, y[3], target.with_capillary)
    r[0] = math.log(run.compressor_flow / flow)
    if target.with_capillary == 1:
        if run.capillary_flow > 0.0:
            r[1] = math.log(run.capillary_flow / flow)
        else:
            r[1] = -2.0
    td = saturation(table, run.suction_pressure)[1]
    wanted = enthalpy_vapour(table, run.suction_pressure, td + target.superheat)
    dryness = (run.evaporator_outlet - wanted) / _H_SCALE
    if target.with_capillary == 0:
        r[1] = dryness
    r[2] = (run.liquid_enthalpy - run.assumed_liquid) / _H_SCALE
    if target.with_charge == 1:
        places = inventory(table, machine, run, pd, flow)
        total = 0.0
        for place in places:
            total += place
        r[3] = total / target.charge - 1.0
    elif target.with_charge == 2:
        r[3] = dryness
    else:
        tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, run.liquid_pressure)
        if target.subcooling >= 0.0:
            wanted = enthalpy_liquid(table, run.liquid_pressure, tb - target.subcooling)
        else:
            wanted = hl - target.subcooling * (hg - hl)
        r[3] = (run.assumed_liquid - wanted) / _H_SCALE


@kernel
def _residuals(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    space: Workspace,
    target: Target,
    points: FloatArray,
    residuals: FloatArray,
) -> None:
    """Residuals (k, 4) at unknowns (k, 4); the only way from the solvers into the parts."""
    for k in range(points.shape[0]):
        _residuals_at(table, line, machine, space, target, points[k], residuals[k])


def _confine(table: Table, y: FloatArray) -> None:
    """Hold an iterate inside the refrigerant's table, head above suction."""
    low = math.log(table.p_min * 1.02)
    high = math.log(table.p_max * 0.985)
    y[0] = min(max(y[0], low), high - 0.1)
    y[1] = min(max(y[1], y[0] + 0.02), high)
    y[2] = min(max(y[2], -16.0), 0.0)


def _merit(r: FloatArray) -> float:
    worst = float(r @ r)
    return math.sqrt(worst) if worst < 1e12 else 1e6


@dataclass(slots=True)
class _Residual:
    """The residuals of one machine as a function of its unknowns; counts its calls."""

    table: Table
    line: SaturationLine
    machine: MachineNumbers
    target: Target
    space: Workspace
    calls: int = 0

    def __call__(self, points: FloatArray) -> FloatArray:
        points = np.atleast_2d(points)
        out = np.empty_like(points)
        _residuals(self.table, self.line, self.machine, self.space, self.target, points, out)
        self.calls += len(points)
        return out


_DARING = 3  # full steps in a row that may climb before the search goes back to its best


def newton(
    residual: _Residual, y: FloatArray, tolerance: float, most: int
) -> tuple[FloatArray, float]:
    """Best unknowns found from `y` within `most` residual calls, and their merit.

    Finite differences make the first matrix and Broyden's rank-one formula keeps it current; it
    is made anew when a step gains less than a factor of two. The residuals have kinks (zero
    superheat, zero subcooling, a wet coil): a full step across one may climb and still land on the
    right side, so a few are allowed before the search returns to its best and shortens the step.
    """
    y = y.copy()
    _confine(residual.table, y)
    r = residual(y)[0]
    merit = _merit(r)
    best, best_r, best_merit = y.copy(), r, merit
    jacobian: FloatArray | None = None  # per unit of _LIMITS
    fresh = False
    daring = 0
    cautious = False
    while best_merit >= tolerance and residual.calls < most:
        if jacobian is None:
            moved = residual(y + np.diag(_DIFFERENCES))
            jacobian = ((moved - r).T / _DIFFERENCES) * _LIMITS
            fresh = True
        try:
            step = np.linalg.solve(jacobian, -r)
        except np.linalg.LinAlgError:
            step = np.linalg.lstsq(jacobian, -r, rcond=1e-10)[0]
        largest = float(np.max(np.abs(step)))
        if not largest < 1e12:
            break
        if largest > 1.0:
            step /= largest
        shrink = 1.0
        while True:
            trial = y + shrink * step * _LIMITS
            _confine(residual.table, trial)
            rt = residual(trial)[0]
            new = _merit(rt)
            descends = new < merit * (1.0 - 0.1 * shrink) or new < tolerance
            if descends or not (fresh and cautious) or shrink < 0.02:
                break
            shrink *= 0.4
        if descends:
            dy = (trial - y) / _LIMITS
            square = float(dy @ dy)
            if square > 0.0:
                jacobian += np.outer(rt - r - jacobian @ dy, dy) / square
            slow = new > 0.5 * merit and largest < 1.0
            y, r, merit = trial, rt, new
            fresh = False
            if slow:
                jacobian = None
            if merit < best_merit:
                best, best_r, best_merit = y.copy(), r, merit
                daring = 0
        elif not fresh:
            jacobian = None
        elif daring < _DARING and not cautious and new < 1e3:
            daring += 1
            y, r, merit = trial, rt, new
            jacobian = None
        elif not cautious:
            cautious = True
            y, r, merit = best.copy(), best_r, best_merit
            jacobian = None
        else:
            # No descent with a fresh matrix: start again beyond the kink, a third of a step on.
            cautious = False
            daring = 0
            y = best + 0.3 * step * _LIMITS
            _confine(residual.table, y)
            r = residual(y)[0]
            merit = _merit(r)
            jacobian = None
    return best, best_merit


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """A steady state of a machine, in SI."""

    evaporating_pressure: float  # Pa, evaporator inlet
    suction_pressure: float  # Pa, evaporator outlet
    discharge_pressure: float  # Pa
    liquid_pressure: float  # Pa, condenser outlet
    evaporating_temperature: float  # K, dew at the suction pressure
    condensing_temperature: float  # K, bubble at the liquid pressure
    suction_temperature: float  # K, entering the compressor
    discharge_temperature: float  # K
    liquid_temperature: float  # K, condenser outlet
    superheat: float  # K, evaporator outlet, negative enthalpy deficit when wet: see quality
    suction_quality: float  # -, evaporator outlet; above one when superheated
    subcooling: float  # K, condenser outlet, 0 when flash gas leaves it
    liquid_quality: float  # -, condenser outlet; below zero when subcooled
    flow: float  # kg/s
    power: float  # W, compressor
    fan_power: float  # W
    total_power: float  # W
    cooling: float  # W, evaporator
    heating: float  # W, condenser
    water: float  # kg/s
    coil_temperature: float  # K, coldest evaporator surface
    wet_share: float
    frost_share: float
    air_between: tuple[float, float]  # K, kg/kg leaving the evaporator side
    air_out: tuple[float, float]  # K, kg/kg leaving the machine
    charge: float  # kg
    places: Inventory
    capillary_flow: float  # kg/s
    capillary_end: float  # Pa
    choked: bool
    oil_temperature: float  # K
    residual: float
    calls: int
    path: str  # which way it was solved
    unknowns: tuple[float, float, float, float]
    notes: tuple[str, ...] = ()
    evaporator_profile: FloatArray | None = field(default=None, repr=False, compare=False)
    condenser_profile: FloatArray | None = field(default=None, repr=False, compare=False)


def design_start(
    table: Table, machine: MachineNumbers, target: Target, *, lift: float = 14.0
) -> FloatArray:
    """First guess: evaporating a little below the dew point, condensing a little above the air."""
    air = machine.air
    t_in = air.temperature
    t_cond = t_in if air.arrangement == 0 else air.condenser_temperature
    te = min(t_in - 12.0, 0.5 * (t_in + 268.0))
    pe = dew_pressure(table, te)
    tc = min(t_cond + lift, 0.97 * table.t_crit)
    pd = dew_pressure(table, tc)
    h1 = enthalpy_vapour(table, pe, te + 5.0)
    c = machine.compressor
    flow = 0.75 * c.displacement * c.speed / state(table, pe, h1)[1]
    h3 = enthalpy_liquid(table, pd, tc - max(target.subcooling, 3.0))
    return np.array([math.log(pe), math.log(pd), math.log(flow), h3])


def _balance(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    y: FloatArray,
    merit: float,
    calls: int,
    path: str,
    profiles: bool,
) -> Balance:
    space = workspace(machine, profiles=profiles)
    pe, pd, flow = (float(v) for v in np.exp(y[:3]))
    run: Pass = round_circuit(table, line, machine, space, pe, pd, flow, float(y[3]), 1)
    places = Inventory(*inventory(table, machine, run, pd, flow))
    tb = saturation(table, run.liquid_pressure)[0]
    t_liquid, _v, _s, x_liquid = state(table, run.liquid_pressure, run.liquid_enthalpy)
    _tb, td, *_ = saturation(table, run.suction_pressure)
    t_out, _v, _s, x_out = state(table, run.suction_pressure, run.evaporator_outlet)
    air = machine.air
    from sweatline.air.moist import moist_heat_capacity, temperature

    out_t = temperature(run.condenser.air_enthalpy, run.condenser.air_humidity)
    if air.fan_position == 2:
        out_t += air.fan_power / (air.flow * moist_heat_capacity(run.condenser.air_humidity))
    notes = []
    if run.evaporator.sweeps < 0 or run.condenser.sweeps < 0:
        notes.append("the air between the rows of a coil did not fully settle")
    if pe < table.p_min * 1.05:
        notes.append("suction pressure is at the lower end of the refrigerant's table")
    if pd > 0.9 * table.p_crit:
        notes.append("head pressure is above nine tenths of the critical pressure")
    return Balance(
        evaporating_pressure=pe,
        suction_pressure=run.suction_pressure,
        discharge_pressure=pd,
        liquid_pressure=run.liquid_pressure,
        evaporating_temperature=td,
        condensing_temperature=tb,
        suction_temperature=state(table, run.suction_pressure, run.suction_enthalpy)[0],
        discharge_temperature=state(table, pd, run.discharge_enthalpy)[0],
        liquid_temperature=t_liquid,
        superheat=max(t_out - td, 0.0) if x_out >= 1.0 else 0.0,
        suction_quality=x_out,
        subcooling=max(tb - t_liquid, 0.0) if x_liquid <= 0.0 else 0.0,
        liquid_quality=x_liquid,
        flow=flow,
        power=run.power,
        fan_power=air.fan_power,
        total_power=run.power + air.fan_power,
        cooling=run.evaporator.heat,
        heating=-run.condenser.heat,
        water=run.evaporator.water,
        coil_temperature=run.evaporator.coldest,
        wet_share=run.evaporator.wet_share,
        frost_share=run.evaporator.frost_share,
        air_between=(run.condenser_air_t, run.condenser_air_w),
        air_out=(out_t, run.condenser.air_humidity),
        charge=places.total,
        places=places,
        capillary_flow=run.capillary_flow,
        capillary_end=run.capillary_end,
        choked=run.capillary_end > pe * (1.0 + 1e-6),
        oil_temperature=run.oil_temperature,
        residual=merit,
        calls=calls,
        path=path,
        unknowns=(float(y[0]), float(y[1]), float(y[2]), float(y[3])),
        notes=tuple(notes),
        evaporator_profile=space.evaporator_profile if profiles else None,
        condenser_profile=space.condenser_profile if profiles else None,
    )


def design(*, superheat: float = 5.0, subcooling: float = 5.0) -> Target:
    """Superheat and subcooling wanted; capillary and charge are answers. [K], [K]"""
    return Target(0, superheat, 0, 1.0, subcooling)


def filled(*, superheat: float = 5.0) -> Target:
    """Capillary given, charged until the evaporator outlet shows `superheat`. [K]"""
    return Target(1, superheat, 2, 1.0, 5.0)


def fixed_charge(charge: float) -> Target:
    """Capillary and charge given. [kg]"""
    return Target(1, 5.0, 1, charge, 5.0)


def _attempt(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    y: FloatArray,
    tolerance: float,
    most: int = 160,
) -> tuple[FloatArray, bool, int, float]:
    residual = _Residual(table, line, machine, target, workspace(machine))
    found, merit = newton(residual, y, tolerance, most)
    return found, merit < tolerance, residual.calls, merit


def solve(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    *,
    start: FloatArray | None = None,
    profiles: bool = False,
    tolerance: float = TOLERANCE,
) -> Balance:
    """Steady state of a machine.

    Parameters
    ----------
    target : Target
        What closes the circuit; see :func:`design`, :func:`filled`, :func:`fixed_charge`.
    start : (4,) array, optional
        Unknowns of a near-by solution (``Balance.unknowns``).
    profiles : bool
        Keep the state of every cell of both coils.

    Returns
    -------
    Balance

    Raises
    ------
    SolveError
        With the physical condition that failed, the best iterate and what was tried.
    """
    tried: list[str] = []
    calls = 0
    best: tuple[float, FloatArray] | None = None

    def note(merit: float, y: FloatArray) -> None:
        nonlocal best
        if best is None or merit < best[0]:
            best = (merit, y.copy())

    if start is not None:
        y, good, n, merit = _attempt(
            table, line, machine, target, np.array(start, dtype=float), tolerance
        )
        calls += n
        tried.append("from the state next to it")
        if good:
            return _balance(table, line, machine, target, y, merit, calls, "continued", profiles)
        note(merit, y)

    seed, n = _seed(table, line, machine, target, tried)
    calls += n
    if seed is not None:
        y, good, n, merit = _attempt(table, line, machine, target, seed, tolerance)
        calls += n
        tried.append("from the machine with free capillary and charge")
        if not good:
            note(merit, y)
            y, good, merit, n = _walk(table, line, machine, target, seed, tolerance)
            calls += n
            tried.append("in steps from there")
        if good:
            return _balance(table, line, machine, target, y, merit, calls, "from design", profiles)
        note(merit, y)
    if best is None:
        best = (1e6, design_start(table, machine, target))
    raise _failure(table, line, machine, target, best[1], best[0], tuple(tried))


def _seed(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    tried: list[str],
) -> tuple[FloatArray | None, int]:
    """Solution with superheat and subcooling wanted, from several first guesses."""
    calls = 0
    wanted_superheat = max(min(target.superheat, 8.0), 1.0)
    for subcooling in (max(min(target.subcooling, 6.0), 1.0), 2.0):
        for lift in (14.0, 22.0, 8.0, 34.0):
            aim = Target(0, wanted_superheat, 0, 1.0, subcooling)
            guess = design_start(table, machine, aim, lift=lift)
            y, good, n, _left = _attempt(table, line, machine, aim, guess, 1e-6)
            calls += n
            if good:
                return y, calls
    tried.append("free capillary and charge, from eight first guesses")
    return None, calls


def _walk(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    seed: FloatArray,
    tolerance: float,
) -> tuple[FloatArray, bool, float, int]:
    """Continuation from the design state: first the capillary's length, then the charge."""
    from sweatline.parts.capillary import capillary_length

    y = seed.copy()
    calls = 0
    if target.with_capillary == 0:
        y, good, n, merit = _attempt(table, line, machine, target, y, tolerance)
        return y, good, merit, n
    pe, pd, flow = (float(v) for v in np.exp(y[:3]))
    run: Pass = round_circuit(table, line, machine, workspace(machine), pe, pd, flow, y[3], 0)
    cap = machine.capillary
    flux = flow / cap.flow_multiplier / (0.25 * math.pi * cap.bore**2)
    own, _end, _liquid = capillary_length(
        table, run.liquid_pressure, y[3], pe, flux, cap.bore, cap.roughness, cap.metastable
    )
    own = min(max(own, 0.05), 50.0)
    span = math.log(cap.length / own)
    places = inventory(table, machine, run, pd, flow)
    charge = math.fsum(places)

    def at(share: float) -> tuple[MachineNumbers, Target]:
        length = own * math.exp(share * span)
        moved = machine._replace(capillary=cap._replace(length=length))
        if target.with_charge == 1:
            grams = charge * (target.charge / charge) ** share
            return moved, target._replace(charge=grams)
        return moved, target

    done = 0.0
    step = 0.25
    merit = 1.0
    while done < 1.0 and step > 1e-3 and calls < 4000:
        goal = min(done + step, 1.0)
        moved, aim = at(goal)
        trial, good, n, merit = _attempt(
            table, line, moved, aim, y, tolerance if goal == 1.0 else 1e-6, 60
        )
        calls += n
        if good:
            y = trial
            done = goal
            step *= 1.7
        else:
            step *= 0.4
    return y, done >= 1.0, merit, calls


def _failure(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    y: FloatArray,
    merit: float,
    tried: tuple[str, ...],
) -> SolveError:
    """Say in the trade's words which condition cannot be met."""
    r = _Residual(table, line, machine, target, workspace(machine))(y)[0]
    pe, pd, flow = (float(v) for v in np.exp(y[:3]))
    words = "no steady balance was found"
    if pe <= table.p_min * 1.03:
        words = (
            "the compressor pulls the evaporator into vacuum: the capillary passes less than it "
            "pumps even at the lowest suction pressure of the table"
        )
    elif pd >= table.p_max * 0.98:
        words = "the head pressure rises to the critical point: the condenser cannot shed the heat"
    elif target.with_capillary == 1 and r[1] < -0.02:
        words = "the capillary passes less than the compressor pumps at every pressure tried"
    elif target.with_capillary == 1 and r[1] > 0.02:
        words = "the capillary passes more than the compressor pumps at every pressure tried"
    elif target.with_charge != 1 and abs(r[3]) > 1e-3:
        words = "the wanted superheat or subcooling cannot be reached with these coils in this air"
    return SolveError(
        condition=words,
        residuals={
            "compressor flow (relative)": float(r[0]),
            "capillary flow or superheat (relative, or 20 kJ/kg)": float(r[1]),
            "condenser outlet (20 kJ/kg)": float(r[2]),
            "charge (relative) or subcooling (20 kJ/kg)": float(r[3]),
        },
        best={
            "evaporating_pressure_Pa": pe,
            "discharge_pressure_Pa": pd,
            "flow_kg_per_s": flow,
            "entering_enthalpy_J_per_kg": float(y[3]),
        },
        tried=tried,
    )


def solve_nested(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    target: Target,
    *,
    start: FloatArray,
    width: float = 0.35,
) -> Balance:
    """The same steady state by nested bracketing: slow, sure, and a check on :func:`solve`.

    Head pressure closes charge or subcooling (outer root), suction pressure closes the flow of
    the capillary or the superheat (middle root); flow and liquid enthalpy settle by substitution.
    `start` and `width` (in ln p) set the bracket that is searched.
    """
    from scipy.optimize import brentq

    residual = _Residual(table, line, machine, target, workspace(machine))
    r = np.zeros(4)
    y = np.array(start, dtype=float)
    calls = 0

    def settle(u_e: float, u_d: float) -> None:
        nonlocal calls, r
        y[0], y[1] = u_e, u_d
        for _ in range(200):
            flow = math.exp(y[2])
            run: Pass = round_circuit(
                table,
                line,
                machine,
                residual.space,
                math.exp(u_e),
                math.exp(u_d),
                flow,
                y[3],
                target.with_capillary,
            )
            calls += 1
            dm = math.log(run.compressor_flow / flow)
            dh = run.liquid_enthalpy - run.assumed_liquid
            y[2] += 0.8 * dm
            y[3] += 0.8 * dh
            if abs(dm) < 1e-11 and abs(dh) < 1e-5:
                break
        r = residual(y)[0]

    def middle(u_d: float) -> float:
        def f(u_e: float) -> float:
            settle(u_e, u_d)
            return float(r[1])

        centre = start[0]
        low, high = centre - width, min(centre + width, u_d - 0.02)
        root = brentq(f, low, high, xtol=1e-12)
        settle(root, u_d)
        return float(r[3])

    root = brentq(middle, start[1] - width / 3, start[1] + width / 3, xtol=1e-11)
    middle(root)
    return _balance(
        table, line, machine, target, y, float(_merit(r)), calls, "nested brackets", False
    )
