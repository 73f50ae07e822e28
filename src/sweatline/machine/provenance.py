"""What a balance rests on: the models used with their sources, and the ranges it leaves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sweatline.air.moist import viscosity
from sweatline.answers import Note
from sweatline.flow.validity import range_notes
from sweatline.machine.circuit import MachineParameters, Pass
from sweatline.parts.coil import CoilParameters
from sweatline.parts.expansion import Ends, notes_for
from sweatline.refrigerant.table import Table, saturation, saturation_transport


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """One model of a balance: what it describes, and where it comes from."""

    describes: str
    source: str


MODELS: tuple[Model, ...] = (
    Model(
        describes="refrigerant states",
        source="splines aligned to the saturation line, made from the reference equations of state",
    ),
    Model(
        describes="moist air",
        source="ASHRAE formulation, saturation by Hyland and Wexler",
    ),
    Model(
        describes="compressor flow and power",
        source="clearance volumetric efficiency with suction-gas heating; fixed loss, valve loss "
        "and proportional loss (Jaehnig, Reindl and Klein 2000; Jin and Spitler 2002)",
    ),
    Model(
        describes="compressor shell",
        source="one conductance to the air, gas and oil inside at one temperature (arrangement "
        "after Todescat, Fagotti, Prata and Ferreira 1992)",
    ),
    Model(
        describes="capillary",
        source="homogeneous equilibrium with choking; Churchill 1977, McAdams",
    ),
    Model(
        describes="expansion valve",
        source="balance of bulb, evaporator and spring; opening linear in force (structure after "
        "Li, Braun and Shen 2004); liquid through an orifice, Wile 1935 (MEMORY 0.85)",
    ),
    Model(
        describes="air side of the coils",
        source="Wang, Chi and Chang 2000; fins by Schmidt 1949; wet surface by enthalpy potential",
    ),
    Model(
        describes="boiling",
        source="Liu and Winterton 1991; dry-out by Wojtan, Ursenbacher and Thome 2005",
    ),
    Model(describes="condensation", source="Shah 2009"),
    Model(describes="blends with glide", source="Silver 1947, Bell and Ghaly 1973"),
    Model(describes="single phase in tubes", source="Gnielinski 1976, laminar limit"),
    Model(
        describes="pressure drop in tubes",
        source="Müller-Steinhagen and Heck 1986; bends by Padilla, Revellin and Bonjour 2009",
    ),
    Model(describes="void fraction", source="Premoli and others 1970"),
    Model(
        describes="refrigerant in oil",
        source="Flory-Huggins form; numbers fitted to measured pressures, or those of a family",
    ),
)


def _coil(
    table: Table,
    coil: CoilParameters,
    name: str,
    *,
    flow: float,
    pressure: float,
    heat: float,
    air_flow: float,
    air_t: float,
    air_w: float,
) -> list[str]:
    flux = flow / coil.circuits / (0.25 * math.pi * coil.bore**2)
    mul = saturation_transport(table, pressure)[0]
    inside = math.pi * coil.bore * coil.row_length * coil.rows * coil.circuits
    fins = coil.fins
    air_flux = air_flow * (1.0 + air_w) / coil.face_area / fins.sigma
    common = {
        "mass_flux": flux,
        "diameter": coil.bore,
        "reduced_pressure": pressure / table.p_crit,
        "heat_flux": abs(heat) / inside,
        "Re": flux * coil.bore / mul,
    }
    found = range_notes(
        "air over plain fins (Wang, Chi and Chang 2000)",
        {
            "Re": air_flux * fins.Dc / viscosity(air_t),
            "rows": float(coil.rows),
            "tube_diameter": fins.Dc - 2.0 * fins.fin_thickness,
            "fin_pitch": fins.fin_pitch,
            "Pt": fins.Pt,
            "Pl": fins.Pl,
        },
    )
    if name == "evaporator":
        found += range_notes("boiling (Liu and Winterton 1991)", common)
    else:
        found += range_notes("condensation (Shah 2009)", common)
    found += range_notes("two-phase friction (Müller-Steinhagen and Heck 1986)", common)
    return [Note(f"{name}: {note.words}", *note.amounts) for note in found]


def _of_shell(table: Table, run: Pass, *, discharge_pressure: float, flow: float) -> Iterator[str]:
    """Where refrigerant gathers in the compressor's shell, which no steady state can hold."""
    if run.discharge_enthalpy < saturation(table, discharge_pressure)[2]:
        yield "only liquid leaves the compressor: no compressor stands that for long"
    _tb, dew, _hl, hg, *_ = saturation(table, run.suction_pressure)
    most = run.power + flow * max(run.suction_enthalpy - hg, 0.0)
    if run.inside_temperature == dew and run.shell_heat > most * (1.0 - 1e-9):
        yield (
            "the place of the compressor is so cold that refrigerant condenses in its shell and "
            "gathers there: what it holds in the end is not in this charge"
        )


def notes_on(
    table: Table, machine: MachineParameters, run: Pass, *, discharge_pressure: float, flow: float
) -> tuple[str, ...]:
    """One sentence for everything a balance rests on that lies outside its model's data."""
    air = machine.air
    evaporating = run.suction_pressure
    series = air.arrangement == 0
    notes = _coil(
        table,
        machine.evaporator,
        "evaporator",
        flow=flow,
        pressure=evaporating,
        heat=run.evaporator.heat,
        air_flow=air.flow,
        air_t=air.temperature,
        air_w=air.humidity,
    )
    notes += _coil(
        table,
        machine.condenser,
        "condenser",
        flow=flow,
        pressure=run.liquid_pressure,
        heat=run.condenser.heat,
        air_flow=air.flow if series else air.condenser_flow,
        air_t=run.condenser_air_t,
        air_w=run.condenser_air_w,
    )
    if run.evaporator.sweeps < 0 or run.condenser.sweeps < 0:
        notes.append("the states inside a coil did not fully settle")
    if run.suction_pressure < table.p_min * 1.05:
        notes.append("suction pressure is at the lower end of the refrigerant's table")
    notes += _of_shell(table, run, discharge_pressure=discharge_pressure, flow=flow)
    if discharge_pressure > 0.9 * table.p_crit:
        notes.append("head pressure is above 90 % of the critical pressure")
    ends = Ends(
        run.liquid_pressure,
        run.liquid_enthalpy,
        run.expansion.end_pressure,
        run.suction_pressure,
        run.evaporator_outlet,
    )
    notes += notes_for(table, machine.expansion, ends, run.expansion)
    return tuple(notes)
