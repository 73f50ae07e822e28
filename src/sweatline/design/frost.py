"""Does the coil freeze up in a room, how soon, and what brings it back?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from sweatline.air.moist import enthalpy, moist_heat_capacity, specific_volume
from sweatline.answers import Answer, Hidden, Q, Shown
from sweatline.assembly.build import build_for
from sweatline.constants import ZERO_CELSIUS
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.design.verdict import Fact, Verdict
from sweatline.flow.finned_surface import air_side_coefficient
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled, fixed_charge
from sweatline.machine.circuit import MachineParameters
from sweatline.machine.frost import BLOCKED, FrostRun, FrostStep, run_frost
from sweatline.machine.room_map import in_room
from sweatline.parts.frost import HEAT_OF_FUSION, ICE_HEAT, air_path

# Frost of the same conditions differs by a third and more between authors.
DENSITIES = (0.7, 1.0, 1.4)

RUN_TO = 0.8  # of the clean airflow: then it is time to defrost (common practice)
_THAWED = 278.15  # K on the tube: the ice is surely gone (common practice)
_TELLS = 2.0  # K by which evaporating must fall for a thermostat to notice frost
_SPARE = 1.3  # on the time of rest: water runs off late, ice lies thicker in places
_COPPER = 8960.0 * 385.0  # J/(m3*K) (textbook)
_ALUMINIUM = 2700.0 * 900.0  # J/(m3*K) (textbook)
_AT_ZERO = 9.47e3  # J/kg, saturated air at 0 degrees Celsius (air.moist)


@dataclass(frozen=True, slots=True, kw_only=True)
class Defrost(Answer):
    """What it takes to melt the ice of a coil and to warm its metal."""

    ice: Annotated[float, Q("mass")]
    energy: Annotated[float, Q("energy", "", "Fusion, and warming of ice and metal.")]
    metal: Annotated[float, Q("energy", "", "Of it, for the metal.")]
    rest: Annotated[
        float | None,
        Q("time", "", "Compressor off, fan on in this room; null where the room is too cold."),
    ]
    hot_gas: Annotated[
        float, Q("time", "", "At least: with all heat of the compressor in the coil.")
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle(Answer):
    """Run and rest that keep a coil open, and what a thermostat on its tube would see."""

    run: Annotated[float, Q("time", "", "Until the airflow is down to four fifths.")]
    rest: Annotated[float | None, Q("time", "", "With a margin; null: it needs heat.")]
    stop_at: Annotated[
        float | None,
        Q("temperature", "", "Evaporating at the end of the run; null when it hardly falls."),
    ]
    start_at: Annotated[float, Q("temperature", "", "Of the coil's tube.")]
    running_share: float | None
    """Of the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostAnswer(BuildAnswer, JobHead):
    """`sweatline frost --json`: whether and how soon a coil is blocked by frost."""

    CHARGE: ClassVar[str] = "charge"
    room_temperature: Annotated[float, Q("temperature", "", "In which it runs.")]
    room_relative_humidity: float
    start: Annotated[SteadyState, Hidden()]  # clean
    likely: Annotated[FrostRun, Hidden()]
    light: Annotated[FrostRun, Hidden()]  # frost less dense than expected
    heavy: Annotated[FrostRun, Hidden()]  # and denser
    verdict: Verdict
    defrost: Defrost | None
    """At the end of the run."""
    cycle: Cycle | None
    notes: tuple[str, ...]

    @property
    def charge(self) -> Annotated[float, Q("mass", "charge")]:
        """In the machine. [kg]"""
        return self.start.charge

    @property
    def ended(
        self,
    ) -> Annotated[Literal["blocked", "bare", "settled", "time", "no balance"], Shown()]:
        """Bare: nothing freezes. Settled: the frost no longer grows."""
        return self.likely.ended

    @property
    def blocked(self) -> Annotated[tuple[float | None, ...], Q("time")]:
        """Time until the airflow is halved, with light, expected and dense frost. [s]"""
        return tuple(run.when(BLOCKED) for run in (self.light, self.likely, self.heavy))

    @property
    def steps(self) -> Annotated[tuple[FrostStep, ...], Shown()]:
        """The run with frost of the expected density."""
        return self.likely.steps


