r"""A machine that moves: charge shifting between its sides, heat stored in shell and coils.

States are the mass on the low side (evaporator, suction line and, in a low-side shell, gas and
oil), the temperature of the shell with its oil, that of the metal of both coils, and the enthalpy
that arrives at the capillary. Each side's pressure is what its mass makes it: the same marches and
the same inventory as in a balance, the evaporator at the flow of the metering part, the condenser
at that of the compressor,

.. math::
    \frac{dM_{low}}{dt} = \dot m_{metering} - \dot m_{compressor}, \qquad
    M_{low}(p_e, \ldots) = M_{low}, \qquad M_{high}(p_d, \ldots) = M - M_{low}.

Heat that the metal of a coil gives up as it follows the saturation temperature is given to the air
in front of it, and heat that the shell takes up is taken from the discharge gas. At rest of all
states the equations are those of the balance.

The refrigerant inside a coil is taken as it would lie in steady flow, and the energy of what
gathers there is left out; so is what happens within seconds of a start (foaming oil, liquid swept
along). Oil takes up refrigerant at once. A real machine is therefore slower than this one in its
first minute, and settles like it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import moist_heat_capacity
from sweatline.air.moist import temperature as air_temperature
from sweatline.air.saturation_line import SaturationLine
from sweatline.compiled import kernel
from sweatline.errors import SolveError
from sweatline.machine.balance import Balance
from sweatline.machine.circuit import (
    MachineNumbers,
    Pass,
    Workspace,
    exchanged_heat,
    inventory,
    own_pressure,
    workspace,
)
from sweatline.parts.compressor import compress
from sweatline.parts.metering import Ends, metered
from sweatline.parts.tubes import march_either
from sweatline.refrigerant.table import Table, saturation, state

__all__ = ["Moment", "Stores", "Transient"]

FloatArray = NDArray[np.float64]

_SHELL_DROP: Final = 5.0  # K, oil below the discharge gas in a high-side shell (common practice)
_LEAST_FLOW: Final = 1e-6  # kg/s, so that a march has a direction
_STRONGEST: Final = 80.0  # K by which metal may warm or cool the air that the coil feels
_SHORTEST: Final = 0.02  # s
_GAS_TO_SHELL: Final = 15.0  # W/K, hot gas to a high-side shell and its oil (MEMORY 0.3)
_CLOSE: Final = 1e-7  # residual of either side's mass, of the charge


class Stores(NamedTuple):
    """What holds heat in a machine."""

    shell: float  # J/K, steel and oil
    evaporator: float  # J/K, metal of the coil
    condenser: float  # J/K
    liquid_lag: float  # s, that the liquid line and drier hold back a change of enthalpy


class _State(NamedTuple):
    low: float  # kg on the low side
    shell: float  # K, its oil
    evaporator: float  # K, saturation the metal stands at
    condenser: float  # K
    entering: float  # J/kg, arriving at the metering part
    drop: float  # Pa, along the condenser at the last step


@kernel
def _moment(
    table: Table,
    line: SaturationLine,
    machine: MachineNumbers,
    space: Workspace,
    stores: Stores,
    old: _State,
    charge: float,
    step: float,
    u: FloatArray,
    residuals: FloatArray,
) -> tuple[Pass, _State, float, float]:
    """Residuals of both masses at the end of a step for ln pressures `u`; the pass, the state.

    Also the flows of metering part and compressor. [kg/s]
    """
    pe = math.exp(u[0])
    pd = math.exp(u[1])
    air = machine.air
    ends = Ends(pd - min(old.drop, 0.3 * pd), old.entering, pe, pe, 0.0)
    te = saturation(table, pe)[1]
    passed = max(metered(table, machine.metering, ends, 1e-3).flow, _LEAST_FLOW)
    capacity = air.flow * moist_heat_capacity(air.humidity)
    air_t = air.temperature
    if air.fan_position == 0:
        air_t += air.fan_power / capacity
    given = stores.evaporator * (old.evaporator - te) / step  # W, by the metal to the air
    evaporator = march_either(
        table,
        line,
        machine.evaporator,
        passed,
        pe,
        old.entering,
        air_t + min(max(given / capacity, -_STRONGEST), _STRONGEST),
        air.humidity,
        air.flow,
        1,
        space.evaporator_entry,
        space.evaporator_inverse,
        space.evaporator_profile,
    )
    exchanged = exchanged_heat(
        table,
        machine.lines.exchanger_conductance,
        passed,
        evaporator.pressure,
        evaporator.enthalpy,
        pd,
        old.entering,
    )
    suction_h = evaporator.enthalpy + exchanged
    pumped, power, h2, h2s = compress(table, machine.compressor, evaporator.pressure, suction_h, pd)
    pumped = max(pumped, _LEAST_FLOW)
    # The shell goes after its steady temperature; what it stores is missing in the gas.
    resting = air.ambient + machine.compressor.shell_loss * power / (
        machine.compressor.shell_conductance
    )
    conductance = machine.compressor.shell_conductance
    if machine.compressor.oil_at_discharge > 0.5:
        resting = state(table, pd, h2)[0] - _SHELL_DROP
        conductance = _GAS_TO_SHELL
    share = step * conductance / stores.shell
    shell = (old.shell + share * resting) / (1.0 + share)
    h2 -= stores.shell * (shell - old.shell) / step / pumped
    if air.arrangement == 0:
        cond_w = evaporator.air_humidity
        cond_t = air_temperature(evaporator.air_enthalpy, cond_w)
        cond_flow = air.flow
        if air.fan_position == 1:
            cond_t += air.fan_power / (air.flow * moist_heat_capacity(cond_w))
    else:
        cond_t = air.condenser_temperature
        cond_w = air.condenser_humidity
        cond_flow = air.condenser_flow
        if air.condenser_fan_position == 0:
            cond_t += air.condenser_fan_power / (cond_flow * moist_heat_capacity(cond_w))
    cond_capacity = cond_flow * moist_heat_capacity(cond_w)
    condensing = own_pressure(machine, pd)
    tc = saturation(table, condensing)[0]
    released = stores.condenser * (old.condenser - tc) / step
    condenser = march_either(
        table,
        line,
        machine.condenser,
        pumped,
        condensing,
        h2,
        cond_t + min(max(released / cond_capacity, -_STRONGEST), _STRONGEST),
        cond_w,
        cond_flow,
        0,
        space.condenser_entry,
        space.condenser_inverse,
        space.condenser_profile,
    )
    liquid_pressure = condenser.pressure + (pd - condensing)
    leaving = condenser.enthalpy - exchanged
    lag = step / (stores.liquid_lag + step)
    run = Pass(
        pumped,
        metered(table, machine.metering, ends, passed),
        evaporator.pressure,
        suction_h,
        evaporator.enthalpy,
        liquid_pressure,
        condenser.enthalpy,
        old.entering + exchanged,
        h2,
        h2s,
        power,
        shell,
        evaporator,
        condenser,
        cond_t,
        cond_w,
        exchanged,
    )
    places = inventory(table, machine, run, pd, pumped)
    high = places[1] + places[2] + places[3] + places[5]
    low = places[0] + places[4]
    if machine.compressor.oil_at_discharge > 0.5:
        high += places[6] + places[7]
    else:
        low += places[6] + places[7]
    mass = old.low + step * (passed - pumped)
    residuals[0] = (low - mass) / charge
    residuals[1] = (high - charge + mass) / charge
    new = _State(
        mass,
        shell,
        te,
        tc,
        old.entering + lag * (leaving - old.entering),
        max(pd - liquid_pressure, 0.0),
    )
    return run, new, passed, pumped


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
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
    """A running machine, followed through time from a balance.

    Parameters
    ----------
    table, line, machine
        As for a balance.
    start : Balance
        Steady state from which it moves.
    stores : Stores
        Heat that its parts hold.
    """

    def __init__(
        self,
        table: Table,
        line: SaturationLine,
        machine: MachineNumbers,
        start: Balance,
        stores: Stores,
    ) -> None:
        self.table, self.line, self.machine, self.stores = table, line, machine, stores
        self.time = 0.0
        self.charge = start.charge
        self._coming = 0.0
        self._rate = 2e-3
        self._space = workspace(machine)
        if start.warm is not None:
            for mine, theirs in zip(self._space, start.warm.space, strict=True):
                if mine.shape == theirs.shape:
                    mine[:] = theirs
        places = start.places
        low = places.evaporator + places.suction_line
        if machine.compressor.oil_at_discharge < 0.5:
            low += places.shell_gas + places.oil
        self._state = _State(
            low,
            start.oil_temperature,
            float(saturation(table, start.evaporating_pressure)[1]),
            float(saturation(table, own_pressure(machine, start.discharge_pressure))[0]),
            start.unknowns[3],
            start.discharge_pressure - start.liquid_pressure,
        )
        self._u = np.array(start.unknowns[:2])
        self._matrix: FloatArray | None = None
        self.moment = self._advance(1.0, commit=False)

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

    def run(self, duration: float, *, step: float = 2.0) -> Moment:
        """Go on for a while. [s]

        Raises
        ------
        SolveError
            A side's mass has no pressure inside the table: the machine has run empty, or full.
        """
        left = duration
        size = step
        while left > 1e-9:
            now = min(size, left)
            inflow = math.copysign(min(self._rate * now, abs(self._coming)), self._coming)
            self._state = self._state._replace(low=self._state.low + inflow)
            self.charge += inflow
            try:
                self.moment = self._advance(now, commit=True)
            except SolveError:
                # A sudden change moves the pressures too far for one step.
                self._matrix = None
                self._state = self._state._replace(low=self._state.low - inflow)
                self.charge -= inflow
                size = 0.25 * now
                if size < _SHORTEST:
                    raise
                continue
            self._coming -= inflow
            left -= now
            size = min(2.0 * size, step)
        return self.moment

    def _residual(
        self, u: FloatArray, step: float
    ) -> tuple[FloatArray, tuple[Pass, _State, float, float]]:
        out = np.empty(2)
        found = _moment(
            self.table,
            self.line,
            self.machine,
            self._space,
            self.stores,
            self._state,
            self.charge,
            step,
            u,
            out,
        )
        return out, found

    def _advance(self, step: float, *, commit: bool) -> Moment:
        u, found = self._solved(step)
        run, new, passed, pumped = found
        if commit:
            self._u, self._state = u, new
            self.time += step
        return self._shown(run, new, float(np.exp(u[1])), passed, pumped)

    def _solved(self, step: float) -> tuple[FloatArray, tuple[Pass, _State, float, float]]:
        """Pressures at the end of a step, by Newton with a matrix kept from step to step."""
        low, high = math.log(self.table.p_min * 1.02), math.log(self.table.p_max * 0.985)
        u = self._u.copy()
        r, found = self._residual(u, step)
        for trial in range(40):
            if np.abs(r).max() < _CLOSE:
                return u, found
            fresh = self._matrix is None or trial % 8 == 7
            if self._matrix is None or fresh:
                columns = []
                for j in range(2):
                    shifted = u.copy()
                    shifted[j] += 1e-6
                    columns.append((self._residual(shifted, step)[0] - r) / 1e-6)
                self._matrix = np.array(columns).T
            if not np.isfinite(self._matrix).all():
                break
            move = np.clip(np.linalg.lstsq(self._matrix, -r, rcond=None)[0], -0.15, 0.15)
            for share in (1.0, 0.3, 0.08, 0.02):
                new = np.clip(u + share * move, low, high)
                r_new, found_new = self._residual(new, step)
                if np.abs(r_new).max() < np.abs(r).max():
                    break
            else:
                if fresh:
                    break
                self._matrix = None
                continue
            moved = new - u
            square = float(moved @ moved)
            if square > 0.0:
                update = np.outer(r_new - r - self._matrix @ moved, moved) / square
                self._matrix = self._matrix + update
            if np.abs(r_new).max() > 0.5 * np.abs(r).max():
                self._matrix = None
            u, r, found = new, r_new, found_new
        raise SolveError(
            condition="one side of the machine holds more or less than any pressure accounts for",
            residuals={
                "low side (of the charge)": float(r[0]),
                "high side (of the charge)": float(r[1]),
            },
            best={
                "suction_pressure_Pa": float(np.exp(u[0])),
                "discharge_pressure_Pa": float(np.exp(u[1])),
            },
            tried=(f"forty steps from the moment before, {step:g} s on",),
        )

    def _shown(self, run: Pass, new: _State, pd: float, passed: float, pumped: float) -> Moment:
        table = self.table
        ps = run.suction_pressure
        dew = float(saturation(table, ps)[1])
        bubble = float(saturation(table, run.liquid_pressure)[0])
        t_out, _v, _s, x_out = state(table, ps, run.evaporator_outlet)
        t_liquid, _v, _s, x_liquid = state(table, run.liquid_pressure, run.liquid_enthalpy)
        humidity = run.condenser.air_humidity
        air_out = air_temperature(run.condenser.air_enthalpy, humidity)
        return Moment(
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
            compressor_flow=pumped,
            low_side=new.low,
            charge=self.charge,
            shell_temperature=new.shell,
        )
