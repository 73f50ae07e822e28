"""Where a search for a steady state begins when nothing near by is solved.

Two ways to the design state (superheat and subcooling wanted, capillary and charge free): a rough
guess from the air, which Newton's method nearly always mends, and brackets on both coils in turn,
which find it for machines whose parts suit each other badly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweatline.air.saturation_line import SaturationLine
from sweatline.machine.circuit import (
    SERIES,
    MachineParameters,
    condenser_air,
    evaporator_air,
    workspace,
)
from sweatline.parts.coil import AirInlet, CoilResult, RefrigerantInlet
from sweatline.parts.coil_march import march
from sweatline.parts.compressor import compress, leaving
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    enthalpy_vapour,
    full_state,
    saturation,
    state,
)

FloatArray = NDArray[np.float64]


def design_start(
    table: Table, machine: MachineParameters, subcooling: float, *, lift: float = 14.0
) -> FloatArray:
    """Rough guess: evaporating a little below the dew point, condensing `lift` above the air."""
    air = machine.air
    t_in = air.temperature
    t_cond = t_in if air.arrangement == SERIES else air.condenser_temperature
    te = min(t_in - 12.0, 0.5 * (t_in + 268.0))
    pe = dew_pressure(table, te)
    tc = min(t_cond + lift, 0.97 * table.t_crit)
    pd = dew_pressure(table, tc)
    h1 = enthalpy_vapour(table, pe, te + 5.0)
    c = machine.compressor
    flow = 0.75 * c.displacement * c.speed / state(table, pe, h1)[1]
    h3 = enthalpy_liquid(table, pd, tc - max(subcooling, 3.0))
    return np.array([math.log(pe), math.log(pd), math.log(flow), h3])


@dataclass(frozen=True, slots=True, kw_only=True)
class Bracketed:
    """A guess from brackets, and which end of its bracket a coil ran into, if any."""

    y: FloatArray  # (4,) unknowns
    superheat: float  # K, or minus the wetness, that it has
    evaporator_short: bool  # no superheat even at the lowest suction pressure of the table
    condenser_short: bool  # no subcooling even at the highest head pressure of the table
    evaporator_narrow: bool  # more than a fifth of its pressure is lost in the evaporator's tubes


def _root(f: Callable[[float], float], low: float, high: float) -> tuple[float, int]:
    """Root of a falling function to 5e-4 by bisection and secants; -1 or 1 when it is outside."""
    f_low, f_high = f(low), f(high)
    if not f_low > 0.0:
        return low, -1
    if not f_high < 0.0:
        return high, 1
    side = 0
    for _ in range(40):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        if not low + 0.02 * (high - low) < middle < high - 0.02 * (high - low):
            middle = 0.5 * (low + high)
        value = f(middle)
        if value > 0.0:
            low, f_low = middle, value
            f_high *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            high, f_high = middle, value
            f_low *= 0.5 if side == -1 else 1.0
            side = -1
        if high - low < 5e-4:
            break
    return 0.5 * (low + high), 0


class _Coils:
    """Both coils on their own, the rest of the circuit as wanted."""

    def __init__(
        self,
        table: Table,
        line: SaturationLine,
        machine: MachineParameters,
        superheat: float,
        subcooling: float,
    ) -> None:
        self.table, self.line, self.machine = table, line, machine
        self.superheat, self.subcooling = superheat, subcooling
        self.space = workspace(machine)
        self.inlet_pressure = 0.0
        self.flow = 1e-3
        self.suction = 0.0
        self.exchanged = 0.0
        self.air: AirInlet = evaporator_air(machine.air)
        self.behind = self.air

    def after_evaporator(self, suction: float) -> float:
        """Enthalpy with the wanted superheat, or wetness when that is negative. [J/kg]"""
        _tb, t_dew, hl, hg, _vl, _vg, _sl, _sg = saturation(self.table, suction)
        if self.superheat < 0.0:
            return hg + self.superheat * (hg - hl)
        return enthalpy_vapour(self.table, suction, t_dew + self.superheat)

    def liquid(self, pressure: float) -> float:
        """Enthalpy with the wanted subcooling, or quality when that is negative. [J/kg]"""
        t_bubble, _td, hl, hg, _vl, _vg, _sl, _sg = saturation(self.table, pressure)
        if self.subcooling < 0.0:
            return hl - self.subcooling * (hg - hl)
        return enthalpy_liquid(self.table, pressure, t_bubble - self.subcooling)

    def _pumped(self, suction: float, head: float) -> tuple[float, float]:
        """Flow and discharge enthalpy with everything as wanted. [kg/s], [J/kg]"""
        h1 = self.after_evaporator(suction)
        conductance = self.machine.lines.exchanger_conductance
        flow = self.flow
        h2 = h1
        for _ in range(6):
            if conductance > 0.0:
                t, _v, _s, cp, _mu, _k, _x = full_state(self.table, suction, h1)
                liquid = state(self.table, head, self.liquid(head))[0]
                warm = max(liquid - t, 0.0)
                self.exchanged = conductance * cp * warm / (conductance + flow * cp)
            before = flow
            numbers, entering = self.machine.compressor, h1 + self.exchanged
            pumped = compress(self.table, numbers, suction, entering, head)
            flow = pumped[0]
            h2 = leaving(
                *(self.table, numbers, pumped, suction, entering, head),
                *(numbers.shell_conductance, self.machine.air.ambient),
            ).discharge_enthalpy
            if conductance <= 0.0 or abs(flow - before) < 1e-4 * flow:
                break
        self.flow = flow
        return flow, h2

    def _evaporator(self, inlet: float, entering: float) -> CoilResult:
        return march(
            self.table,
            self.line,
            self.machine.evaporator,
            RefrigerantInlet(self.flow, inlet, entering),
            self.air,
            True,
            self.space.evaporator,
        )

    def superheat_to_spare(self, suction: float, head: float) -> float:
        """Enthalpy of the evaporator's outlet above the wanted one, at a suction pressure. [J/kg]

        The inlet pressure that the drop in the tubes asks for is found on the way.
        """
        self._pumped(suction, head)
        entering = self.liquid(head) - self.exchanged
        inlet = suction
        coil = self._evaporator(inlet, entering)
        for _ in range(12):
            wrong = math.log(suction / max(coil.pressure, 1.0))
            if abs(wrong) < 1e-3:
                break
            inlet = min(inlet * math.exp(min(0.8 * wrong, 0.7)), 0.97 * head)
            coil = self._evaporator(inlet, entering)
        self.inlet_pressure = inlet
        if inlet >= 0.97 * head and coil.pressure < 0.98 * suction:
            # The tubes do not carry this flow at any inlet pressure: it must become less.
            return -1e5 * math.log(suction / max(coil.pressure, 1.0))
        self.behind = condenser_air(self.machine.air, coil)
        return coil.enthalpy - self.after_evaporator(suction)

    def flow_to_spare(self, u_m: float, inlet: float, head: float) -> float:
        """Logarithm of what is pumped over what runs through the evaporator, at an inlet pressure.

        The outlet's state becomes the wanted one. `u_m` is the logarithm of the flow. [-]
        """
        self.flow = math.exp(u_m)
        self.exchanged = 0.0
        coil = self._evaporator(inlet, self.liquid(head))
        _tb, t_dew, _hl, _hg, _vl, _vg, _sl, _sg = saturation(self.table, coil.pressure)
        t_out, _v, _s, quality = state(self.table, coil.pressure, coil.enthalpy)
        self.superheat = t_out - t_dew if quality >= 1.0 else quality - 1.0
        self.inlet_pressure = inlet
        self.suction = coil.pressure
        self.behind = condenser_air(self.machine.air, coil)
        numbers = self.machine.compressor
        flow = compress(self.table, numbers, coil.pressure, coil.enthalpy, head)[0]
        return math.log(flow) - u_m

    def too_hot(self, head: float, suction: float) -> float:
        """How far the condenser falls short of the subcooling at a head pressure. [J/kg]"""
        flow, h2 = self._pumped(suction, head)
        coil = march(
            self.table,
            self.line,
            self.machine.condenser,
            RefrigerantInlet(flow, head, h2),
            self.behind,
            False,
            self.space.condenser,
        )
        return coil.enthalpy - self.liquid(coil.pressure)


def bracketed_start(
    table: Table,
    line: SaturationLine,
    machine: MachineParameters,
    *,
    superheat: float,
    subcooling: float,
    inlet: float | None = None,
) -> Bracketed:
    """Guess at the design state by a bracket on each coil in turn.

    Lower suction pressure means less flow and a greater temperature difference, so superheat rises
    without turning; higher head pressure likewise gives more subcooling. With `inlet`, the pressure
    before the evaporator [Pa], the superheat is what comes of it: for tubes so narrow that their
    pressure drop, not the coil's surface, sets the flow.
    """
    air = machine.air
    coils = _Coils(table, line, machine, superheat, subcooling)
    hot = air.temperature if air.arrangement == SERIES else air.condenser_temperature
    lowest = math.log(table.p_min * 1.03)
    highest = math.log(table.p_max * 0.98)
    warmest = math.log(dew_pressure(table, coils.air.temperature - max(superheat, 0.0) - 0.2))
    coldest = math.log(bubble_pressure(table, min(hot - 15.0, 0.9 * table.t_crit)))
    u_d = min(math.log(bubble_pressure(table, min(hot + 15.0, 0.96 * table.t_crit))), highest)
    dry = cold = 0
    for _ in range(8):
        if inlet is not None:
            head = math.exp(max(u_d, math.log(inlet) + 0.05))

            def pumped(u: float, head: float = head) -> float:
                return coils.flow_to_spare(u, inlet, head)

            u_m, dry = _root(pumped, -16.0, 0.0)
            pumped(u_m)
            least = math.log(inlet)
        else:
            top = min(max(warmest, lowest + 0.05), u_d - 0.05)

            def spare(u: float, head: float = math.exp(u_d)) -> float:
                return coils.superheat_to_spare(math.exp(u), head)

            least, dry = _root(spare, lowest, top)
            spare(least)
            coils.suction = math.exp(least)
        before = u_d
        u_d, cold = _root(
            lambda u: coils.too_hot(math.exp(u), coils.suction), max(coldest, least) + 0.02, highest
        )
        if abs(u_d - before) < 5e-3:
            break
    head = math.exp(u_d)
    y = np.array(
        [
            math.log(coils.inlet_pressure),
            u_d,
            math.log(coils.flow),
            coils.liquid(head) - coils.exchanged,
        ]
    )
    return Bracketed(
        y=y,
        superheat=coils.superheat,
        evaporator_short=dry < 0,
        condenser_short=cold > 0,
        evaporator_narrow=coils.suction < 0.8 * coils.inlet_pressure,
    )
