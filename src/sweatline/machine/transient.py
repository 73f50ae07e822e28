r"""A machine that moves: charge shifting between its sides, heat stored in shell and coils.

States are the mass on the low side (evaporator, suction line and, in a low-side shell, gas and
oil), the temperatures of the shell with its oil and of the metal of both coils, and the enthalpy
that arrives at the expansion device. Each side's pressure is what its mass makes it, with the same
marches and the same inventory as in a balance; :mod:`sweatline.machine.transient_step` has the
equations. Heat that the metal of a coil gives up as it follows the saturation temperature is given
to the air in front of it, and heat that a high-side shell takes up is taken from the discharge gas.
At rest of all states the equations are those of the balance.

The refrigerant inside a coil is taken as it would lie in steady flow; so what happens within
seconds of a start is left out (foaming oil, liquid swept along), and oil takes up refrigerant at
once. A real machine is therefore slower than this one in its first minute, and settles like it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import temperature as air_temperature
from sweatline.air.saturation_line import SaturationLine
from sweatline.errors import SolveError
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import (
    MachineParameters,
    Pass,
    inventory,
    refrigerant_pressure,
    warmed_up,
    workspace,
)
from sweatline.machine.standstill import (
    Sides,
    StandstillState,
    StandstillStep,
    advance_standstill,
    coil_state,
    outlet_enthalpy,
    shell_gas,
    sides_of,
)
from sweatline.machine.transient_step import (
    CLOSE,
    UNBOUNDED,
    HeatCapacities,
    TransientState,
    TransientStep,
    advance,
    limits,
    shown_at,
)
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.compressor import compress
from sweatline.refrigerant.table import Table, saturation, state

FloatArray = NDArray[np.float64]

_SHORTEST: Final = 0.02  # s
_WETTEST_START: Final = 0.05  # share of liquid in the first gas after a start (judged)
# Where a step begins its search: at the moment before, then beside it, logarithms of both pressures
# and the flow. After a start pressures move far, and across kinks.
_SHIFTS: Final = np.array(
    [
        [0.0, 0.0, 0.0],
        [-0.15, 0.15, -0.15],
        [-0.05, 0.3, -0.05],
        [-0.3, 0.2, -0.3],
        [-0.1, -0.1, -0.1],
        [0.1, 0.1, 0.1],
    ]
)
_VALVE_STEP: Final = 2.0  # s; a valve answers the bulb as it was, longer steps make it swing


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A machine at one moment, in SI."""

    time: float  # s
    suction_pressure: float  # Pa
    discharge_pressure: float  # Pa
    suction_temperature: float  # K, entering the compressor
    discharge_temperature: float  # K
    liquid_temperature: float  # K, condenser outlet
    evaporating_temperature: float  # K, dew at the suction pressure
    superheat: float  # K, evaporator outlet
    subcooling: float  # K, condenser outlet
    coil_temperature: float  # K, coldest surface
    air_between: tuple[float, float]  # K, kg/kg
    air_out: tuple[float, float]  # K, kg/kg
    power: float  # W, compressor
    water: float  # kg/s
    metering_flow: float  # kg/s
    compressor_flow: float  # kg/s
    low_side: float  # kg
    charge: float  # kg
    shell_temperature: float  # K


