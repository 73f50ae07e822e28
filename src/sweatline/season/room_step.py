r"""A room with a machine in it, stepped through the hours of a year.

Two balances, of water and of heat, each with the air and with what stands round it. Walls, floor
and goods are one store of water and one of heat:

.. math::
    M_a \dot W &= \dot m_v (W_o - W) + G_g (W_g - W) + S + K\,(u - \varphi_s) - \dot m_c
        - \dot m_w + \dot m_h  \\
    B\,\dot u &= -K\,(u - \varphi_s) + \dot m_c \\
    C_a \dot T &= \dot m_v c_p (T_o - T) + U_o (T_o - T) + U_s (T_s - T) + Q + \dot Q_m \\
    C_s \dot T_s &= U_s (T - T_s) + U_g (T_g - T_s) - r\,\dot m_s

with :math:`\varphi_s` the relative humidity that the room's air has at the temperature of the
surfaces, :math:`u` the same of what they hold, :math:`\dot m_c` water that falls out where the
surfaces lie below the dew point, :math:`\dot m_s` all water that leaves the surfaces as vapour and
:math:`\dot m_h` what the wet coil gives back while the machine stands. The machine turns vapour
into heat: :math:`\dot Q_m = P + r\,\dot m_w`. Both balances are implicit in the state of the room
(backward Euler) with the machine's flows as they are when the step begins, so that water and energy
close to rounding whatever the step.

References
----------
Balance of a zone with capacity, infiltration and sources: as in open building simulation. Mean
ground temperature with depth: Kusuda and Achenbach 1965.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweatline.air.moist import (
    DRY_AIR_HEAT_CAPACITY,
    enthalpy,
    moist_heat_capacity,
    relative_humidity,
    saturated_humidity_ratio,
    specific_volume,
)
from sweatline.compiled import inner_kernel, kernel
from sweatline.constants import ZERO_CELSIUS

FloatArray = NDArray[np.float64]

VAPOUR: Final = 2.45e6  # J/kg, of water at room temperature
FUSION: Final = 3.34e5  # J/kg
_AT_ZERO: Final = 9.47e3  # J/kg, saturated air at 0 degrees Celsius
_LEAST_POWER: Final = 0.6  # of its watts, that a machine takes under any ice
_DRIER: Final = 5e-4  # kg/kg by which outdoor air must be drier to be worth letting in


class RoomParameters(NamedTuple):
    """A room as the kernel sees it."""

    volume: float  # m3
    air_changes: float  # per second
    outer_conductance: float  # W/K, through walls and windows to the outdoor air
    ground_conductance: float  # W/K, from the surfaces to the ground
    house_conductance: float  # W/K, through the ceiling to a heated house
    house: float  # K, of that house
    surface_conductance: float  # W/K, from the air to the surfaces
    air_heat: float  # times that of its air, of all that follows the air within minutes
    heat_store: float  # J/K, of walls, floor and goods that follow the year
    water_store: float  # kg for a relative humidity from 0 to 1, of surfaces and goods
    water_rate: float  # 1/s, at which they come to the room's humidity
    ground_vapour: float  # kg/s for each kg/kg between saturation at the ground and the room
    source: float  # kg/s, people, laundry and the like
    gains: float  # W, people, lamps, other machines
    heated_to: float  # K, by a heating that keeps it so; 0 without
    ground_mean: float  # K
    ground_swing: float  # K
    ground_coldest: float  # s after the year's beginning
    airing: float  # 1/s, more air changes while outdoor air is drier and it is too damp
    airing_power: float  # W, of the fan that does it
    pressure: float  # Pa


class MachineMap(NamedTuple):
    """A machine over rooms as the kernel sees it; grids of temperatures by humidities."""

    temperatures: FloatArray  # (m,) K, rising
    humidities: FloatArray  # (n,) 0..1, rising
    water: FloatArray  # (m, n) kg/s
    power: FloatArray  # (m, n) W, compressor and fan
    coil: FloatArray  # (m, n) K, coldest surface
    fan_power: float  # W
    fan_flow: float  # kg/s, of dry air
    pull_down: float  # s, time constant with which water begins to come after a start
    held: float  # kg of water on a wet coil
    coil_units: float  # number of transfer units of its air side
    freezing_span: float  # K below freezing at which all water freezes
    ice_end: float  # kg of ice at which no more freezes on
    ice_blocks: float  # kg of ice that halves the airflow
    ice_takes: float  # share of the water that each kg of ice takes away
    ice_spares: float  # share of the watts that it takes away
    ice_cools: float  # K by which each kg of ice makes the coil colder
    standby: float  # W, all the time


class Control(NamedTuple):
    """How a machine is switched; a number that does not apply is 0."""

    start_at: float  # relative humidity
    stop_at: float  # relative humidity
    shortest_rest: float  # s
    cut_out: float  # K, of the room: below it the machine stands
    cut_in: float  # K
    coil_stop: float  # K: a coil colder than this for `coil_delay` starts a defrost
    coil_delay: float  # s
    run_stop: float  # s of running after which a defrost begins
    longest_defrost: float  # s
    hot_gas: float  # 1 when hot gas melts the ice, 0 when the room's air does
    fan_rests: float  # 1 when the fan runs while the compressor rests, else 0
    fan_melts: float  # 1 when it runs during a defrost, else 0
    bucket: float  # kg at which a full bucket stops it; 0 with a drain
    emptied_every: float  # s
    wished: float  # relative humidity above which an hour counts


SUMS: Final = (
    "hours", "too_damp", "surface_damp", "running", "frozen", "iced_up", "defrosting", "too_cold",
    "bucket_full", "outside_map", "starts", "water", "energy", "temperature", "humidity",
    "defrosts",
)  # fmt: skip
"""What is added up for each month: hours [s], water [kg], energy [J], counts, means times time."""
(
    _HOURS, _TOO_DAMP, _SURFACE, _RUNNING, _FROZEN, _ICED, _DEFROSTING, _TOO_COLD, _FULL, _OUTSIDE,
    _STARTS, _WATER, _ENERGY, _TEMPERATURE, _HUMIDITY, _DEFROSTS,
) = range(len(SUMS))  # fmt: skip

STATE: Final = (
    "temperature",
    "humidity",
    "surface",
    "held_by_surfaces",
    "on_coil",
    "ice",
    "bucket",
)
"""State of a room: K, kg/kg, K, relative humidity, kg, kg, kg."""


@inner_kernel
def _on_grid(
    machine: MachineMap, temperature: float, humidity: float
) -> tuple[float, float, float, bool]:
    """Water [kg/s], power [W] and coil [K] between the grid's rooms; True outside of them."""
    t, r = machine.temperatures, machine.humidities
    outside = (
        temperature < t[0] - 0.5
        or temperature > t[-1] + 0.5
        or humidity < r[0] - 0.02
        or humidity > r[-1] + 0.02
    )
    x = min(max(temperature, t[0]), t[-1])
    y = min(max(humidity, r[0]), r[-1])
    i = min(max(int(np.searchsorted(t, x, side="right")) - 1, 0), len(t) - 2)
    j = min(max(int(np.searchsorted(r, y, side="right")) - 1, 0), len(r) - 2)
    a = (x - t[i]) / (t[i + 1] - t[i])
    b = (y - r[j]) / (r[j + 1] - r[j])
    w00, w01, w10, w11 = (1 - a) * (1 - b), (1 - a) * b, a * (1 - b), a * b
    i1, j1 = i + 1, j + 1
    g = machine.water
    water = w00 * g[i, j] + w01 * g[i, j1] + w10 * g[i1, j] + w11 * g[i1, j1]
    g = machine.power
    power = w00 * g[i, j] + w01 * g[i, j1] + w10 * g[i1, j] + w11 * g[i1, j1]
    g = machine.coil
    coil = w00 * g[i, j] + w01 * g[i, j1] + w10 * g[i1, j] + w11 * g[i1, j1]
    return max(water, 0.0), power, coil, outside


