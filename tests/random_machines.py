"""Random plausible machines, each from a seed: what a bench might hold, and more.

Nothing is left out because a solver dislikes it. Numbers of parts that belong together (airflow,
coils, capillary) are drawn round what suits the compressor, with a spread wide enough for parts
from other machines; one capillary in twelve suits nothing.

Distribution, by `U` uniform, `LU` uniform in the logarithm, `LN(s)` log-normal about one with `s`
the standard deviation of the logarithm:

- refrigerant: any of the tables, alike; compressor: reciprocating or rotary, alike; 50 or 60 Hz
- evaporator air: room of 2 to 43 °C (U), 15 to 95 %RH (U); condenser in the same air (series,
  seven in ten), in a room of its own (one in five) or with the evaporator in a cabinet of -25 to
  12 °C (one in ten); altitude -400 to 4000 m (half of them at sea level)
- cooling capacity 150 W to 6 kW (LU) at 5 and 45 °C, which gives the displacement (0.6 to 60 cm3);
  filling, losses and clearance about their defaults, one in eight worn
- airflow 0.11 m3/s for each kilowatt, LN(0.45); face velocity 1.2 m/s, LN(0.4); fan 500 W for each
  m3/s, LN(0.5), before, between or after the coils; a second one with separate air
- coils: 1 to 5 rows, tube of six trade sizes (up to 7 mm at 150 W, 12.7 mm from 900 W), pitches of
  2.2 to 3.4 and 1.8 to 3 diameters, fins 1.2 to 3 mm apart, circuits for 150 (evaporator) and
  250 kg/(m2 s), LN(0.5), or (one in six) 1 to 4 of them; counter flow (three in four) or parallel;
  air side LN(0.1) times fouling (three in ten between 0.3 and 1), inside LN(0.25) and LN(0.2),
  inventory LN(0.12)
- capillary: bore 0.5 to 2.4 mm, length for a balance guessed from the air, LN(0.7); one in twelve
  any bore and any length from 0.1 to 8 m; roughness LU 0.3 to 2 µm; flow LN(0.06); delayed flashing
  in one of eight
- lines 0.1 to 3 m, drier 0 to 60 cm3, accumulator (one in four) 0.1 to 1 L, suction exchanger (one
  in three) of 0.2 to 6 transfer units; shell and oil by displacement, LN(0.4); oil interaction
  0.3 ± 0.4
- target: design (one in eight), filled (one in four), else a charge: 0.2 to 2 times (LU) what fills
  the machine, or (one in three) that share of half its coils and lines full of liquid

The same machine can be had with an expansion valve instead of its capillary (`with_valve`):

- thermostatic (seven in ten): port 1 to 6 times (LU) what the flow at 5 and 45 °C needs, one in
  twelve 0.2 to 1 times; static superheat 1.5 to 9 K, opening superheat 1.5 to 8 K, set at -18 to
  12 °C; external equalisation in three of five; pressure limit 5 to 25 K above the setting in one
  of four; or automatic: shut at -15 to 12 °C, span 0.1 to 1 bar (LU)
- filled then means a subcooling of 0 to 12 K
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, TypeVar

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.job.defaults import atmospheric_pressure
from sweatline.machine.balance import Target, design, filled, fixed_charge, subcooled
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    BETWEEN,
    OUTSIDE,
    SEPARATE,
    SERIES,
    AirParameters,
    MachineParameters,
)
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.capillary_flow import length_for
from sweatline.parts.coil import CoilParameters, coil_parameters
from sweatline.parts.compressor import CompressorParameters, Kind, generic, in_usual_shell, operate
from sweatline.parts.expansion import ExpansionParameters
from sweatline.parts.shell import LineParameters, ShellParameters
from sweatline.parts.valves import automatic_valve, thermostatic_valve
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import (
    Table,
    bubble_pressure,
    dew_pressure,
    enthalpy_liquid,
    saturation,
)

__all__ = ["Aim", "RandomMachine", "random_machine", "with_valve"]

T = TypeVar("T")
Aim = Literal["design", "filled", "share of the filling", "share of the volume"]

# Another one would make every seed another machine.
_REFRIGERANTS = (
    "R-12",
    "R-22",
    "R-32",
    "R-134a",
    "R-152a",
    "R-290",
    "R-404A",
    "R-407C",
    "R-410A",
    "R-448A",
    "R-454B",
    "R-454C",
    "R-455A",
    "R-513A",
    "R-600a",
    "R-1234yf",
    "R-1234ze(E)",
    "R-1270",
)
_TUBES = (5.0e-3, 6.35e-3, 7.0e-3, 7.94e-3, 9.52e-3, 12.7e-3)  # m outside


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomMachine:
    """A machine, the air round it, and what closes its circuit."""

    seed: int
    refrigerant: str
    table: Table
    line: SaturationLine
    machine: MachineParameters
    aim: Aim
    superheat: float  # K
    subcooling: float  # K
    share: float  # of what fills the machine, or of half its volume in liquid
    volume_charge: float  # kg, half the volume of coils and lines full of liquid at the condenser
    words: str  # for people

    def full(self) -> Target:
        """What fills the machine: its superheat, or its subcooling where a valve sees to that."""
        if isinstance(self.machine.expansion, CapillaryParameters):
            return filled(superheat=self.superheat)
        return subcooled(subcooling=self.subcooling)

    def target(self, filling: float | None = None) -> Target:
        """What closes the circuit; `filling` is the charge of the filled machine if it is known."""
        if self.aim == "design":
            return design(superheat=self.superheat, subcooling=self.subcooling)
        if self.aim == "filled":
            return self.full()
        whole = self.volume_charge
        if self.aim == "share of the filling" and filling is not None:
            whole = filling
        return fixed_charge(self.share * whole)


class _Dice:
    """Draws that depend on the seed alone; only `random()` is promised to stay the same."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed).random

    def uniform(self, low: float, high: float) -> float:
        return low + (high - low) * self._random()

    def log_uniform(self, low: float, high: float) -> float:
        return math.exp(self.uniform(math.log(low), math.log(high)))

    def normal(self) -> float:
        radius = math.sqrt(-2.0 * math.log(1.0 - self._random()))
        return radius * math.cos(2.0 * math.pi * self._random())

    def log_normal(self, spread: float) -> float:
        return math.exp(spread * self.normal())

    def chance(self, share: float) -> bool:
        return self._random() < share

    def one_of(self, options: Sequence[T]) -> T:
        return options[int(self._random() * len(options))]


