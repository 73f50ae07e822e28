"""From what is on the bench to the numbers a solver takes, at any draw of what is uncertain."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, NamedTuple

from sweatline.assembly.compressor import compressor_parameters, plate_power
from sweatline.assembly.parameters import Draw, informed
from sweatline.uncertainty.measured import Measured

if TYPE_CHECKING:
    from sweatline.air.saturation_line import SaturationLine
    from sweatline.job.model import CapillaryStock, Coil, Compressor, Job
    from sweatline.machine.circuit import MachineParameters
    from sweatline.parts.capillary import CapillaryParameters
    from sweatline.parts.coil import CoilParameters
    from sweatline.parts.tube_layout import TubeParameters
    from sweatline.refrigerant.refrigerant import Refrigerant

__all__ = ["WorkingLimits", "assemble", "in_tubes", "limits", "tube"]


# Liquid that stands where nobody measured: caps, joints, a strainer (judged; with the multiplier
# "inventory" it is the second and last term that corrects a charge).
LEFT_OUT = 1.0e-5  # m3


def _coil(job: Job, which: str, draw: Draw, cells: int) -> CoilParameters | TubeParameters:
    from sweatline.parts.coil import coil_parameters

    coil = job.evaporator if which == "evaporator" else job.condenser

    def of(name: str) -> float:
        return draw.number(f"{which} {name.replace('_', ' ')}", getattr(coil, name))

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
        air_multiplier=fouling * draw.scatter(f"{which} air side"),
        inner_multiplier=draw.scatter("boiling" if which == "evaporator" else "condensation"),
        charge_multiplier=draw.scatter("inventory"),
    )
    numbers = numbers._replace(bend_factor=numbers.bend_factor * draw.scatter("tube friction"))
    return numbers if job.coils == "by rows" else in_tubes(coil, numbers)


def in_tubes(coil: Coil, numbers: CoilParameters) -> TubeParameters:
    """The same coil tube by tube, along the circuits of the job and in its uneven air."""
    import numpy as np

    from sweatline.parts.circuiting import by_rows, zigzag
    from sweatline.parts.tube_layout import tube_parameters

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
    return tube_parameters(
        numbers,
        tubes_per_row=coil.tubes_per_row,
        circuiting=way,
        profile=speeds,
        tube_cells=cells,
    )


class WorkingLimits(NamedTuple):
    """What a machine is held against, in SI; None where the job says nothing."""

    high_side_pressure: float | None  # Pa
    discharge_temperature: float  # K
    plate_power: float | None  # W
    floor_area: float | None  # m2
    room_volume: float | None  # m3


def limits(job: Job, compressor: Compressor, draw: Draw) -> WorkingLimits:
    """Limits and sizes that verdicts go by; they are as uncertain as anything else in a job."""

    def maybe(name: str, known: Measured | None) -> float | None:
        return None if known is None else draw.number(name, known)

    rated = "rated power" if compressor.rated_power is not None else "power at rating"
    return WorkingLimits(
        high_side_pressure=maybe("limit of the high side", job.limits.high_side_pressure),
        discharge_temperature=draw.number(
            "limit of the discharge gas", job.limits.discharge_temperature
        ),
        plate_power=maybe(f"{compressor.name} {rated}", plate_power(compressor)),
        floor_area=maybe("floor area", job.room.floor_area),
        room_volume=maybe("room volume", job.room.volume),
    )


def tube(stock: CapillaryStock, length: float | None, draw: Draw) -> CapillaryParameters:
    """A capillary of a known length, or of its own; a piece that is cut has the tape's error."""
    from sweatline.parts.capillary import CapillaryParameters

    if length is None:
        known = stock.length if stock.fitted else None
        metres = draw.number(f"{stock.name} length", known) if known is not None else 2.0
    else:
        metres = draw.number(f"{stock.name} length", _as_cut(stock, length))
    return CapillaryParameters(
        draw.number(f"{stock.name} bore", stock.bore),
        metres,
        draw.number(f"{stock.name} roughness", stock.roughness),
        draw.scatter("capillary flow"),
        0.0,
    )


def _as_cut(stock: CapillaryStock, length: float) -> Measured:
    from sweatline.job.instruments import INSTRUMENTS

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
) -> tuple[MachineParameters, SaturationLine]:
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
    from sweatline.machine.circuit import SERIES, AirParameters, MachineParameters
    from sweatline.parts.shell import LineParameters, ShellParameters
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
    air = AirParameters(
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
    machine = MachineParameters(
        compressor=compressor_parameters(
            compressor,
            draw.number("mains frequency", job.supply.frequency),
            draw,
            refrigerant.name,
        ),
        evaporator=_coil(job, "evaporator", draw, cells),
        condenser=_coil(job, "condenser", draw, cells),
        expansion=tube(capillary, length, draw),
        lines=LineParameters(
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
        shell=ShellParameters(
            draw.number("shell volume", compressor.shell_volume),
            draw.number("oil volume", compressor.oil_volume),
            oil.size_ratio,
            draw.offset("oil solubility", oil.interaction, oil.interaction_sd, oil.note),
            oil.interaction_slope,
        ),
        air=air,
    )
    return machine, _line(pressure)
