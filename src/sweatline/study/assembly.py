"""From what is on the bench to the numbers a solver takes, at any draw of what is uncertain.

Every uncertain number is asked for by name through a :class:`Draw`. A recording draw finds out
which names there are and how wide they are; a sampling draw moves them. No list of parameters is
kept anywhere else.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sweatline.known import Known, Origin

if TYPE_CHECKING:
    from sweatline.air.saturation_line import SaturationLine
    from sweatline.job.model import CapillaryStock, Compressor, Job
    from sweatline.machine.circuit import MachineNumbers
    from sweatline.parts.coil import CoilNumbers
    from sweatline.parts.compressor import CompressorNumbers
    from sweatline.refrigerant.refrigerant import Refrigerant
    from sweatline.study.carrying import Carried

__all__ = ["MODEL_SCATTER", "Draw", "Uncertain", "assemble", "compressor_numbers", "plate_power"]

# One standard deviation of each model, relative, from the scatter its authors or later
# comparisons state; see the docstring of the model.
MODEL_SCATTER: dict[str, tuple[float, str]] = {
    "capillary flow": (0.06, "nine tenths of published flows lie within 10 %"),
    "evaporator air side": (0.10, "89 % of the authors' data within 15 %, plus contact and dirt"),
    "condenser air side": (0.10, "89 % of the authors' data within 15 %, plus contact and dirt"),
    "boiling": (0.25, "flow boiling at the low mass flux of small machines"),
    "condensation": (0.20, "mean deviation 15 % of the authors' data, low mass flux"),
    "volumetric": (0.05, "eight published maps from one rating point each: mean deviation 6 %"),
    "compressor power": (0.08, "eight published maps from one rating point each: mean 7 %"),
    "inventory": (0.12, "void fraction; untuned predictions run low"),
}


# Liquid that stands where nobody measured: caps, joints, a strainer (judged; with the multiplier
# "inventory" it is the second and last term that corrects a charge).
LEFT_OUT = 1.0e-5  # m3


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """One uncertain number: what it is called, how wide, where it comes from."""

    name: str
    value: float
    sd: float
    origin: Origin | str
    note: str


@dataclass(slots=True)
class Draw:
    """Hands out numbers, moved by the standard deviations in `z` and remembered in `seen`."""

    z: Mapping[str, float] = field(default_factory=dict)
    seen: dict[str, Uncertain] = field(default_factory=dict)

    def number(self, name: str, known: Known, low: float = 0.0) -> float:
        """A measured or assumed number; never below a tenth of itself or `low`."""
        if known.sd > 0.0 and name not in self.seen:
            self.seen[name] = Uncertain(
                name=name,
                value=known.value,
                sd=known.sd,
                origin=known.origin,
                note=known.note,
            )
        moved = known.at(self.z.get(name, 0.0))
        if known.value > 0.0:
            moved = max(moved, 0.1 * known.value)
        return max(moved, low)

    def moved(self, carried: Carried | None) -> Draw:
        """The same draw about what was learned from a machine; shares what has been `seen`."""
        if carried is None:
            return self
        return Draw(z=carried.moved(self.z), seen=self.seen)

    def scatter(self, name: str) -> float:
        """A model's multiplier, log-normal about one."""
        sd, why = MODEL_SCATTER[name]
        if name not in self.seen:
            self.seen[name] = Uncertain(name=name, value=1.0, sd=sd, origin="model", note=why)
        return math.exp(sd * self.z.get(name, 0.0))

    def offset(self, name: str, value: float, sd: float, note: str) -> float:
        """A model's number that may change sign."""
        if name not in self.seen:
            self.seen[name] = Uncertain(name=name, value=value, sd=sd, origin="model", note=note)
        return value + sd * self.z.get(name, 0.0)


def _coil(job: Job, which: str, draw: Draw, cells: int) -> CoilNumbers:
    from sweatline.parts.coil import coil_numbers

    coil = job.evaporator if which == "evaporator" else job.condenser

    def of(name: str) -> float:
        return draw.number(f"{which} {name.replace('_', ' ')}", getattr(coil, name))

    fouling = of("fouling")
    return coil_numbers(
        tube_outer_diameter=of("tube_outer_diameter"),
        tube_wall=of("tube_wall"),
        rows=coil.rows,
        tubes_per_row=coil.tubes_per_row,
        transverse_pitch=of("transverse_pitch"),
        longitudinal_pitch=of("longitudinal_pitch"),
        finned_length=of("finned_length"),
        fin_pitch=of("fin_pitch"),
        fin_thickness=of("fin_thickness"),
        circuits=coil.circuits,
        counter=coil.path == "counter",
        cells=cells,
        air_multiplier=fouling * draw.scatter(f"{which} air side"),
        inner_multiplier=draw.scatter("boiling" if which == "evaporator" else "condensation"),
        charge_multiplier=draw.scatter("inventory"),
    )


