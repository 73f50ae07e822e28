"""The same steady state by nested bracketing: slow, sure, and a check on Newton's method."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sweatline.air.saturation_line import SaturationLine
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState, read_off
from sweatline.machine.circuit import MachineParameters, Pass, round_circuit
from sweatline.machine.steady import Attempt, SteadyMachine, Target, Warm, residuals
from sweatline.parts.capillary import CapillaryParameters
from sweatline.refrigerant.table import Table

FloatArray = NDArray[np.float64]

_GOOD = 1e-6  # norm of the four scaled residuals


def solve_nested(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    target: Target,
    *,
    start: FloatArray,
    width: float = 0.35,
) -> SteadyState:
    """The same steady state by nested bracketing: slow, sure, and a check on :func:`solve`.

    One pressure closes charge or subcooling (outer root); the other closes the flow of the
    expansion device or the superheat (inner root), the head where that is a capillary's flow, else
    the suction. Flow and liquid enthalpy settle by substitution.
    `start` and `width` (in ln p) set the bracket that is searched.

    Raises
    ------
    SolveError
        The brackets closed on something that is no balance.
    """
    from scipy.optimize import brentq

    system = SteadyMachine.of(table, line, machine, target)
    space = system.space
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
                space,
                math.exp(u_e),
                math.exp(u_d),
                flow,
                y[3],
                target.with_expansion,
            )
            calls += 1
            dm = math.log(run.compressor_flow / flow)
            dh = run.liquid_enthalpy - run.assumed_liquid
            y[2] += 0.8 * dm
            y[3] += 0.8 * dh
            if abs(dm) < 1e-11 and abs(dh) < 1e-5:
                break
        r = residuals(system, y)

    # A capillary that floods lets one head pressure go with two suction pressures, and not the
    # other way; a valve goes by the superheat.
    tube = target.with_expansion and isinstance(machine.expansion, CapillaryParameters)
    inner, outer = (1, 0) if tube else (0, 1)
    u = [float(start[0]), float(start[1])]

    def closed(value: float) -> float:
        u[outer] = value

        def f(other: float) -> float:
            u[inner] = other
            settle(*u)
            return float(r[1])

        low, high = start[inner] - width, start[inner] + width
        u[inner] = brentq(f, low, min(high, u[1] - 0.02) if inner == 0 else high, xtol=1e-12)
        settle(*u)
        return float(r[3])

    root = brentq(closed, start[outer] - width / 3, start[outer] + width / 3, xtol=1e-11)
    closed(root)
    merit = float(np.sqrt(r @ r))
    if merit > _GOOD:
        # Flooded machines have several charges at one head pressure: these brackets find no root.
        raise SolveError(
            condition="the nested brackets closed on no balance",
            residuals={f"residual {i + 1}": float(value) for i, value in enumerate(r)},
            tried=(f"brackets of {width:g} in the logarithm of the pressures",),
        )
    found = Attempt(
        y=y,
        good=True,
        merit=merit,
        calls=calls,
        warm=Warm(space=space, jacobian=None, modes=target.modes),
    )
    return read_off(table, line, machine, found, calls, "nested brackets", False)
