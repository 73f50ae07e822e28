"""How much is in the machine? Hoses, scale, cylinders, and what a cylinder's pressure says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from sweatline.answers import Answer, Q
from sweatline.bench.answer import BenchAnswer, room_temperature
from sweatline.bench.hoses.cylinder import (
    BLIND_FUEL,
    Fractionation,
    FuelGuess,
    SaturationCheck,
    fractionation,
    fuel_guess,
    largest_fill,
    liquid_full_temperature,
    saturation_check,
)
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, PhysicsError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.parts.hose import (
    Can,
    Container,
    Hose,
    HoseContent,
    MachineCharge,
    hose_content,
    in_machine,
)
from sweatline.refrigerant.refrigerant import Refrigerant, load
from sweatline.refrigerant.safety_data import known_names, safety_data
from sweatline.safety.cautions import cautions_of
from sweatline.safety.charge_limits import charge_limit


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderReading:
    """A cylinder at rest, read."""

    pressure: float  # Pa
    pressure_sd: float  # Pa
    temperature: float  # K
    temperature_sd: float  # K
    fuel: bool = False  # sold as fuel, not as refrigerant


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRequest:
    """A cylinder to be filled."""

    volume: float  # m3
    temperature: float = 323.15  # K, warmest place
    mass: float | None = None  # kg


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseRequest:
    """What may be asked about hoses and cylinders."""

    refrigerant: str
    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    temperature: float | None = None  # K of hoses and containers; None: the room's
    hoses: Sequence[Hose] = ()
    containers: Sequence[Container] = ()
    cans: Sequence[Can] = ()
    swap: Hose | None = None  # what is lost each time a container is changed
    vented: tuple[float, float] = (0.0, 0.0)  # kg and its standard deviation
    scale_step: float = 1e-3  # kg
    scale_share: float = 2e-3
    want: float | None = None  # kg
    cylinder: CylinderReading | None = None
    taken_as_vapour: float | None = None  # share of the cylinder
    fill: FillRequest | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighOut(Answer):
    """What the scale has to show for a wanted charge."""

    want: Annotated[float, Q("mass")]
    weigh_out: Annotated[float, Q("mass", "weigh out")]
    sd: Annotated[float, Q("mass", doc="Of the charge that results.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLimit(Answer):
    """Charge against the limit of the room, flammable refrigerants only."""

    limit: Annotated[float, Q("mass")]
    mass: Annotated[float, Q("mass")]
    over: bool
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderFill(Answer):
    """How full a cylinder may be."""

    volume: Annotated[float, Q("volume")]
    temperature: Annotated[float, Q("temperature")]
    most: Annotated[float, Q("mass")]
    asked: Annotated[float | None, Q("mass")]
    too_much: bool
    liquid_full: Annotated[
        float | None, Q("temperature", doc="At which what was asked leaves no room for vapour.")
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseAnswer(BenchAnswer):
    """What is in the hoses, in the machine and in the cylinder."""

    refrigerant: str
    temperature: Annotated[float, Q("temperature")]
    charge_as: Literal["liquid", "either"]
    hoses: tuple[HoseContent, ...]
    machine: MachineCharge | None
    weigh_out: WeighOut | None
    charge_limit: RoomLimit | None
    cylinder: SaturationCheck | None
    fuel: FuelGuess | None
    """Of a cylinder that is sold as fuel."""
    fractionation: Fractionation | None
    fill: CylinderFill | None


def hose(request: HoseRequest) -> HoseAnswer:
    """Answer everything that was asked about hoses and cylinders.

    Raises
    ------
    JobError
        No such refrigerant.
    OutOfRange
        Masses or pressures that cannot be.
    """
    fluid = load(request.refrigerant)
    temperature = room_temperature(request.job, request.temperature)
    notes: list[str] = []
    contents = tuple(hose_content(fluid, h) for h in request.hoses)
    lost = _lost(request, fluid, notes)
    charge = None
    if request.containers or request.cans:
        charge = in_machine(
            fluid,
            containers=request.containers,
            cans=request.cans,
            hoses=contents,
            lost=lost,
            temperature=temperature,
            scale_step=request.scale_step,
            scale_share=request.scale_share,
        )
        if charge.mass < 0.0:
            notes.append(
                "more is in the hoses than was weighed out: a mass, a bore or a length is wrong"
            )
        if request.cans:
            notes.append(
                "a can that was not weighed counts by its label, 1 % (MEMORY 0.4), less the gas "
                "left in it"
            )
    charge_as = safety_data(fluid.name).charge_as
    shift = None
    if request.taken_as_vapour is not None:
        shift = fractionation(fluid, temperature=temperature, taken_share=request.taken_as_vapour)
        if shift is None:
            notes.append("one component only: vapour and liquid are the same")
    elif charge_as == "liquid":
        notes.append(
            "a blend: take liquid from the cylinder and let it flash on its way into the suction "
            "side; as vapour its composition shifts"
        )
    look = request.cylinder
    if look is not None and look.fuel:
        notes.append(
            "gas that is not sold as refrigerant has unknown purity, moisture and additives, no "
            "test of that is possible with a gauge, and no limit of a listing holds for it"
        )
    mass = charge.mass if charge is not None else request.want
    return HoseAnswer(
        job=summary_of(request.job) if request.job is not None else None,
        cautions=cautions_of(
            [fluid.name], work={"charging", "recovering"} if request.fill else {"charging"}
        ),
        notes=tuple(notes),
        atmospheric_pressure=request.atmosphere,
        refrigerant=fluid.name,
        temperature=temperature,
        charge_as=charge_as,
        hoses=contents,
        machine=charge,
        weigh_out=None
        if request.want is None
        else _weigh_out(request, request.want, contents, lost),
        charge_limit=_limit(request.job, fluid, mass),
        cylinder=_cylinder(look, fluid) if look is not None else None,
        fuel=None
        if look is None or not look.fuel
        else fuel_guess(
            pressure=look.pressure,
            temperature=look.temperature,
            propane=load("R-290"),
            isobutane=load("R-600a"),
            propylene=load("R-1270"),
        ),
        fractionation=shift,
        fill=_fill(request.fill, fluid) if request.fill is not None else None,
    )


def stands_near(look: CylinderReading) -> tuple[str, ...]:
    """Refrigerants whose liquid stands at what was read, within twice the errors of both."""
    found = []
    for name in known_names():
        try:
            fluid = load(name)
            low, high = (
                fluid.saturation_pressure_bubble(look.temperature + z * look.temperature_sd)
                for z in (-2.0, 2.0)
            )
        except (JobError, PhysicsError):
            continue
        apart = 2.0 * look.pressure_sd
        if low - apart <= look.pressure <= high + apart:
            found.append(name)
    return tuple(found)


def _lost(request: HoseRequest, fluid: Refrigerant, notes: list[str]) -> list[tuple[float, float]]:
    """Vented, and lost at each change of container: mass and standard deviation. [kg]"""
    lost = [request.vented]
    changes = max(len(request.containers) + len(request.cans) - 1, 0)
    if changes and request.swap is not None:
        content = hose_content(fluid, request.swap)
        lost.append((changes * content.mass, changes * content.sd))
    elif changes:
        notes.append(
            f"{changes} {'change' if changes == 1 else 'changes'} of container taken as lossless: "
            "true with a valve at the end of the hose, else say what was lost each time; purge "
            "the air each time"
        )
    return lost


def _weigh_out(
    request: HoseRequest,
    want: float,
    contents: Sequence[HoseContent],
    lost: Sequence[tuple[float, float]],
) -> WeighOut:
    weighed = want + sum(c.mass for c in contents) + sum(mass for mass, _ in lost)
    readings = 2.0 * max(len(request.containers), 1)
    return WeighOut(
        want=want,
        weigh_out=weighed,
        sd=math.sqrt(
            readings * request.scale_step**2 / 12.0
            + (request.scale_share * weighed) ** 2
            + sum(c.sd for c in contents) ** 2
            + sum(sd**2 for _, sd in lost)
        ),
    )


def _limit(job: Job | None, fluid: Refrigerant, mass: float | None) -> RoomLimit | None:
    if job is None or mass is None:
        return None
    area = job.room.floor_area
    limit = charge_limit(
        fluid.name,
        installation=job.place.installation,
        floor_area=area.value if area is not None else None,
    )
    if limit.lfl is None:
        return None
    return RoomLimit(
        limit=limit.allowed,
        mass=mass,
        over=mass > limit.allowed,
        source=limit.source,
        status=limit.status,
    )


def _cylinder(look: CylinderReading, fluid: Refrigerant) -> SaturationCheck:
    found = saturation_check(
        fluid,
        pressure=look.pressure,
        pressure_sd=look.pressure_sd,
        temperature=look.temperature,
        temperature_sd=look.temperature_sd,
    )
    return replace(found, blind_to=BLIND_FUEL) if look.fuel else found


def _fill(asked: FillRequest, fluid: Refrigerant) -> CylinderFill:
    most = largest_fill(fluid, volume=asked.volume, temperature=asked.temperature)
    full = None
    if asked.mass is not None:
        full = liquid_full_temperature(fluid, mass=asked.mass, volume=asked.volume)
    return CylinderFill(
        volume=asked.volume,
        temperature=asked.temperature,
        most=most,
        asked=asked.mass,
        too_much=asked.mass is not None and asked.mass > most,
        liquid_full=full,
    )