def frost(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    charge: float | None = None,
    room_temperature: float | None = None,
    room_humidity: float | None = None,
    hours: float = 24.0,
    progress: Callable[[float], None] | None = None,
) -> FrostAnswer:
    """Charge a machine in the job's room and run it, in that room or another, until it freezes up.

    Parameters
    ----------
    charge : float, optional
        [kg] By default the machine is charged in the job's room until its evaporator is filled.
    room_temperature, room_humidity : float, optional
        Of the room it then runs in. [K], [0..1]
    hours : float
        Longest run. [h]
    """
    fine = replace(job, coils="tube by tube")
    parts = {"compressor": compressor, "capillary": capillary}
    # The tube is cut as in the other answers.
    length = build_for(job, refrigerant=refrigerant, length=length, **parts).length
    build = build_for(fine, refrigerant=refrigerant, length=length, **parts)
    target = filled(superheat=job.targets.superheat) if charge is None else fixed_charge(charge)
    start = build.solve(target)
    pressure = job.place.atmospheric_pressure
    own = job.room.temperature.value, job.room.relative_humidity.value
    room = (
        own[0] if room_temperature is None else room_temperature,
        own[1] if room_humidity is None else room_humidity,
    )
    if room != own:
        machine = in_room(build.machine, *room, pressure)
        build = replace(build, machine=machine, designed=None)
        start = build.solve(fixed_charge(start.charge), near=start)
    machine = build.machine
    air, coil, behind = machine.air, machine.evaporator, machine.condenser
    volume = specific_volume(air.temperature, air.humidity, pressure)
    fan = job.fan.shut_off_pressure
    path = air_path(
        coil,
        behind.fins,
        face_ratio=behind.face_area / coil.face_area,
        air_flow=air.flow,
        temperature=air.temperature,
        humidity=air.humidity,
        density=(1.0 + air.humidity) / volume,
        shut_off=fan.value if fan is not None else None,
    )
    runs = [
        run_frost(
            build.refrigerant.table,
            build.line,
            machine,
            start,
            path,
            pressure,
            density_factor=factor,
            hours=hours,
            progress=part_of_progress(progress, n / len(DENSITIES), (n + 1) / len(DENSITIES)),
        )
        for n, factor in enumerate(DENSITIES)
    ]
    light, likely, heavy = runs
    end = likely.steps[-1]
    need = None
    cycle = None
    if end.ice > 0.0:
        need = defrost(machine, end.balance, ice=end.ice, airflow=end.airflow, pressure=pressure)
        cycle = _cycle(machine, likely, pressure)
    notes = list(start.notes)
    if likely.ended == "bare":
        pass  # then nothing rests on the fan
    elif fan is None:
        notes.append(
            "the fan is taken to build up twice its working pressure when no air moves; "
            "shut_off_pressure under [fan] says better"
        )
    elif path.shut_off > fan.value:
        notes.append(
            "the fan's shut-off pressure lies below what the coils take at its airflow; it is "
            "counted a twentieth above"
        )
    return FrostAnswer(
        build=build,
        room_temperature=room[0],
        room_relative_humidity=room[1],
        start=start,
        likely=likely,
        light=light,
        heavy=heavy,
        defrost=need,
        cycle=cycle,
        verdict=_verdict(start, likely),
        notes=tuple(notes),
    )