@lru_cache(maxsize=64)
def _saturated_air(pressure: float) -> SaturationLine:
    return saturation_line(pressure)


def _air(dice: _Dice, capacity: float) -> tuple[AirParameters, float, str]:
    altitude = 0.0 if dice.chance(0.5) else dice.uniform(-400.0, 4000.0)
    pressure = atmospheric_pressure(round(altitude, -1))
    room = 273.15 + dice.uniform(2.0, 43.0)
    rh = dice.uniform(0.15, 0.95)
    kind = dice.uniform(0.0, 1.0)
    cold, cold_rh, arrangement, place = room, rh, SERIES, "series"
    if kind > 0.9:
        cold, cold_rh, arrangement, place = (
            273.15 + dice.uniform(-25.0, 12.0),
            dice.uniform(0.3, 0.95),
            SEPARATE,
            "cabinet",
        )
    elif kind > 0.7:
        cold, cold_rh, arrangement, place = (
            273.15 + dice.uniform(2.0, 43.0),
            dice.uniform(0.15, 0.95),
            SEPARATE,
            "two rooms",
        )
    w = humidity_ratio(cold, cold_rh, pressure)
    w_room = humidity_ratio(room, rh, pressure)
    volume = 0.11e-3 * capacity * dice.log_normal(0.45)
    other = volume if arrangement == SERIES else volume * dice.log_uniform(0.6, 3.0)
    air = AirParameters(
        arrangement=arrangement,
        temperature=cold,
        humidity=w,
        flow=volume / specific_volume(cold, w, pressure),
        condenser_temperature=room,
        condenser_humidity=w_room,
        condenser_flow=other / specific_volume(room, w_room, pressure),
        fan_power=0.0 if dice.chance(0.05) else 500.0 * volume * dice.log_normal(0.5),
        fan_position=dice.one_of((BEFORE, BETWEEN, AFTER)),
        ambient=room + (0.0 if dice.chance(0.7) else dice.uniform(0.0, 15.0)),
        condenser_fan_power=500.0 * volume * dice.log_normal(0.5),
        condenser_fan_position=dice.one_of((BEFORE, AFTER, OUTSIDE)),
    )
    words = f"{place}, {cold - 273.15:.1f} °C {100 * cold_rh:.0f} %RH"
    if arrangement == SEPARATE:
        words += f", condenser {room - 273.15:.1f} °C"
    return air, pressure, words