class Transient:
    """A machine followed through time from a balance.

    Parameters
    ----------
    table, line, machine
        As for a balance.
    start : SteadyState
        Steady state from which it moves.
    capacities : HeatCapacities
        Heat that its parts hold.
    """

    def __init__(
        self,
        table: Table,
        line: SaturationLine,
        machine: MachineParameters,
        start: SteadyState,
        capacities: HeatCapacities,
    ) -> None:
        self.table, self.line, self.machine, self.capacities = table, line, machine, capacities
        self.time = 0.0
        self.charge = start.charge
        self._coming = 0.0
        self._rate = 2e-3
        self._space = workspace(machine)
        if start.warm is not None:
            warmed_up(self._space, start.warm.space)
        # A quality above one says how far beyond saturated gas the outlet is.
        _tb, _td, hl, hg, *_ = saturation(table, start.suction_pressure)
        outlet = float(hl + start.suction_quality * (hg - hl))
        behind = 1.0 - machine.lines.exchanger_ahead
        exchanged = (start.metering_enthalpy - start.unknowns[3]) / behind if behind > 0.0 else 0.0
        places = start.charge_by_place
        low = places.evaporator + places.suction_line
        if machine.compressor.oil_at_discharge < 0.5:
            low += places.shell_gas + places.oil
        self._state = TransientState(
            low,
            start.inside_temperature,
            float(saturation(table, start.evaporating_pressure)[1]),
            float(
                saturation(
                    table,
                    refrigerant_pressure(
                        start.discharge_pressure, machine.non_condensable_pressure
                    ),
                )[0]
            ),
            start.unknowns[3],
            exchanged,
            start.discharge_pressure - start.liquid_pressure,
            start.evaporating_pressure - start.suction_pressure,
            outlet,
            UNBOUNDED,
        )
        self._u = np.array(start.unknowns[:3])
        self._matrix: FloatArray = np.zeros((3, 3))
        self._known = False
        self._standing: StandstillState | None = None
        self._sides: Sides | None = None
        self.snapshot = self._at_rest()

    def add(self, mass: float, *, rate: float = 2e-3) -> None:
        """Let refrigerant into the low side as vapour while time goes on, or out of it.

        Parameters
        ----------
        mass : float
            To come; negative to be taken out. [kg]
        rate : float
            At which it comes. [kg/s]
        """
        self._coming += mass
        self._rate = rate

    def run(self, duration: float, *, step: float = 2.0) -> Snapshot:
        """Go on for a while. [s]

        Raises
        ------
        SolveError
            A side's mass has no pressure inside the table: the machine has run empty, or full.
        """
        if not isinstance(self.machine.expansion, CapillaryParameters):
            step = min(step, _VALVE_STEP)
        left = duration
        size = step
        while left > 1e-9:
            now = min(size, left)
            inflow = math.copysign(min(self._rate * now, abs(self._coming)), self._coming)
            try:
                self.snapshot = self._advance(now, inflow)
            except SolveError:
                # A sudden change moves the pressures too far for one step.
                size = 0.25 * now
                if size < _SHORTEST:
                    raise
                continue
            self._coming -= inflow
            left -= now
            size = min(2.0 * size, step)
        return self.snapshot

    @property
    def running(self) -> bool:
        """Whether the compressor runs."""
        return self._standing is None

    def stop(self, *, fan: bool = False) -> None:
        """Stop the compressor; time has to be run on to see what comes of it.

        Parameters
        ----------
        fan : bool
            Whether the fan runs on.

        Raises
        ------
        SolveError
            One side holds more than fits into it as liquid.
        """
        s, table, machine = self._state, self.table, self.machine
        if self._standing is not None:
            self._sides = sides_of(machine, fan=fan)
            return
        sides = sides_of(machine, fan=fan)
        pd, flow = (float(v) for v in np.exp(self._u[1:]))
        oil = float(inventory(table, machine.vessels, self._pass, pd, flow).oil)

        def shell(pressure: float) -> float:
            return float(shell_gas(table, machine.shell, pressure, s.shell)) + oil

        def nothing(pressure: float) -> float:
            return 0.0

        rests = (nothing, shell) if sides.shell_high else (shell, nothing)
        cold = coil_state(table, sides.low_volume, s.evaporator, s.low, rests[0])
        warm = coil_state(table, sides.high_volume, s.condenser, self.charge - s.low, rests[1])
        self._standing = StandstillState(s.low, oil, s.shell, *cold, *warm, 0.0)
        self._sides = sides

    def start(self) -> None:
        """Start the compressor again, fans and all."""
        stood, table, sides = self._standing, self.table, self._sides
        if stood is None or sides is None:
            return
        cold, _v, _s, _x = state(table, stood.low_pressure, stood.low_enthalpy)
        warm, v, _s, _x = state(table, stood.high_pressure, stood.high_enthalpy)
        gas = float(saturation(table, stood.low_pressure)[3])
        suction = max(gas, stood.low_enthalpy)
        self._state = TransientState(
            low=stood.low,
            shell=stood.shell,
            evaporator=float(cold),
            condenser=float(warm),
            entering=float(
                outlet_enthalpy(
                    table, stood.high_pressure, stood.high_enthalpy, sides.high_volume / v
                )
            ),
            exchanged=0.0,
            drop=0.0,
            evaporator_drop=0.0,
            bulb=suction,
            wettest=_WETTEST_START,
        )
        head = stood.high_pressure + self.machine.non_condensable_pressure
        flow = compress(table, self.machine.compressor, stood.low_pressure, suction, head)[0]
        self._u = np.log([stood.low_pressure, head, flow])
        self._known = False
        self._standing = None

    def _at_rest(self) -> Snapshot:
        """What the machine shows at the steady state from which it moves."""
        end = shown_at(self._step(self._state, self.charge, 1.0), self._u)
        self._pass = end.run
        return self._shown(end.run, self._state, float(np.exp(self._u[1])), end.passed)

    def _step(self, old: TransientState, charge: float, step: float) -> TransientStep:
        return TransientStep(
            *(self.table, self.line, self.machine, self._space, self.capacities),
            *(old, charge, step),
        )

    def _advance(self, step: float, inflow: float) -> Snapshot:
        """One step on with so much let in; nothing is changed if it fails."""
        if self._standing is not None:
            return self._stand(self._standing, step, inflow)
        old = self._state._replace(low=self._state.low + inflow)
        charge = self.charge + inflow
        system = self._step(old, charge, step)
        for shift in _SHIFTS:
            u = self._u + shift
            end, merit, self._known, _calls = advance(system, u, self._matrix, self._known)
            if merit < CLOSE:
                break
            self._known = False
        if not merit < CLOSE:
            raise self._lost(u, merit, step)
        self._u, self._state, self._pass, self.charge = u, end.state, end.run, charge
        self.time += step
        return self._shown(end.run, end.state, float(np.exp(u[1])), end.passed)

    def _stand(self, old: StandstillState, step: float, inflow: float) -> Snapshot:
        assert self._sides is not None
        brought = inflow * float(saturation(self.table, old.low_pressure)[3])
        self._standing = advance_standstill(
            StandstillStep(
                *(self.table, self.machine.expansion, self.machine.shell),
                *(self._sides, self.capacities, old._replace(low=old.low + inflow)),
                *(self.charge + inflow, step, brought),
            )
        )
        self.charge += inflow
        self.time += step
        return self._shown_standing(self._standing)

    def _lost(self, u: FloatArray, worst: float, step: float) -> SolveError:
        pe, pd, flow = (float(v) for v in np.exp(u))
        lowest, highest = (math.exp(v) for v in limits(self.table))
        condition = "one side of the machine holds more or less than any pressure accounts for"
        if pd > 0.999 * highest:
            condition = "the high side fills up: the head pressure passes the highest in the tables"
        elif pe < 1.001 * lowest:
            condition = (
                "the low side is pumped empty: its pressure falls below the lowest in the tables"
            )
        return SolveError(
            condition=condition,
            residuals={"largest": worst},
            best={
                "suction_pressure_Pa": pe,
                "discharge_pressure_Pa": pd,
                "flow_kg_per_s": flow,
            },
            tried=(f"from the moment before, {step:g} s on",),
        )

    def _shown_standing(self, stood: StandstillState) -> Snapshot:
        table, air = self.table, self.machine.air
        low, high = stood.low_pressure, stood.high_pressure
        cold, _v, _s, x_cold = state(table, low, stood.low_enthalpy)
        warm, _v, _s, x_warm = state(table, high, stood.high_enthalpy)
        dew = float(saturation(table, low)[1])
        bubble = float(saturation(table, high)[0])
        room = (air.temperature, air.humidity)
        return Snapshot(
            time=self.time,
            suction_pressure=low,
            discharge_pressure=high + self.machine.non_condensable_pressure,
            suction_temperature=float(cold),
            discharge_temperature=stood.shell,
            liquid_temperature=float(warm),
            evaporating_temperature=dew,
            superheat=max(float(cold) - dew, 0.0) if x_cold >= 1.0 else 0.0,
            subcooling=max(bubble - float(warm), 0.0) if x_warm <= 0.0 else 0.0,
            coil_temperature=float(cold),
            air_between=room,
            air_out=room,
            power=0.0,
            water=0.0,
            metering_flow=stood.flow,
            compressor_flow=0.0,
            low_side=stood.low,
            charge=self.charge,
            shell_temperature=stood.shell,
        )

    def _shown(self, run: Pass, new: TransientState, pd: float, passed: float) -> Snapshot:
        table = self.table
        ps = run.suction_pressure
        dew = float(saturation(table, ps)[1])
        bubble = float(saturation(table, run.liquid_pressure)[0])
        t_out, _v, _s, x_out = state(table, ps, run.evaporator_outlet)
        t_liquid, _v, _s, x_liquid = state(table, run.liquid_pressure, run.liquid_enthalpy)
        humidity = run.condenser.air_humidity
        air_out = air_temperature(run.condenser.air_enthalpy, humidity)
        return Snapshot(
            time=self.time,
            suction_pressure=ps,
            discharge_pressure=pd,
            suction_temperature=float(state(table, ps, run.suction_enthalpy)[0]),
            discharge_temperature=float(state(table, pd, run.discharge_enthalpy)[0]),
            liquid_temperature=float(t_liquid),
            evaporating_temperature=dew,
            superheat=max(float(t_out) - dew, 0.0) if x_out >= 1.0 else 0.0,
            subcooling=max(bubble - float(t_liquid), 0.0) if x_liquid <= 0.0 else 0.0,
            coil_temperature=run.evaporator.coldest,
            air_between=(run.condenser_air_t, run.condenser_air_w),
            air_out=(float(air_out), humidity),
            power=run.power,
            water=run.evaporator.water,
            metering_flow=passed,
            compressor_flow=run.compressor_flow,
            low_side=new.low,
            charge=self.charge,
            shell_temperature=new.shell,
        )