def plate_power(compressor: Compressor) -> Known | None:
    """Rated input of the motor, from the plate or from its rating point. [W]"""
    if compressor.rated_power is not None:
        return compressor.rated_power
    if compressor.rating is not None and compressor.rating.power is not None:
        return compressor.rating.power
    return None


def compressor_numbers(compressor: Compressor, frequency: float, draw: Draw) -> CompressorNumbers:
    """Numbers of a compressor from whatever is known of it: map, rating, displacement.

    A map is fitted with the physical form so that it carries to another refrigerant. A rating
    gives the displacement when that is unknown, and corrects the filling when it is known. The
    rated watts set the size of the motor's fixed loss.
    """
    from sweatline.parts.compressor import (
        DEFAULTS,
        RATING_CONDITIONS,
        MapConvention,
        RatingCondition,
        displacement_from_rating,
        generic,
        numbers_from_map,
        operate,
    )
    from sweatline.refrigerant.refrigerant import load

    name = compressor.name
    d = DEFAULTS[compressor.kind]
    if compressor.map is not None:
        m = compressor.map
        numbers, _quality = numbers_from_map(
            load(m.refrigerant).table,
            compressor.kind,
            capacity_terms=m.capacity,
            power_terms=m.power,
            convention=MapConvention(
                suction=m.suction_temperature,
                superheat=m.superheat,
                subcooling=m.subcooling,
                evaporating_range=m.evaporating_range,
                condensing_range=m.condensing_range,
            ),
            frequency=frequency,
            map_frequency=m.frequency,
        )
    elif compressor.rating is not None:
        r = compressor.rating
        table = load(r.refrigerant).table
        condition = RatingCondition(
            name=r.convention,
            evaporating=r.evaporating_temperature,
            condensing=r.condensing_temperature,
            suction=r.suction_temperature,
            liquid=r.liquid_temperature,
            status="as written in the job",
        )
        rated = displacement_from_rating(
            table,
            compressor.kind,
            capacity=draw.number(f"{name} rated capacity", r.capacity),
            frequency=compressor.rated_frequency,
            condition=condition,
            power=draw.number(f"{name} rated power", r.power) if r.power is not None else None,
        )
        numbers = rated._replace(speed=frequency * (1.0 - d.slip))
        if compressor.displacement is not None:
            known = draw.number(f"{name} displacement", compressor.displacement)
            filling = rated.filling * rated.displacement / known
            numbers = numbers._replace(displacement=known, filling=min(max(filling, 0.7), 1.0))
    else:
        if compressor.displacement is None:
            raise ValueError("a compressor without displacement, rating or map reached the study")
        displacement = draw.number(f"{name} displacement", compressor.displacement)
        trial = generic(
            compressor.kind, displacement=displacement, frequency=frequency, fixed_loss=0.0
        )
        plate = compressor.rated_power
        if plate is not None:
            fixed = d.fixed_share * draw.number(f"{name} rated power", plate)
        else:
            # No watts on the plate: the motor is taken to suit the machine's own rating point.
            c = RATING_CONDITIONS["ARI air-conditioning"]
            fluid = load(compressor.refrigerant or "R-134a").table
            run = operate(
                fluid,
                trial,
                evaporating=c.evaporating,
                condensing=c.condensing,
                suction=c.suction,
                liquid=c.liquid,
            )
            fixed = d.fixed_share * run.power * (1.0 - d.fixed_share) ** -1
        numbers = trial._replace(fixed_loss=fixed)
    clearance = draw.offset(
        f"{name} clearance", numbers.clearance, d.clearance_sd, "re-expansion, by kind"
    )
    loss = draw.offset(
        f"{name} shell loss", numbers.shell_loss, d.shell_loss_sd, "share lost from the shell"
    )
    spread = 1.0
    if compressor.rating is None and compressor.map is None:
        spread = 1.0 + draw.offset(
            f"{name} motor and valves", 0.0, d.overall_sd / d.overall, "efficiency known by kind"
        )
    return numbers._replace(
        clearance=max(clearance, 0.002),
        shell_loss=min(max(loss, 0.02), 0.7),
        proportional=min(max(numbers.proportional * spread, 0.2), 0.95),
        flow_multiplier=draw.scatter("volumetric"),
        power_multiplier=draw.scatter("compressor power"),
    )