def _coil(
    dice: _Dice,
    volume_flow: float,
    capacity: float,
    flow: float,
    flux: float,
    cells: int,
    inner_spread: float,
) -> CoilParameters:
    """Coil for an air volume flow, whose circuits suit a refrigerant flow at a mass flux."""
    rows = dice.one_of((1, 2, 2, 3, 3, 4, 5))
    widest = 7.5e-3 * (capacity / 150.0) ** 0.3
    tube = dice.one_of([tube for tube in _TUBES if tube <= widest])
    pitch = tube * dice.uniform(2.2, 3.4)
    face = volume_flow / (1.2 * dice.log_normal(0.4))
    aspect = dice.log_uniform(0.6, 2.5)
    tubes = max(round(math.sqrt(face / aspect) / pitch), 2)
    suiting = flow / (0.25 * math.pi * (0.85 * tube) ** 2 * flux * dice.log_normal(0.5))
    if dice.chance(1.0 / 6.0):
        suiting = dice.one_of((1.0, 2.0, 3.0, 4.0))
    circuits = min(max(round(suiting), 1), tubes)
    fouling = dice.uniform(0.3, 1.0) if dice.chance(0.3) else 1.0
    return coil_parameters(
        tube_outer_diameter=tube,
        tube_wall=min(0.08 * tube, 0.4e-3),
        rows=rows,
        tubes_per_row=tubes,
        transverse_pitch=pitch,
        longitudinal_pitch=tube * dice.uniform(1.8, 3.0),
        finned_length=min(max(face / (tubes * pitch), 0.08), 1.5),
        fin_pitch=dice.log_uniform(1.2e-3, 3.0e-3),
        fin_thickness=dice.uniform(0.09e-3, 0.15e-3),
        circuits=circuits,
        counter=dice.chance(0.75),
        cells=cells,
        air_multiplier=fouling * dice.log_normal(0.10),
        inner_multiplier=dice.log_normal(inner_spread),
        charge_multiplier=dice.log_normal(0.12),
    )


def _compressor(
    dice: _Dice, table: Table, kind: Kind, capacity: float
) -> tuple[CompressorParameters, float]:
    """Compressor of a capacity at 5 and 45 °C and its flow there, the rest about its defaults."""
    condensing = min(318.15, 0.96 * table.t_crit)
    base = generic(kind, displacement=1e-5, frequency=dice.one_of((50.0, 60.0)), fixed_loss=0.0)
    run = operate(
        table, base, evaporating=278.15, condensing=condensing, suction=288.15, liquid=308.15
    )
    scale = capacity / run.capacity
    wanted = run.power * scale / 0.8
    shell = in_usual_shell(base._replace(displacement=base.displacement * scale))
    numbers = base._replace(
        displacement=base.displacement * scale,
        clearance=max(base.clearance * dice.log_normal(0.35), 0.002),
        filling=min(base.filling * dice.log_normal(0.03), 1.0)
        * (dice.uniform(0.5, 0.95) if dice.chance(0.125) else 1.0),
        heating=base.heating * dice.log_normal(0.3),
        fixed_loss=0.2 * wanted * dice.log_normal(0.5),
        valve_loss=base.valve_loss * dice.log_normal(0.4),
        proportional=min(max(base.proportional * dice.log_normal(0.12), 0.2), 0.95),
        discharge_tube=shell.discharge_tube * dice.log_normal(0.4),
        shell_conductance=shell.shell_conductance * dice.log_normal(0.4),
        flow_multiplier=dice.log_normal(0.05),
        power_multiplier=dice.log_normal(0.08),
    )
    return numbers, run.mass_flow * scale


