"""From what is on the bench to what a solver takes, at any sample of what is uncertain.

Here stands the inside volume of the circuit, piece by piece in the order in which the refrigerant
meets them. The compressor's parameters are found in :mod:`sweatline.assembly.pumping`.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np

from sweatline.air.moist import humidity_ratio, specific_volume
from sweatline.air.saturation_line import SaturationLine, saturation_line
from sweatline.assembly.motor import motor_parameters
from sweatline.assembly.parameters import Sample, transferred_prior
from sweatline.assembly.plate import plate_power
from sweatline.assembly.pumping import compressor_parameters, rated_input
from sweatline.job.model import CapillaryStock, Coil, Compressor, Job
from sweatline.job.vocabulary import INSTRUMENTS
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    BETWEEN,
    CELLS,
    OUTSIDE,
    SERIES,
    AirParameters,
    MachineParameters,
)
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.circuiting import by_rows, zigzag
from sweatline.parts.coil import CoilParameters, coil_parameters, tube_by_tube
from sweatline.parts.shell import LineParameters, ShellParameters, solubility
from sweatline.refrigerant.refrigerant import Refrigerant
from sweatline.uncertainty.parameter import Key, Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitPiece:
    """One piece of the circuit."""

    name: str
    side: Literal["low", "high"]
    volume: float  # m3
    sd: float  # m3
    joints: int  # places where it may leak, brazed or screwed


def circuit_pieces(job: Job, compressor: Compressor) -> tuple[CircuitPiece, ...]:
    """Pieces of the circuit of a job with one of its compressors, from the shell around.

    The shell of a rotary belongs to the high side. Numbers of joints are counted from the coils;
    two for each line and the compressor's stubs.
    """
    lines = job.lines
    shell = compressor.shell_volume
    rotary = compressor.kind == "rotary"
    pieces = [
        _coil_volume("evaporator", "low", job.evaporator),
        _tube_volume("suction line", "low", lines.suction_bore, lines.suction_length),
    ]
    if lines.accumulator_volume.value > 0.0:
        pieces.append(_known("accumulator", "low", lines.accumulator_volume, 2))
    pieces += [
        _known("compressor shell", "high" if rotary else "low", shell, 3),
        _tube_volume("discharge line", "high", lines.discharge_bore, lines.discharge_length),
        _coil_volume("condenser", "high", job.condenser),
        _tube_volume("liquid line", "high", lines.liquid_bore, lines.liquid_length),
        _known("drier", "high", lines.drier_volume, 3),
    ]
    return tuple(pieces)


def side_volume(
    pieces: tuple[CircuitPiece, ...], side: Literal["low", "high"]
) -> tuple[float, float]:
    """Volume of one side and its standard deviation. [m3]"""
    return total_volume(tuple(p for p in pieces if p.side == side))


def total_volume(pieces: tuple[CircuitPiece, ...]) -> tuple[float, float]:
    """Volume of pieces and its standard deviation. [m3]"""
    return sum(p.volume for p in pieces), math.sqrt(sum(p.sd**2 for p in pieces))


def _coil_volume(name: str, side: Literal["low", "high"], coil: Coil) -> CircuitPiece:
    bore = coil.tube_outer_diameter.value - 2.0 * coil.tube_wall.value
    bore_sd = math.hypot(coil.tube_outer_diameter.sd, 2.0 * coil.tube_wall.sd)
    tubes = coil.rows * coil.tubes_per_row
    # A return bend is half a circle over the pitch; ends and headers are anybody's guess.
    bend = 0.5 * math.pi * coil.transverse_pitch.value
    length = tubes * (coil.finned_length.value + bend)
    volume = 0.25 * math.pi * bore**2 * length
    relative = math.hypot(2.0 * bore_sd / bore, 0.5 * tubes * bend / length)
    # Every bend is brazed on one side at least: a joint a tube.
    return CircuitPiece(name=name, side=side, volume=volume, sd=relative * volume, joints=tubes + 2)


def _tube_volume(
    name: str, side: Literal["low", "high"], bore: Measured, length: Measured
) -> CircuitPiece:
    volume = 0.25 * math.pi * bore.value**2 * length.value
    relative = math.hypot(
        2.0 * bore.sd / bore.value, length.sd / length.value if length.value > 0.0 else 0.0
    )
    return CircuitPiece(name=name, side=side, volume=volume, sd=relative * volume, joints=2)


def _known(name: str, side: Literal["low", "high"], known: Measured, joints: int) -> CircuitPiece:
    return CircuitPiece(name=name, side=side, volume=known.value, sd=known.sd, joints=joints)


# Liquid that stands where nobody measured: caps, joints, a strainer (judged; with the multiplier
# "inventory" it is the second and last term that corrects a charge).
LEFT_OUT = 1.0e-5  # m3


def _coil(job: Job, which: str, sample: Sample, cells: int) -> CoilParameters:
    coil = job.evaporator if which == "evaporator" else job.condenser

    def of(field: str) -> float:
        return sample.number((which, field), getattr(coil, field))

    fouling = of("fouling")
    numbers = coil_parameters(
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
        air_multiplier=fouling * sample.multiplier(f"{which} air side"),
        inner_multiplier=sample.multiplier("boiling" if which == "evaporator" else "condensation"),
        charge_multiplier=sample.multiplier("inventory"),
    )
    numbers = numbers._replace(friction_multiplier=sample.multiplier("tube friction"))
    return numbers if job.coils == "by rows" else in_tubes(coil, numbers)


def in_tubes(coil: Coil, numbers: CoilParameters) -> CoilParameters:
    """The same coil tube by tube, along the circuits of the job and in its uneven air."""
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
    return tube_by_tube(
        numbers,
        tubes_per_row=coil.tubes_per_row,
        circuiting=way,
        profile=speeds,
        cells=cells,
    )


class WorkingLimits(NamedTuple):
    """What a running machine is compared with; None where the job says nothing."""

    high_side_pressure: float | None  # Pa
    discharge_temperature: float  # K
    plate_power: float | None  # W
    plate_current: float | None  # A
    floor_area: float | None  # m2
    room_volume: float | None  # m3


def limits(job: Job, compressor: Compressor, sample: Sample) -> WorkingLimits:
    """Limits of a machine and sizes of its room; they are as uncertain as anything else."""

    def maybe(key: Key, known: Measured | None) -> float | None:
        return None if known is None else sample.number(key, known)

    rated = "rated_power" if compressor.rated_power is not None else "rating_power"
    return WorkingLimits(
        high_side_pressure=maybe(("limits", "high_side_pressure"), job.limits.high_side_pressure),
        discharge_temperature=sample.number(
            ("limits", "discharge_temperature"), job.limits.discharge_temperature
        ),
        plate_power=maybe(("compressor", compressor.name, rated), plate_power(compressor)),
        plate_current=maybe(
            ("compressor", compressor.name, "rated_current"), compressor.rated_current
        ),
        floor_area=maybe(("room", "floor_area"), job.room.floor_area),
        room_volume=maybe(("room", "volume"), job.room.volume),
    )


def tube(stock: CapillaryStock, length: float | None, sample: Sample) -> CapillaryParameters:
    """A capillary of a given length, or of its own; one that is cut has the tape's error.

    Parameters
    ----------
    length : float, optional
        [m] By default that of a fitted tube; 2 m for stock, whose length is not looked at then.
    """
    if length is None:
        known = stock.length if stock.fitted else None
        metres = (
            sample.number(("capillary", stock.name, "length"), known) if known is not None else 2.0
        )
    else:
        metres = sample.number(("capillary", stock.name, "length"), _as_cut(stock, length))
    return CapillaryParameters(
        sample.number(("capillary", stock.name, "bore"), stock.bore),
        metres,
        sample.number(("capillary", stock.name, "roughness"), stock.roughness),
        sample.multiplier("capillary flow"),
        0.0,
    )


def _as_cut(stock: CapillaryStock, length: float) -> Measured:
    own = stock.length
    if stock.fitted and own is not None and own.value == length:
        return own
    tape = INSTRUMENTS["tape"]
    return Measured(value=length, sd=tape.sd(length), origin="measured", note=f"cut by {tape.name}")


# Heat passed per metre of capillary soldered to a suction line of small machines. Measured
# effectiveness of a metre or two is 0.6 to 0.8 (MEMORY 0.5), which this conductance gives.
_EXCHANGER = Measured(
    value=2.0, sd=0.8, origin="default", note="W/K per metre of capillary soldered to the line"
)
# Soldered from the inlet on, all of the cooling comes before the flash point; from the middle on,
# half to nine tenths; at the end, a fifth to six tenths (a march along the tube, tests/twoways).
_AHEAD = Measured(
    value=0.75, sd=0.25, origin="default", note="where along the capillary it is soldered"
)


_COMPRESSOR_POSITIONS: Final = {
    "unknown": OUTSIDE,
    "outside": OUTSIDE,
    "between": BETWEEN,
    "after": AFTER,
}


@functools.lru_cache(maxsize=8)
def _line(pressure: float) -> SaturationLine:
    return saturation_line(pressure)


def assemble(
    job: Job,
    compressor: Compressor,
    refrigerant: Refrigerant,
    capillary: CapillaryStock,
    *,
    length: float | None = None,
    sample: Sample | None = None,
    cells: int = CELLS,
) -> tuple[MachineParameters, SaturationLine]:
    """A machine made of one choice of parts, in the job's room.

    Parameters
    ----------
    length : float, optional
        Of the capillary, when it is to be cut; by default its own length. [m]
    sample : Sample, optional
        Moves the parameters; by default all stand at their best values. Where the machine as it
        ran has been calibrated (`job.posterior`), its standard deviations count from there.
    cells : int
        Cells per row of a coil; eight leave 0.04 K in evaporating temperature.
    """
    sample = sample if sample is not None else Sample()
    sample = sample.about(transferred_prior(job, compressor, refrigerant.name, capillary))
    pressure = job.place.atmospheric_pressure
    room_t = sample.number(("room", "temperature"), job.room.temperature)
    room_rh = min(sample.number(("room", "relative_humidity"), job.room.relative_humidity), 0.995)
    room_w = humidity_ratio(room_t, room_rh, pressure)
    volume_flow = sample.number(("fan", "volume_flow"), job.fan.volume_flow)
    positions = {"before": BEFORE, "between": BETWEEN, "after": AFTER}
    lines = job.lines
    oil = solubility(refrigerant.table, refrigerant.name, compressor.oil)
    air = AirParameters(
        arrangement=SERIES,
        temperature=room_t,
        humidity=room_w,
        flow=volume_flow / specific_volume(room_t, room_w, pressure),
        condenser_temperature=room_t,
        condenser_humidity=room_w,
        condenser_flow=0.0,
        fan_power=sample.number(("fan", "power"), job.fan.power),
        fan_position=positions[job.fan.position],
        ambient=room_t,
        compressor_position=_COMPRESSOR_POSITIONS[job.fan.compressor_position],
    )
    numbers = compressor_parameters(
        compressor,
        sample.number(("supply", "frequency"), job.supply.frequency),
        sample,
        refrigerant.name,
        job.fan.compressor_position,
    )
    machine = MachineParameters(
        compressor=numbers,
        evaporator=_coil(job, "evaporator", sample, cells),
        condenser=_coil(job, "condenser", sample, cells),
        expansion=tube(capillary, length, sample),
        lines=LineParameters(
            sample.number(("lines", "suction_bore"), lines.suction_bore),
            sample.number(("lines", "suction_length"), lines.suction_length),
            sample.number(("lines", "discharge_bore"), lines.discharge_bore),
            sample.number(("lines", "discharge_length"), lines.discharge_length),
            sample.number(("lines", "liquid_bore"), lines.liquid_bore),
            sample.number(("lines", "liquid_length"), lines.liquid_length),
            max(
                sample.number(("lines", "drier_volume"), lines.drier_volume)
                + sample.offset(
                    ("lines", "left_out"), 0.0, LEFT_OUT, "caps and joints nobody measured"
                ),
                0.0,
            ),
            sample.number(("lines", "accumulator_volume"), lines.accumulator_volume),
            sample.number(("lines", "exchanger"), _EXCHANGER)
            * sample.number(("lines", "exchanger_length"), lines.exchanger_length)
            if lines.exchanger_length.value > 0.0
            else 0.0,
            min(sample.number(("lines", "exchanger_position"), _AHEAD, 0.1), 1.0)
            if lines.exchanger_length.value > 0.0
            else 1.0,
        ),
        shell=ShellParameters(
            sample.number(("shell", "volume"), compressor.shell_volume),
            sample.number(("shell", "oil_volume"), compressor.oil_volume),
            oil.size_ratio,
            sample.offset(
                ("shell", "oil_solubility"), oil.interaction, oil.interaction_sd, oil.note
            ),
            oil.interaction_slope,
        ),
        air=air,
    )
    motor = motor_parameters(job, compressor, sample, lambda: rated_input(compressor, numbers))
    return machine._replace(motor=motor), _line(pressure)
