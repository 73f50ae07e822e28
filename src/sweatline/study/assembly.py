"""From what is on the bench to the numbers a solver takes, at any draw of what is uncertain.

Every uncertain number is asked for by name through a :class:`Draw`. A recording draw finds out
which names there are and how wide they are; a sampling draw moves them. No list of parameters is
kept anywhere else.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from sweatline.known import Known, Origin

if TYPE_CHECKING:
    from sweatline.air.saturation_line import SaturationLine
    from sweatline.job.model import CapillaryStock, Coil, Compressor, Job, Rating
    from sweatline.machine.circuit import MachineNumbers
    from sweatline.parts.capillary import CapillaryNumbers
    from sweatline.parts.coil import CoilNumbers
    from sweatline.parts.compressor import CompressorNumbers
    from sweatline.parts.tubes import TubeNumbers
    from sweatline.refrigerant.refrigerant import Refrigerant
    from sweatline.study.carrying import Carried

__all__ = [
    "MODEL_SCATTER",
    "NOT_DRAWN",
    "Bars",
    "Draw",
    "Uncertain",
    "assemble",
    "bars",
    "compressor_numbers",
    "informed",
    "plate_power",
    "told_of",
    "tube",
]

_AIR_SIDE = "the authors' own data within 10 %, but two other authors' fits lie a fifth lower"

# One standard deviation of each model, relative, from the scatter its authors or later
# comparisons state; see the docstring of the model. How many values from print the ranges then
# hold is counted in tests/published/test_band_coverage.py; docs/why/probability.md says which were
# changed for it.
MODEL_SCATTER: dict[str, tuple[float, str]] = {
    "capillary flow": (0.06, "nine tenths of published flows lie within 10 %"),
    "evaporator air side": (0.15, _AIR_SIDE),
    "condenser air side": (0.15, _AIR_SIDE),
    "boiling": (0.25, "flow boiling at the low mass flux of small machines"),
    "condensation": (0.20, "mean deviation 15 % of the authors' data, low mass flux"),
    "volumetric": (0.05, "eight published maps, each from one rating point: nine tenths in 11 %"),
    "compressor power": (
        0.05,
        "beside that of the flow: eight published maps, nine tenths in 11 %",
    ),
    "other refrigerant": (0.05, "power with another refrigerant than the compressor is known by"),
    "inventory": (0.20, "the three void fractions nearest to measured charges, among themselves"),
    "tube friction": (0.35, "two-phase pressure drop, and two forms for bends a factor of 3 apart"),
    "shell to air": (0.30, "conductance of a shell nobody measured"),
}

# Uncertain numbers of a job that no draw moves, by their path in the job, and why.
NOT_DRAWN: dict[str, str] = {
    "supply.voltage": "only compared with the motor's plate: a wrong supply is no matter of chance",
    "original.charge": "a reading of the machine as it ran, not of the rebuild",
    "original.power": "a reading of the machine as it ran, not of the rebuild",
    "original.current": "a reading of the machine as it ran, not of the rebuild",
    "original.water_removal": "a reading too; sets the airflow, then drawn, if nobody measured it",
    "original.rating_temperature": "sets the airflow when nobody measured that",
    "original.rating_relative_humidity": "sets the airflow when nobody measured that",
    "compressors.rated_current": "told back; the motor is judged by its watts",
    "fan.shut_off_pressure": "says how frost slows the air; its times are told without a range",
    "limits.low_side_pressure": "only decides whether a hot store is mentioned",
    "capillaries.length": "length on the shelf: what is cut from it is drawn instead",
}


# Liquid that stands where nobody measured: caps, joints, a strainer (judged; with the multiplier
# "inventory" it is the second and last term that corrects a charge).
LEFT_OUT = 1.0e-5  # m3

# A number of whose spread readings have left less than this is told as narrowed by them.
NARROWED = 0.9


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


def _coil(job: Job, which: str, draw: Draw, cells: int) -> CoilNumbers | TubeNumbers:
    from sweatline.parts.coil import coil_numbers

    coil = job.evaporator if which == "evaporator" else job.condenser

    def of(name: str) -> float:
        return draw.number(f"{which} {name.replace('_', ' ')}", getattr(coil, name))

    fouling = of("fouling")
    numbers = coil_numbers(
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
    numbers = numbers._replace(bend_factor=numbers.bend_factor * draw.scatter("tube friction"))
    return numbers if job.coils == "by rows" else in_tubes(coil, numbers)


def in_tubes(coil: Coil, numbers: CoilNumbers) -> TubeNumbers:
    """The same coil tube by tube, along the circuits of the job and in its uneven air."""
    import numpy as np

    from sweatline.parts.circuiting import by_rows, zigzag
    from sweatline.parts.tubes import tube_numbers

    way = coil.circuiting
    if way is None and coil.path == "zigzag":
        way = zigzag(coil.rows, coil.tubes_per_row, coil.circuits)
    elif way is None:
        counter = coil.path == "counter"
        way = by_rows(coil.rows, coil.tubes_per_row, coil.circuits, counter=counter)
    speeds = coil.air_profile
    if speeds and len(speeds) != coil.tubes_per_row:
        heights = (np.arange(coil.tubes_per_row) + 0.5) / coil.tubes_per_row
        given = (np.arange(len(speeds)) + 0.5) / len(speeds)
        speeds = tuple(float(v) for v in np.interp(heights, given, speeds))
    # About as many cells as the simple form has, at least one a tube.
    cells = max(round(numbers.cells * coil.circuits / coil.tubes_per_row), 1)
    return tube_numbers(
        numbers,
        tubes_per_row=coil.tubes_per_row,
        circuiting=way,
        profile=speeds,
        tube_cells=cells,
    )


def plate_power(compressor: Compressor) -> Known | None:
    """Rated input of the motor, from the plate or from its rating point. [W]"""
    if compressor.rated_power is not None:
        return compressor.rated_power
    if compressor.rating is not None and compressor.rating.power is not None:
        return compressor.rating.power
    return None


def informed(
    job: Job, compressor: Compressor, refrigerant: Refrigerant, stock: CapillaryStock, draw: Draw
) -> Draw:
    """The draw about what readings of a known machine taught, when the job has any."""
    if job.learned is None:
        return draw
    from sweatline.study.carrying import carried

    return draw.moved(carried(job.learned, compressor, refrigerant.name, stock))


def told_of(
    job: Job,
    compressor: Compressor,
    refrigerant: Refrigerant,
    stock: CapillaryStock,
    numbers: Iterable[Uncertain],
) -> tuple[Uncertain, ...]:
    """The uncertain numbers, those noted that readings of a known machine have narrowed."""
    if job.learned is None:
        return tuple(numbers)
    from sweatline.study.carrying import carried

    learned = carried(job.learned, compressor, refrigerant.name, stock)
    found = []
    for one in numbers:
        left = 1.0 if learned is None else learned.left(one.name)
        if left < NARROWED:
            note = f"{one.note}; readings of the machine as it ran leave {100 * left:.0f} % of that"
            one = replace(one, note=note)
        found.append(one)
    return tuple(found)


class Bars(NamedTuple):
    """What a machine is held against, in SI; None where the job says nothing."""

    high_side_pressure: float | None  # Pa
    discharge_temperature: float  # K
    plate_power: float | None  # W
    floor_area: float | None  # m2
    room_volume: float | None  # m3


def bars(job: Job, compressor: Compressor, draw: Draw) -> Bars:
    """Limits and sizes that verdicts go by; they are as uncertain as anything else in a job."""

    def maybe(name: str, known: Known | None) -> float | None:
        return None if known is None else draw.number(name, known)

    rated = "rated power" if compressor.rated_power is not None else "power at rating"
    return Bars(
        high_side_pressure=maybe("limit of the high side", job.limits.high_side_pressure),
        discharge_temperature=draw.number(
            "limit of the discharge gas", job.limits.discharge_temperature
        ),
        plate_power=maybe(f"{compressor.name} {rated}", plate_power(compressor)),
        floor_area=maybe("floor area", job.room.floor_area),
        room_volume=maybe("room volume", job.room.volume),
    )


def tube(stock: CapillaryStock, length: float | None, draw: Draw) -> CapillaryNumbers:
    """A capillary of a known length, or of its own; a piece that is cut has the tape's error."""
    from sweatline.parts.capillary import CapillaryNumbers

    if length is None:
        known = stock.length if stock.fitted else None
        metres = draw.number(f"{stock.name} length", known) if known is not None else 2.0
    else:
        metres = draw.number(f"{stock.name} length", _as_cut(stock, length))
    return CapillaryNumbers(
        draw.number(f"{stock.name} bore", stock.bore),
        metres,
        draw.number(f"{stock.name} roughness", stock.roughness),
        draw.scatter("capillary flow"),
        0.0,
    )