def _capillary(
    dice: _Dice,
    table: Table,
    compressor: CompressorParameters,
    air: AirParameters,
    subcooling: float,
) -> CapillaryParameters:
    hot = air.temperature if air.arrangement == SERIES else air.condenser_temperature
    te = min(air.temperature - 12.0, 0.5 * (air.temperature + 268.0))
    tc = min(hot + 14.0 * dice.log_normal(0.25), 0.93 * table.t_crit)
    bore = dice.one_of([0.5e-3 + 0.1e-3 * i for i in range(20)])
    length = dice.log_uniform(0.1, 8.0)
    if not dice.chance(1.0 / 12.0):
        run = operate(
            table,
            compressor,
            evaporating=te,
            condensing=max(tc, te + 8.0),
            suction=te + 8.0,
            liquid=max(tc, te + 8.0) - subcooling,
        )
        pd = bubble_pressure(table, max(tc, te + 8.0))
        pe = dew_pressure(table, te)
        h = enthalpy_liquid(table, pd, max(tc, te + 8.0) - subcooling)
        for _ in range(40):
            found = length_for(
                table,
                bore=bore,
                mass_flow=run.mass_flow,
                inlet_pressure=pd,
                inlet_enthalpy=h,
                outlet_pressure=pe,
            ).length
            if found > 8.0 and bore > 0.55e-3:
                bore -= 0.1e-3
            elif found < 0.12 and bore < 4e-3:
                bore += 0.1e-3
            else:
                break
        length = min(max(found * dice.log_normal(0.7), 0.05), 15.0)
    return CapillaryParameters(
        bore=bore,
        length=length,
        roughness=dice.log_uniform(0.3e-6, 2e-6),
        flow_multiplier=dice.log_normal(0.06),
        metastable=1.0 if dice.chance(0.125) else 0.0,
    )


def _lines(dice: _Dice, capacity: float, flow: float) -> LineParameters:
    wide = min(max((capacity / 1000.0) ** 0.4, 0.6), 2.5)
    return LineParameters(
        suction_bore=7e-3 * wide * dice.log_normal(0.15),
        suction_length=dice.uniform(0.1, 3.0),
        discharge_bore=5e-3 * wide * dice.log_normal(0.15),
        discharge_length=dice.uniform(0.1, 2.0),
        liquid_bore=5e-3 * wide * dice.log_normal(0.15),
        liquid_length=dice.uniform(0.1, 2.0),
        drier_volume=0.0 if dice.chance(0.1) else dice.log_uniform(5e-6, 6e-5),
        accumulator_volume=dice.log_uniform(1e-4, 1e-3) if dice.chance(0.25) else 0.0,
        exchanger_conductance=800.0 * flow * dice.log_uniform(0.2, 6.0)
        if dice.chance(1.0 / 3.0)
        else 0.0,
    )


def _liquid(machine: MachineParameters, table: Table) -> float:
    """Mass of liquid that half fills coils and lines. [kg]"""
    volume = 0.0
    for coil in (machine.evaporator, machine.condenser):
        area = 0.25 * math.pi * coil.bore**2
        volume += area * coil.row_length * coil.rows * coil.circuits
    lines = machine.lines
    for bore, length in (
        (lines.suction_bore, lines.suction_length),
        (lines.discharge_bore, lines.discharge_length),
        (lines.liquid_bore, lines.liquid_length),
    ):
        volume += 0.25 * math.pi * bore**2 * length
    volume += lines.drier_volume
    return 0.5 * volume / saturation(table, bubble_pressure(table, 310.0))[4]