def metal_heat(machine: MachineParameters) -> float:
    """Heat that the metal of the evaporator stores. [J/K]"""
    coil = machine.evaporator
    fins = coil.fins
    # The fin block's own numbers give the tube: a collar is the tube and two fin thicknesses.
    outer = fins.Dc - 2.0 * fins.fin_thickness
    tube = 0.25 * math.pi * (outer**2 - coil.bore**2)
    length = coil.row_length * coil.rows * coil.circuits
    fin = 0.5 * fins.area_ratio * fins.fin_fraction * coil.face_area * fins.fin_thickness
    return tube * length * _COPPER + fin * _ALUMINIUM


def defrost(
    machine: MachineParameters, balance: SteadyState, *, ice: float, airflow: float, pressure: float
) -> Defrost:
    """What melts the ice off an evaporator.

    Parameters
    ----------
    machine : MachineParameters
        Clean, in its room.
    balance : SteadyState
        At the end of the run.
    ice : float
        On the coil. [kg]
    airflow : float
        The fan still moves, over that of the clean machine. [-]
    pressure : float
        Atmospheric. [Pa]

    Notes
    -----
    Resting, the room's air melts the ice, which stays at the melting point: counted with the
    airflow at the end of the run, although it grows again as the ice goes. Half of the melting
    heat may come from water that condenses out of the room.
    """

    cold = max(ZERO_CELSIUS - balance.evaporating_temperature, 0.0)
    metal = metal_heat(machine) * (cold + _THAWED - ZERO_CELSIUS)
    energy = ice * (HEAT_OF_FUSION + ICE_HEAT * 0.5 * cold) + metal
    air, coil = machine.air, machine.evaporator
    flow = airflow * air.flow
    h = air_side_coefficient(flow / coil.face_area, air.temperature, air.humidity, coil.fins)
    area = coil.fins.area_ratio * coil.face_area
    ntu = h * area / (flow * moist_heat_capacity(air.humidity))
    power = flow * (1.0 - math.exp(-ntu)) * (enthalpy(air.temperature, air.humidity) - _AT_ZERO)
    return Defrost(
        ice=ice,
        energy=energy,
        metal=metal,
        rest=energy / power if air.temperature > ZERO_CELSIUS + 2.0 and power > 0.0 else None,
        hot_gas=energy / (balance.compressor_power - balance.shell_heat),
    )


def _cycle(machine: MachineParameters, run: FrostRun, pressure: float) -> Cycle | None:
    """Run until the airflow is down to four fifths, then rest until the ice has gone."""
    time = run.when(RUN_TO)
    if time is None:
        return None
    at = min(run.steps, key=lambda s: abs(s.time - time))
    need = defrost(machine, at.balance, ice=at.ice, airflow=at.airflow, pressure=pressure)
    rest = None if need.rest is None else _SPARE * need.rest
    first = run.steps[0].balance.evaporating_temperature
    last = at.balance.evaporating_temperature
    return Cycle(
        run=time,
        rest=rest,
        stop_at=last if first - last >= _TELLS else None,
        start_at=_THAWED,
        running_share=None if rest is None else time / (time + rest),
    )


_SENTENCES = {
    "bare": "nothing freezes in this room",
    "blocked": "frost closes the coil: the airflow is halved",
    "settled": "frost stays in places and the air finds its way round",
    "time": "frost stays in places and the air finds its way round",
    "no balance": "under its frost the machine has no balance any more",
}


def _verdict(start: SteadyState, likely: FrostRun) -> Verdict:
    fails = likely.ended in ("blocked", "no balance")
    sentence = _SENTENCES[likely.ended]
    if likely.reason:
        sentence += f": {likely.reason}"
    return Verdict(
        key="frosting",
        fault="coil freezes",
        state="holds" if likely.ended == "bare" else "fails" if fails else "note",
        number=start.coil_temperature,
        limit=ZERO_CELSIUS,
        kind="temperature",
        facts=()
        if likely.ended == "bare"
        else (Fact(label="airflow left", value=likely.steps[-1].airflow, kind="ratio"),),
        source="water freezes on a surface below its freezing point",
        sentence=sentence,
    )
