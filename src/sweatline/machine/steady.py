"""Equations of a steady machine, and a search for their solution.

Unknowns: logarithm of the pressure at the evaporator inlet and at the compressor outlet, logarithm
of the flow, and the enthalpy that enters the evaporator. Working in ln p and h, never in
temperature or quality, leaves nothing flat or jumping at zero superheat and zero subcooling.

Residuals: flow of the compressor; flow of the expansion device, or a wanted superheat; enthalpy at
the condenser outlet; charge, or a wanted subcooling or superheat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import called_by, inner_kernel, inserted
from sweatline.machine.circuit import (
    MachineParameters,
    Pass,
    Vessels,
    Workspace,
    inventory,
    round_circuit,
    warmed_up,
    workspace,
)
from sweatline.machine.newton import Scales, newton_for
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.expansion import law_of
from sweatline.refrigerant.table import Table, enthalpy_liquid, enthalpy_vapour, saturation

FloatArray = NDArray[np.float64]

# Which quantity closes the charge.
BY_SUBCOOLING = 0
BY_CHARGE = 1
BY_SUPERHEAT = 2


class Target(NamedTuple):
    """What closes the circuit.

    Of expansion device and superheat exactly one is used, and so of charge and subcooling.
    """

    with_expansion: bool  # the expansion device decides the flow; else `superheat` does
    superheat: float  # K, against dew at the evaporator outlet; below 0 minus the wetness
    charged: int  # BY_CHARGE, BY_SUBCOOLING or BY_SUPERHEAT
    charge: float  # kg
    subcooling: float  # K, against bubble; a negative number is minus the quality of flash gas

    @property
    def modes(self) -> tuple[bool, int]:
        """Which conditions close the circuit, whatever their values."""
        return self.with_expansion, self.charged


def design(*, superheat: float = 5.0, subcooling: float = 5.0) -> Target:
    """Superheat and subcooling wanted; expansion device and charge are answers. [K], [K]"""
    return Target(False, superheat, BY_SUBCOOLING, 1.0, subcooling)


def filled(*, superheat: float = 5.0) -> Target:
    """Capillary given, charged until the evaporator outlet shows `superheat`. [K]"""
    return Target(True, superheat, BY_SUPERHEAT, 1.0, 5.0)


def subcooled(*, subcooling: float = 5.0) -> Target:
    """Expansion device given, charged until the condenser outlet shows `subcooling`. [K]

    The way to charge a machine with an expansion valve, which sees to its superheat itself.
    """
    return Target(True, 5.0, BY_SUBCOOLING, 1.0, subcooling)


def fixed_charge(charge: float) -> Target:
    """Expansion device and charge given. [kg]"""
    return Target(True, 5.0, BY_CHARGE, charge, 5.0)


class SteadyMachine(NamedTuple):
    """A machine, what is wanted of it, and its workspace: a system for Newton's method."""

    table: Table
    line: SaturationLine
    machine: MachineParameters
    target: Target
    space: Workspace

    @classmethod
    def of(
        cls, table: Table, line: SaturationLine, machine: MachineParameters, target: Target
    ) -> SteadyMachine:
        """With a fresh workspace."""
        return cls(table, line, machine, target, workspace(machine))

    def begun(self, warm: Warm | None) -> SteadyMachine:
        """The same with a workspace of its own, begun where a near-by solution left its coils."""
        space = workspace(self.machine)
        if warm is not None:
            warmed_up(space, warm.space)
        return self._replace(space=space)

    def passed(self, y: FloatArray) -> Pass:
        """One trip round the circuit at unknowns (4,), through the expansion device if aimed at."""
        return _at(self, y)[1]


_H_SCALE = 2e4  # J/kg
# ln p, ln p, ln m, J/kg
_SCALES = Scales(np.array([0.12, 0.10, 0.25, 20e3]), np.array([2e-6, 2e-6, 2e-6, 1.0]))