def _as_cut(stock: CapillaryStock, length: float) -> Known:
    from sweatline.job.tolerances import TOOLS

    own = stock.length
    if stock.fitted and own is not None and own.value == length:
        return own
    tape = TOOLS["tape"]
    return Known(value=length, sd=tape.sd(length), origin="measured", note=f"cut by {tape.words}")


def compressor_numbers(
    compressor: Compressor, frequency: float, draw: Draw, refrigerant: str
) -> CompressorNumbers:
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
            power=draw.number(f"{name} power at rating", r.power) if r.power is not None else None,
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
    if compressor.map is None:  # a map tells the clearance
        clearance = draw.offset(
            f"{name} clearance", numbers.clearance, d.clearance_sd, "re-expansion, by kind"
        )
        moved = numbers._replace(clearance=max(clearance, 0.002))
        if compressor.rating is not None and moved != numbers:
            moved = _as_rated(compressor.rating, numbers, moved)
        numbers = moved
    loss = draw.offset(
        f"{name} shell loss", numbers.shell_loss, d.shell_loss_sd, "share lost from the shell"
    )
    spread = 1.0
    if compressor.rating is None and compressor.map is None:
        spread = 1.0 + draw.offset(
            f"{name} motor and valves", 0.0, d.overall_sd / d.overall, "efficiency known by kind"
        )
    power = draw.scatter("compressor power")
    if refrigerant != _known_by(compressor):
        power *= draw.scatter("other refrigerant")
    return numbers._replace(
        shell_loss=min(max(loss, 0.02), 0.7),
        # A rotary's oil sits in the discharge gas, whatever its shell passes to the air.
        shell_conductance=numbers.shell_conductance * draw.scatter("shell to air")
        if numbers.oil_at_discharge < 0.5
        else numbers.shell_conductance,
        proportional=min(max(numbers.proportional * spread, 0.2), 0.95),
        flow_multiplier=draw.scatter("volumetric"),
        power_multiplier=power,
    )