def random_machine(seed: int) -> RandomMachine:
    """The machine of a seed; see the head of this module for what it is drawn from."""
    dice = _Dice(seed)
    refrigerant = dice.one_of(_REFRIGERANTS)
    table = load(refrigerant).table
    kind: Kind = dice.one_of(("reciprocating", "rotary"))
    capacity = dice.log_uniform(150.0, 6000.0)
    air, pressure, where = _air(dice, capacity)
    volume = air.flow * specific_volume(air.temperature, air.humidity, pressure)
    other = volume
    if air.arrangement == SEPARATE:
        other = air.condenser_flow * specific_volume(
            air.condenser_temperature, air.condenser_humidity, pressure
        )
    cells = dice.one_of((6, 8, 8, 8, 12))
    compressor, flow = _compressor(dice, table, kind, capacity)
    evaporator = _coil(dice, volume, capacity, flow, 150.0, cells, 0.25)
    condenser = _coil(dice, other, capacity, flow, 250.0, cells, 0.20)
    superheat = dice.uniform(0.0, 12.0)
    subcooling = dice.uniform(0.0, 12.0)
    capillary = _capillary(dice, table, compressor, air, subcooling)
    litres = max((compressor.displacement / 8e-6) ** 0.7, 0.4)
    rotary = kind == "rotary"
    shell = ShellParameters(
        gas_volume=(0.8e-3 if rotary else 1.6e-3) * litres * dice.log_normal(0.4),
        oil_volume=(0.30e-3 if rotary else 0.25e-3) * litres * dice.log_normal(0.4),
        size_ratio=4.5,
        interaction=0.3 + 0.4 * dice.normal(),
    )
    machine = MachineParameters(
        compressor=compressor,
        evaporator=evaporator,
        condenser=condenser,
        expansion=capillary,
        lines=_lines(dice, capacity, flow),
        shell=shell,
        air=air,
    )
    way = dice.uniform(0.0, 1.0)
    aim: Aim = "share of the filling"
    if way < 0.125:
        aim = "design"
    elif way < 0.375:
        aim = "filled"
    elif way > 1.0 - 0.625 / 3.0:
        aim = "share of the volume"
    share = dice.log_uniform(0.2, 2.0)
    words = (
        f"{refrigerant}, {kind} {compressor.displacement * 1e6:.1f} cm3, {where}, capillary "
        f"{capillary.bore * 1e3:.1f} mm x {capillary.length:.2f} m, rows {evaporator.rows} and "
        f"{condenser.rows}; {aim}"
    )
    if aim.startswith("share"):
        words += f" {share:.2f}"
    return RandomMachine(
        seed=seed,
        refrigerant=refrigerant,
        table=table,
        line=_saturated_air(pressure),
        machine=machine,
        aim=aim,
        superheat=superheat,
        subcooling=subcooling,
        share=share,
        volume_charge=_liquid(machine, table),
        words=words,
    )


_OTHER_DICE = 1_000_003  # so that a valve does not repeat the draws of its machine


def with_valve(made: RandomMachine) -> RandomMachine:
    """The machine with an expansion valve in the place of its capillary, from the same seed."""
    dice = _Dice(made.seed + _OTHER_DICE)
    table = made.table
    condensing = min(318.15, 0.96 * table.t_crit)
    run = operate(
        table,
        made.machine.compressor,
        evaporating=278.15,
        condensing=condensing,
        suction=288.15,
        liquid=308.15,
    )
    drop = bubble_pressure(table, condensing) - dew_pressure(table, 278.15)
    density = 1.0 / saturation(table, bubble_pressure(table, 308.15))[4]
    least = run.mass_flow / (0.7 * math.sqrt(2.0 * density * drop))
    odd = dice.chance(1.0 / 12.0)
    area = least * (dice.log_uniform(0.2, 1.0) if odd else dice.log_uniform(1.0, 6.0))
    part: ExpansionParameters
    if dice.chance(0.7):
        kind = "thermostatic"
        evaporating = dice.uniform(255.15, 285.15)
        limit = dew_pressure(table, evaporating + dice.uniform(5.0, 25.0))
        part = thermostatic_valve(
            table,
            area=area,
            static_superheat=dice.uniform(1.5, 9.0),
            opening_superheat=dice.uniform(1.5, 8.0),
            evaporating=evaporating,
            external=dice.chance(0.6),
            maximum_pressure=limit if dice.chance(0.25) else math.inf,
        )
    else:
        kind = "automatic"
        part = automatic_valve(
            area=area,
            setting=dew_pressure(table, dice.uniform(258.15, 285.15)),
            span=dice.log_uniform(1e4, 1e5),
        )
    return replace(
        made,
        machine=made.machine._replace(expansion=part),
        words=f"{made.words}; {kind} valve of {area * 1e6:.2f} mm2 instead of the capillary",
    )
