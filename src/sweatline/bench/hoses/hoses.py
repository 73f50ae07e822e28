"""How much is in the machine? Hoses, scale, cylinders, and what a cylinder's pressure says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from sweatline.answers import Answer, Q, ask, error_of
from sweatline.bench.answer import BenchAnswer, refrigerant_of, room_temperature
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
class HoseRequest:
    """What may be asked about hoses and cylinders."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    refrigerant: str | None = ask(
        "Needed where the job lists several.", metavar="NAME", taken="refrigerant"
    )
    hoses: Sequence[Hose] = ask(
        "As it is left at the end: liquid, gas, mixed, or pulled back (drawn into the low side); "
        'then its pressure, if known, as "4.8 mm, 0.9 m, pulled back, 2 bar(g)". Again for each.',
        default=(), metavar="BORE, LENGTH, STATE", option="hose", taken="hoses",
    )  # fmt: skip
    containers: Sequence[Container] = ask(
        'On the scale, as "1250 g, 1088 g"; again for each further one.',
        default=(), metavar="BEFORE, AFTER", option="container", taken="weighed out",
    )  # fmt: skip
    cans: Sequence[Can] = ask(
        "Small can not weighed: label, volume and pressure at the end.",
        default=(), metavar="NET, VOLUME, P", option="can", taken="cans",
    )  # fmt: skip
    swap: Hose | None = ask("Lost at each change of container.", metavar="BORE, LENGTH, STATE")
    vented: float = ask(
        'As "2 ± 1 g".', "mass", 0.0, 20.0, default=0.0, error=0.3, metavar="M", taken="vented"
    )  # kg
    vented_sd: float | None = None  # kg
    want: float | None = ask(
        "Charge wanted: what must the scale show?", "mass", 1e-3, 50.0, metavar="M"
    )  # kg
    scale_step: float = ask(
        "Smallest step it shows.", "mass", 1e-6, 1.0, usual="1 g", metavar="M", taken="scale step"
    )  # kg
    scale_error: float = ask(
        "Its calibration error.", "ratio", 0.0, 0.1, usual="0.2 %", metavar="X",
        taken="scale error",
    )  # fmt: skip
    temperature: float | None = ask(
        "Of hoses and cylinder; else the room's.", "temperature", 223.15, 343.15, metavar="T",
        taken="temperature",
    )  # fmt: skip
    cylinder_pressure: float | None = ask(
        "At rest, hours after it was used.", "pressure", metavar="P", taken="cylinder's gauge"
    )  # Pa
    cylinder_temperature: float | None = None  # K, where it was read beside the gauge
    gauge_error: float = ask(
        "One standard deviation.", "pressure difference", 1.0, 1e6, usual="10 kPa", metavar="DP",
        taken="gauge error",
    )  # fmt: skip
    thermometer_error: float = ask(
        "Likewise.", "temperature difference", 1e-3, 20.0, usual="0.5 K", metavar="DT"
    )  # K
    fuel: bool = ask("Hydrocarbon sold as fuel, not as refrigerant.", default=False)
    taken_as_vapour: float | None = ask(
        "Of the cylinder: how far does a blend shift?", "ratio", 1e-3, 0.99, metavar="SHARE"
    )
    cylinder_volume: float | None = ask(
        "How much may it hold?", "volume", 1e-5, 1.0, metavar="V"
    )  # m3
    fill: float | None = ask("That is to go into it.", "mass", 1e-3, 500.0, metavar="M")  # kg
    warmest: float = ask("Of its store.", "temperature", 273.15, 338.15, usual="50 C", metavar="T")


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
    _refuse(request)
    temperature = room_temperature(request.job, request.temperature)
    warm = request.cylinder_temperature
    warm = temperature if warm is None else warm
    fluid = load(_named(request, warm))
    notes: list[str] = []
    contents = tuple(hose_content(fluid, h, temperature) for h in request.hoses)
    lost = _lost(request, fluid, temperature, notes)
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
            scale_share=request.scale_error,
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
    if request.fuel:
        notes.append(
            "gas that is not sold as refrigerant has unknown purity, moisture and additives, no "
            "test of that is possible with a gauge, and no limit of a listing holds for it"
        )
    mass = charge.mass if charge is not None else request.want
    return HoseAnswer(
        job=summary_of(request.job) if request.job is not None else None,
        cautions=cautions_of(
            [fluid.name],
            work={"charging", "recovering"} if request.cylinder_volume else {"charging"},
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
        cylinder=_cylinder(request, request.cylinder_pressure, warm, fluid),
        fuel=_fuel(request.cylinder_pressure, warm) if request.fuel else None,
        fractionation=shift,
        fill=_fill(request, request.cylinder_volume, fluid),
    )


def _refuse(request: HoseRequest) -> None:
    """Stop at answers that mean nothing without another."""
    if request.fuel and request.cylinder_pressure is None:
        raise JobError(what="it is about a cylinder", field="fuel, cylinder_pressure")
    if request.fill is not None and request.cylinder_volume is None:
        raise JobError(what="one says nothing without the other", field="fill, cylinder_volume")


def _named(request: HoseRequest, warm: float) -> str:
    """Refrigerant as named; where nobody names it, what the cylinder's pressure would fit."""
    name = refrigerant_of(request.job, request.refrigerant)
    if name is not None:
        return name
    pressure = request.cylinder_pressure
    if pressure is None:
        raise JobError(what="which refrigerant?", allowed="name it", field="refrigerant")
    near = _stands_near(request, pressure, warm)
    fit = f"{', '.join(near)} would stand there" if near else "none of those known stands there"
    raise JobError(
        what=f"a gauge does not tell what is in a cylinder: {fit}, and so would many a mixture",
        allowed="say what its label names and the pressure is held against that; without a label "
        "it is not charged",
        field="refrigerant",
    )


def _stands_near(request: HoseRequest, pressure: float, warm: float) -> list[str]:
    """Refrigerants whose liquid stands at what was read, within twice the errors of both."""
    found = []
    for name in known_names():
        try:
            fluid = load(name)
            low, high = (
                fluid.saturation_pressure_bubble(warm + z * request.thermometer_error)
                for z in (-2.0, 2.0)
            )
        except (JobError, PhysicsError):
            continue
        apart = 2.0 * request.gauge_error
        if low - apart <= pressure <= high + apart:
            found.append(name)
    return found


def _lost(
    request: HoseRequest, fluid: Refrigerant, temperature: float, notes: list[str]
) -> list[tuple[float, float]]:
    """Vented, and lost at each change of container: mass and standard deviation. [kg]"""
    lost = [(request.vented, error_of(request, "vented"))]
    changes = max(len(request.containers) + len(request.cans) - 1, 0)
    if changes and request.swap is not None:
        content = hose_content(fluid, request.swap, temperature)
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
            + (request.scale_error * weighed) ** 2
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


def _cylinder(
    request: HoseRequest, pressure: float | None, warm: float, fluid: Refrigerant
) -> SaturationCheck | None:
    if pressure is None:
        return None
    found = saturation_check(
        fluid,
        pressure=pressure,
        pressure_sd=request.gauge_error,
        temperature=warm,
        temperature_sd=request.thermometer_error,
    )
    return replace(found, blind_to=BLIND_FUEL) if request.fuel else found


def _fuel(pressure: float | None, warm: float) -> FuelGuess | None:
    if pressure is None:
        return None
    return fuel_guess(
        pressure=pressure,
        temperature=warm,
        propane=load("R-290"),
        isobutane=load("R-600a"),
        propylene=load("R-1270"),
    )


def _fill(request: HoseRequest, volume: float | None, fluid: Refrigerant) -> CylinderFill | None:
    if volume is None:
        return None
    mass = request.fill
    most = largest_fill(fluid, volume=volume, temperature=request.warmest)
    return CylinderFill(
        volume=volume,
        temperature=request.warmest,
        most=most,
        asked=mass,
        too_much=mass is not None and mass > most,
        liquid_full=None
        if mass is None
        else liquid_full_temperature(fluid, mass=mass, volume=volume),
    )