def _known_by(compressor: Compressor) -> str | None:
    """Refrigerant with which a compressor was mapped or rated, or for which it was made."""
    told = compressor.map if compressor.map is not None else compressor.rating
    return told.refrigerant if told is not None else compressor.refrigerant


def _as_rated(
    rating: Rating, numbers: CompressorNumbers, moved: CompressorNumbers
) -> CompressorNumbers:
    """A compressor of another clearance that passes at its rating point what it was rated for."""
    from sweatline.parts.compressor import operate
    from sweatline.refrigerant.refrigerant import load

    table = load(rating.refrigerant).table
    before, after = (
        operate(
            table,
            c,
            evaporating=rating.evaporating_temperature,
            condensing=rating.condensing_temperature,
            suction=rating.suction_temperature,
            liquid=rating.liquid_temperature,
        ).mass_flow
        for c in (numbers, moved)
    )
    return moved._replace(filling=moved.filling * before / after)


# Heat passed per metre of capillary soldered to a suction line of small machines. Measured
# effectiveness of a metre or two is 0.6 to 0.8 (MEMORY 0.5), which this conductance gives.
_EXCHANGER = Known(
    value=2.0, sd=0.8, origin="default", note="W/K per metre of capillary soldered to the line"
)
# Soldered from the inlet on, all of the cooling comes before the flash point; from the middle on,
# half to nine tenths; at the end, a fifth to six tenths (a march along the tube, tests/twoways).
_AHEAD = Known(
    value=0.75, sd=0.25, origin="default", note="where along the capillary it is soldered"
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
    from sweatline.parts.shell import LineNumbers, ShellNumbers
    from sweatline.parts.solubility import solubility

    draw = draw if draw is not None else Draw()
    draw = informed(job, compressor, refrigerant, capillary, draw)
    pressure = job.place.atmospheric_pressure
    room_t = draw.number("room temperature", job.room.temperature)
    room_rh = min(draw.number("room humidity", job.room.relative_humidity), 0.995)
    room_w = humidity_ratio(room_t, room_rh, pressure)
    volume_flow = draw.number("airflow", job.fan.volume_flow)
    positions = {"before": 0, "between": 1, "after": 2}
    lines = job.lines
    oil = solubility(refrigerant.table, refrigerant.name, compressor.oil)
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
        compressor=compressor_numbers(
            compressor,
            draw.number("mains frequency", job.supply.frequency),
            draw,
            refrigerant.name,
        ),
        evaporator=_coil(job, "evaporator", draw, cells),
        condenser=_coil(job, "condenser", draw, cells),
        metering=tube(capillary, length, draw),
        lines=LineNumbers(
            draw.number("suction line bore", lines.suction_bore),
            draw.number("suction line length", lines.suction_length),
            draw.number("discharge line bore", lines.discharge_bore),
            draw.number("discharge line length", lines.discharge_length),
            draw.number("liquid line bore", lines.liquid_bore),
            draw.number("liquid line length", lines.liquid_length),
            max(
                draw.number("drier volume", lines.drier_volume)
                + draw.offset("liquid left out", 0.0, LEFT_OUT, "caps and joints nobody measured"),
                0.0,
            ),
            draw.number("accumulator volume", lines.accumulator_volume),
            draw.number("suction exchanger", _EXCHANGER)
            * draw.number("soldered length", lines.exchanger_length)
            if lines.exchanger_length.value > 0.0
            else 0.0,
            min(draw.number("soldered position", _AHEAD, 0.1), 1.0)
            if lines.exchanger_length.value > 0.0
            else 1.0,
        ),
        shell=ShellNumbers(
            draw.number("shell volume", compressor.shell_volume),
            draw.number("oil volume", compressor.oil_volume),
            oil.size_ratio,
            draw.offset("oil solubility", oil.interaction, oil.interaction_sd, oil.note),
            oil.interaction_slope,
        ),
        air=air,
    )
    return machine, _line(pressure)