@inner_kernel
def _wet_bulb_humidity(temperature: float, humidity: float, pressure: float) -> float:
    """Humidity ratio of air that has taken up water until it is saturated. [kg/kg]"""
    wanted = enthalpy(temperature, humidity)
    low, high = temperature - 40.0, temperature
    for _ in range(24):
        middle = 0.5 * (low + high)
        if enthalpy(middle, saturated_humidity_ratio(middle, pressure)) > wanted:
            high = middle
        else:
            low = middle
    return float(saturated_humidity_ratio(0.5 * (low + high), pressure))


@inner_kernel
def _ground(room: RoomParameters, moment: float) -> float:
    """Temperature of the ground at a moment of the year. [K]"""
    angle = 2.0 * math.pi * (moment - room.ground_coldest) / 31557600.0
    return room.ground_mean - room.ground_swing * math.cos(angle)


@kernel
def run_year(
    outdoor_temperature: FloatArray,
    outdoor_humidity: FloatArray,
    month: NDArray[np.int64],
    room: RoomParameters,
    machine: MachineMap,
    control: Control,
    sensor: float,
    state: FloatArray,
    steps: int,
    hourly: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Take a room with its machine through hours of weather.

    Parameters
    ----------
    outdoor_temperature, outdoor_humidity : (h + 1,) arrays
        At the full hours, straight between them. [K], [kg/kg]
    month : (h,) array
        Of each hour, 0 to 11.
    sensor : float
        What the humidistat shows too much. [relative humidity]
    state : (7,) array
        As in `STATE`; moved on.
    steps : int
        In each hour.
    hourly : (h, 4) array
        Filled with the means of room temperature [K], relative humidity, water taken [kg/s] and
        power [W]; of no rows when not wanted.

    Returns
    -------
    sums : (12, len(SUMS)) array
    books : (8,) array
        Water [kg] and heat [J] in the stores at the beginning and at the end, and what came in and
        went out in between: for the checks that both close.
    """
    sums = np.zeros((12, len(SUMS)))
    dt = 3600.0 / steps
    t, w, ts, u, coil_water, ice, bucket = state
    p = room.pressure
    air = room.volume / specific_volume(t, w, p)  # kg of dry air, held
    c_air = room.air_heat * air * DRY_AIR_HEAT_CAPACITY
    vent = air * room.air_changes
    exchange = room.water_store * room.water_rate
    falling = room.surface_conductance / DRY_AIR_HEAT_CAPACITY  # Lewis: mass like heat
    books = np.zeros(8)
    books[0] = air * w + room.water_store * u + coil_water + ice
    books[1] = c_air * t + room.heat_store * ts + VAPOUR * air * w - FUSION * ice
    water_in = 0.0
    water_out = 0.0
    heat_in = 0.0
    on = False
    defrosting = False
    rh_before = relative_humidity(t, w, p)
    rested = 1e9
    ran = 0.0
    began = 0.0
    cold_for = 0.0
    since_emptied = 0.0
    too_cold = False
    held_air = 1.0 - math.exp(-machine.coil_units)
    for hour in range(len(month)):
        line = sums[month[hour]]
        mean_t, mean_r, mean_w, mean_p = 0.0, 0.0, 0.0, 0.0
        for step in range(steps):
            share = (step + 1.0) / steps
            to = outdoor_temperature[hour] + share * (
                outdoor_temperature[hour + 1] - outdoor_temperature[hour]
            )
            wo = outdoor_humidity[hour] + share * (
                outdoor_humidity[hour + 1] - outdoor_humidity[hour]
            )
            tg = _ground(room, (hour + share) * 3600.0)
            rh = relative_humidity(t, w, p)
            water, power, coil, outside = _on_grid(machine, t, rh)
            coil -= machine.ice_cools * ice
            power *= max(1.0 - machine.ice_spares * ice, _LEAST_POWER)

            # Switches, by the state at the beginning of the step.
            # The humidity half a step ahead, so that the switch is neither early nor late.
            seen = rh + 0.5 * (rh - rh_before) + sensor
            rh_before = rh
            if control.emptied_every > 0.0 and since_emptied >= control.emptied_every:
                bucket = 0.0
                since_emptied = 0.0
            since_emptied += dt
            full = 0.0 < control.bucket <= bucket
            if control.cut_out > 0.0:
                if t < control.cut_out:
                    too_cold = True
                elif t > control.cut_in:
                    too_cold = False
            if defrosting:
                began += dt
                # A sensor on the coil ends it when the ice is gone; a clock does not see ice.
                if began > control.longest_defrost or (control.coil_stop > 0.0 and ice == 0.0):
                    defrosting = False
                    rested = control.shortest_rest
            elif on:
                ran += dt
                cold_for = cold_for + dt if coil < control.coil_stop else 0.0
                iced = (control.coil_stop > 0.0 and cold_for >= control.coil_delay) or (
                    0.0 < control.run_stop <= ran
                )
                if iced:
                    on, defrosting, began, ran, cold_for = False, True, 0.0, 0.0, 0.0
                    line[_DEFROSTS] += 1.0
                elif seen < control.stop_at or too_cold or full:
                    on, rested = False, 0.0
            else:
                rested += dt
                if (
                    seen > control.start_at
                    and not too_cold
                    and not full
                    and rested >= control.shortest_rest
                ):
                    on = True
                    began = 0.0
                    line[_STARTS] += 1.0

            # The machine.
            taken = 0.0
            drained = 0.0
            frozen = 0.0
            melted = 0.0
            given = 0.0
            electric = machine.standby
            if on:
                tau = machine.pull_down
                ready = 1.0 - tau / dt * (math.exp(-began / tau) - math.exp(-(began + dt) / tau))
                began += dt
                taken = water * ready * max(1.0 - machine.ice_takes * ice, 0.0)
                cold = min(max((ZERO_CELSIUS - coil) / machine.freezing_span, 0.0), 1.0)
                frozen = taken * cold * max(1.0 - ice / machine.ice_end, 0.0)
                if ice > 0.0 and coil > ZERO_CELSIUS:  # in a room grown warm it thaws while running
                    past = machine.fan_flow * held_air
                    melted = min(max(past * (enthalpy(t, w) - _AT_ZERO), 0.0) / FUSION, ice / dt)
                electric += power
            else:
                fan = control.fan_melts if defrosting else control.fan_rests
                if defrosting and control.hot_gas > 0.0:
                    electric += power
                    melted = min(power / FUSION, ice / dt)
                else:
                    electric += machine.fan_power * fan
                if ice > 0.0 and melted == 0.0:
                    # Standing air melts about a tenth of what the fan's air does.
                    past = machine.fan_flow * max(fan, 0.1) * held_air
                    melted = min(max(past * (enthalpy(t, w) - _AT_ZERO), 0.0) / FUSION, ice / dt)
                if coil_water > 0.0 and fan > 0.0:
                    wet = _wet_bulb_humidity(t, w, p)
                    # The wet area shrinks with what is left on it; solved over the step.
                    fastest = max(machine.fan_flow * fan * held_air * (wet - w), 0.0)
                    left = math.exp(-fastest * dt / machine.held) if machine.held > 0.0 else 0.0
                    given = coil_water * (1.0 - left) / dt
            ice += (frozen - melted) * dt
            if ice < 1e-12:
                ice = 0.0
            coil_water += (taken - frozen + melted - given) * dt
            if coil_water > machine.held:
                drained = (coil_water - machine.held) / dt
                coil_water = machine.held
            bucket += drained * dt

            # Water of the room: air and surfaces together, implicit.
            airing = room.airing > 0.0 and wo < w - _DRIER and rh > control.stop_at
            flow = vent + (air * room.airing if airing else 0.0)
            if airing:
                electric += room.airing_power
            ws = saturated_humidity_ratio(ts, p)
            wg = saturated_humidity_ratio(tg, p)
            fall = falling if w > ws else 0.0
            k = exchange / ws
            a11 = air / dt + flow + room.ground_vapour + k + fall
            a12 = -exchange
            b1 = (
                air / dt * w
                + flow * wo
                + room.ground_vapour * wg
                + room.source
                + fall * ws
                - taken
                + given
            )
            a21 = -k - fall
            a22 = room.water_store / dt + exchange
            b2 = room.water_store / dt * u - fall * ws
            det = a11 * a22 - a12 * a21
            new_w = (b1 * a22 - a12 * b2) / det
            u = (a11 * b2 - a21 * b1) / det
            from_surfaces = exchange * u - k * new_w - fall * (new_w - ws)
            from_ground = room.ground_vapour * (wg - new_w)
            through_air = flow * (wo - new_w)
            w = new_w
            water_in += (from_ground + through_air + room.source) * dt
            water_out += drained * dt

            # Heat, with the same flows of water.
            machine_heat = electric + VAPOUR * (taken - given) + FUSION * (frozen - melted)
            u_out = room.outer_conductance + flow * moist_heat_capacity(w)
            u_house = room.house_conductance
            a11 = c_air / dt + u_out + u_house + room.surface_conductance
            a12 = -room.surface_conductance
            a22 = room.heat_store / dt + room.surface_conductance + room.ground_conductance
            b1 = c_air / dt * t + u_out * to + u_house * room.house + room.gains + machine_heat
            b2 = (
                room.heat_store / dt * ts
                + room.ground_conductance * tg
                - VAPOUR * (from_surfaces + from_ground)
            )
            det = a11 * a22 - a12 * a12
            new_t = (b1 * a22 - a12 * b2) / det
            heating = 0.0
            if room.heated_to > 0.0 and new_t < room.heated_to:
                new_t = room.heated_to
                ts = (b2 - a12 * new_t) / a22
                heating = a11 * new_t + a12 * ts - b1
            else:
                ts = (a11 * b2 - a12 * b1) / det
            t = new_t
            heat_in += dt * (
                u_out * (to - t)
                + u_house * (room.house - t)
                + room.ground_conductance * (tg - ts)
                + room.gains
                + electric
                + heating
                + VAPOUR * (room.source + through_air)
            )

            rh = relative_humidity(t, w, p)
            line[_HOURS] += dt
            line[_TEMPERATURE] += t * dt
            line[_HUMIDITY] += rh * dt
            line[_WATER] += drained * dt
            line[_ENERGY] += electric * dt
            if rh > control.wished:
                line[_TOO_DAMP] += dt
            if w > 0.8 * saturated_humidity_ratio(ts, p):
                line[_SURFACE] += dt
            if on:
                line[_RUNNING] += dt
                if frozen > 0.0:
                    line[_FROZEN] += dt
                if ice > machine.ice_blocks:
                    line[_ICED] += dt
                if outside:
                    line[_OUTSIDE] += dt
            if defrosting:
                line[_DEFROSTING] += dt
            if too_cold:
                line[_TOO_COLD] += dt
            if full:
                line[_FULL] += dt
            mean_t += t / steps
            mean_r += rh / steps
            mean_w += taken / steps
            mean_p += electric / steps
        if len(hourly) > 0:
            hourly[hour, 0] = mean_t
            hourly[hour, 1] = mean_r
            hourly[hour, 2] = mean_w
            hourly[hour, 3] = mean_p
    books[2] = air * w + room.water_store * u + coil_water + ice
    books[3] = c_air * t + room.heat_store * ts + VAPOUR * air * w - FUSION * ice
    books[4] = water_in
    books[5] = water_out
    books[6] = heat_in
    state[:] = (t, w, ts, u, coil_water, ice, bucket)
    return sums, books