# Heat passed per metre of capillary soldered to a suction line of small machines. Measured
# effectiveness of a metre or two is 0.6 to 0.8 (MEMORY 0.5), which this conductance gives.
_EXCHANGER = Known(
    value=2.0, sd=0.8, origin="default", note="W/K per metre of capillary soldered to the line"
)


@functools.lru_cache(maxsize=8)
def _line(pressure: float) -> SaturationLine:
    from sweatline.air.saturation_line import saturation_line

    return saturation_line(pressure)


def assemble(
    job: Job,
    compressor: Compressor,
    refrigerant: Refrigerant,
    capillary: CapillaryStock,
    *,
    length: float | None = None,
    draw: Draw | None = None,
    cells: int = 8,
) -> tuple[MachineNumbers, SaturationLine]:
    """A machine made of one choice of parts, in the job's room.

    Parameters
    ----------
    length : float, optional
        Of the capillary, when it is to be cut; by default its own length. [m]
    draw : Draw, optional
        Moves the uncertain numbers; by default all stand at their best values. Where readings of
        a machine have been worked out (`job.learned`), its standard deviations count from there.
    cells : int
        Cells per row of a coil; eight leave 0.04 K in evaporating temperature.
    """
    from sweatline.air.moist import humidity_ratio, specific_volume
    from sweatline.machine.circuit import SERIES, AirNumbers, MachineNumbers
    from sweatline.parts.capillary import CapillaryNumbers
    from sweatline.parts.shell import (
        INTERACTION,
        INTERACTION_SD,
        SIZE_RATIO,
        LineNumbers,
        ShellNumbers,
    )

    draw = draw if draw is not None else Draw()
    if job.learned is not None:
        from sweatline.study.carrying import carried

        draw = draw.moved(carried(job.learned, compressor, refrigerant.name, capillary))
    pressure = job.place.atmospheric_pressure
    room_t = draw.number("room temperature", job.room.temperature)
    room_rh = min(draw.number("room humidity", job.room.relative_humidity), 0.995)
    room_w = humidity_ratio(room_t, room_rh, pressure)
    volume_flow = draw.number("airflow", job.fan.volume_flow)
    positions = {"before": 0, "between": 1, "after": 2}
    lines = job.lines
    own = capillary.length.value if capillary.length is not None else 2.0
    air = AirNumbers(
        arrangement=SERIES,
        temperature=room_t,
        humidity=room_w,
        flow=volume_flow / specific_volume(room_t, room_w, pressure),
        condenser_temperature=room_t,
        condenser_humidity=room_w,
        condenser_flow=0.0,
        fan_power=draw.number("fan power", job.fan.power),
        fan_position=positions[job.fan.position],
        ambient=room_t,
    )
    machine = MachineNumbers(
        compressor=compressor_numbers(compressor, job.supply.frequency.value, draw),
        evaporator=_coil(job, "evaporator", draw, cells),
        condenser=_coil(job, "condenser", draw, cells),
        metering=CapillaryNumbers(
            draw.number(f"{capillary.name} bore", capillary.bore),
            length if length is not None else own,
            draw.number(f"{capillary.name} roughness", capillary.roughness),
            draw.scatter("capillary flow"),
            0.0,
        ),
        lines=LineNumbers(
            lines.suction_bore.value,
            lines.suction_length.value,
            lines.discharge_bore.value,
            lines.discharge_length.value,
            lines.liquid_bore.value,
            lines.liquid_length.value,
            max(
                draw.number("drier volume", lines.drier_volume)
                + draw.offset("liquid left out", 0.0, LEFT_OUT, "caps and joints nobody measured"),
                0.0,
            ),
            lines.accumulator_volume.value,
            draw.number("suction exchanger", _EXCHANGER) * lines.exchanger_length.value
            if lines.exchanger_length.value > 0.0
            else 0.0,
        ),
        shell=ShellNumbers(
            draw.number("shell volume", compressor.shell_volume),
            draw.number("oil volume", compressor.oil_volume),
            SIZE_RATIO,
            draw.offset(
                "oil solubility", INTERACTION, INTERACTION_SD, "no table for this pair at hand"
            ),
        ),
        air=air,
    )
    return machine, _line(pressure)