@inserted
def _residuals(system: SteadyMachine, y: FloatArray, r: FloatArray) -> Pass:
    """Fill the residuals r (4,) at unknowns y (4,); the only path from solver to parts."""
    table, line, machine, target, space = system
    pe = math.exp(y[0])
    pd = math.exp(y[1])
    flow = math.exp(y[2])
    run = round_circuit(table, line, machine, space, pe, pd, flow, y[3], target.with_expansion)
    r[0] = math.log(run.compressor_flow / flow)
    if target.with_expansion:
        r[1] = run.expansion.excess
    _tb, td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, run.suction_pressure)
    if target.superheat >= 0.0:
        wanted = enthalpy_vapour(table, run.suction_pressure, td + target.superheat)
    else:
        wanted = hg + target.superheat * (hg - hl)
    dryness = (run.evaporator_outlet - wanted) / _H_SCALE
    if not target.with_expansion:
        r[1] = dryness
    r[2] = (run.liquid_enthalpy - run.assumed_liquid) / _H_SCALE
    if target.charged == BY_CHARGE:
        vessels = Vessels(
            machine.lines,
            machine.shell,
            machine.compressor.oil_at_discharge,
            machine.non_condensable_pressure,
        )
        places = inventory(table, vessels, run, pd, flow)
        total = 0.0
        for place in places:
            total += place
        r[3] = total / target.charge - 1.0
    elif target.charged == BY_SUPERHEAT:
        r[3] = dryness
    else:
        tb, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(table, run.liquid_pressure)
        if target.subcooling >= 0.0:
            wanted = enthalpy_liquid(table, run.liquid_pressure, tb - target.subcooling)
        else:
            wanted = hl - target.subcooling * (hg - hl)
        r[3] = (run.assumed_liquid - wanted) / _H_SCALE
    return run


@inner_kernel
def _keep_inside(system: SteadyMachine, y: FloatArray) -> None:
    """Hold unknowns inside the table, with the head above suction."""
    low = math.log(system.table.p_min * 1.02)
    high = math.log(system.table.p_max * 0.985)
    y[0] = min(max(y[0], low), high - 0.1)
    y[1] = min(max(y[1], y[0] + 0.02), high)
    y[2] = min(max(y[2], -16.0), 0.0)


_newton = newton_for(_residuals, _keep_inside)


def solver_kernels() -> frozenset[str]:
    """Names of all kernels that the search for a balance compiles, of a capillary machine."""
    return called_by((_newton, law_of(CapillaryParameters)))


def _at(system: SteadyMachine, y: FloatArray) -> tuple[FloatArray, Pass]:
    """The residuals (4,) at unknowns, and the pass there."""
    left = np.empty(4)
    *_, run = _newton(system, _SCALES, y.copy(), left, 0.0, 0, np.empty((4, 4)), False)
    return left, run


def residuals_at(system: SteadyMachine, points: FloatArray) -> FloatArray:
    """The four residuals at several points (k, 4), one after the other. (k, 4)"""
    return np.array([residuals(system, point) for point in points])


def residuals(system: SteadyMachine, y: FloatArray) -> FloatArray:
    """The four residuals at unknowns `y`, each in its own scale. (4,)"""
    return _at(system, y)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Warm:
    """What a solved machine leaves for the next one: states inside the coils, and the matrix."""

    space: Workspace
    jacobian: FloatArray | None
    modes: tuple[bool, int]  # of the target the matrix belongs to


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """Where one Newton search ended."""

    y: FloatArray  # (4,) best unknowns
    good: bool
    merit: float
    calls: int
    warm: Warm


def attempt(
    system: SteadyMachine,
    y: FloatArray,
    *,
    tolerance: float,
    most: int = 160,
    warm: Warm | None = None,
) -> Attempt:
    """One Newton search from `y`, started from what a near-by solution left, if given.

    It has a workspace of its own; that of `system` is not touched.
    """
    system = system.begun(warm)
    modes = system.target.modes
    jacobian = np.empty((4, 4))
    known = False
    if warm is not None and warm.jacobian is not None and warm.modes == modes:
        jacobian[:] = warm.jacobian
        known = True
    best = np.array(y, dtype=float)
    left = np.empty(4)
    merit, calls, known, _seen = _newton(
        system, _SCALES, best, left, tolerance, most, jacobian, known
    )
    return Attempt(
        y=best,
        good=merit < tolerance,
        merit=merit,
        calls=calls,
        warm=Warm(space=system.space, jacobian=jacobian if known else None, modes=modes),
    )
