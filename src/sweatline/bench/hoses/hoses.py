"""How much is in the machine? Hoses, scale, cylinders, and what a cylinder's pressure says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import sweatline
from sweatline.answers import Range
from sweatline.bench.bench_records import (
    ChargeLimitRecord,
    CylinderRecord,
    FillRecord,
    FractionationRecord,
    HoseContentRecord,
    HoseRecord,
    MachineChargeRecord,
    WeighOutRecord,
)
from sweatline.errors import JobError
from sweatline.log.extract import NO_LOG, Account

if TYPE_CHECKING:
    from sweatline.job.model import Job
    from sweatline.parts.hose import Can, Container, Hose, HoseContent
    from sweatline.refrigerant.refrigerant import Refrigerant

__all__ = ["CylinderAsked", "FillAsked", "HoseAsked", "hose", "stands_near"]

_TWENTIETH: Final = 1.645
_CLEAR: Final = 0.95

_SEES: Final = (
    "air or nitrogen in the vapour, from about twice the error of gauge and thermometer",
    "a fluid that boils clearly higher or lower",
    "a cylinder without liquid, which stands below saturation",
)
_BLIND: Final = (
    "water: 10 ppm, the limit for refrigerants, does not move a gauge",
    "oil, dust and acid",
    "what is dissolved in small shares: odorant, sulphur, olefins",
)
_BLIND_FUEL: Final = (
    "air from propylene or ethane: each raises the pressure",
    "n-butane from isobutane, and a light and a heavy gas that make up for each other",
    "the odorant of fuel gas, a sulphur compound that eats copper and spoils oil",
    "water, which fuel gas may hold many times over: ice stops a capillary and a drier fills",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderAsked:
    """A cylinder at rest, read."""

    pressure: float  # Pa
    pressure_sd: float  # Pa
    temperature: float  # K
    temperature_sd: float  # K
    fuel: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FillAsked:
    """A cylinder to be filled."""

    volume: float  # m3
    temperature: float  # K, warmest place
    mass: float | None  # kg


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseAsked:
    """Everything one question about hoses and cylinders may hold."""

    refrigerant: str
    temperature: float  # K of hoses and containers
    atmosphere: float  # Pa
    hoses: Sequence[Hose]
    containers: Sequence[Container]
    cans: Sequence[Can]
    swap: Hose | None  # what is lost each time a container is changed
    vented: float  # kg
    vented_sd: float  # kg
    scale_step: float  # kg
    scale_share: float
    want: float | None  # kg
    cylinder: CylinderAsked | None
    taken_as_vapour: float | None  # share of the cylinder
    fill: FillAsked | None
    account: Account = NO_LOG
    job: Job | None = None


def hose(asked: HoseAsked) -> HoseRecord:
    """Answer everything that was asked about hoses and cylinders.

    Raises
    ------
    JobError
        No such refrigerant.
    OutOfRange
        Masses or pressures that cannot be.
    """
    from sweatline.job.summary import summary_of
    from sweatline.parts.hose import hose_content, in_machine
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.safety_data import safety_data
    from sweatline.safety.cautions import cautions_of

    fluid = load(asked.refrigerant)
    notes: list[str] = list(asked.account.notes)
    contents = [hose_content(fluid, h) for h in asked.hoses]
    lost = _lost(asked, fluid, notes)
    charge = None
    if asked.containers or asked.cans:
        charge = in_machine(
            fluid,
            containers=asked.containers,
            cans=asked.cans,
            hoses=contents,
            lost=lost,
            temperature=asked.temperature,
            scale_step=asked.scale_step,
            scale_share=asked.scale_share,
        )
        if charge.mass < 0.0:
            notes.append(
                "more is in the hoses than was weighed out: a mass, a bore or a length is wrong"
            )
        if asked.cans:
            notes.append(
                "a can that was not weighed counts by its label, 1 % (MEMORY 0.4), less the gas "
                "left in it"
            )
    charge_as = safety_data(fluid.name).charge_as
    shift = None
    if asked.taken_as_vapour is not None:
        shift = _shift(asked, fluid, asked.taken_as_vapour, notes)
    elif charge_as == "liquid":
        notes.append(
            "a blend: take liquid from the cylinder and let it flash on its way into the suction "
            "side; as vapour its composition shifts (--taken-as-vapour says how far)"
        )
    mass = charge.mass if charge is not None else asked.want
    limit = _limit(asked, fluid, mass) if mass is not None else None
    if asked.cylinder is not None and asked.cylinder.fuel:
        notes.append(
            "gas that is not sold as refrigerant has unknown purity, moisture and additives, no "
            "test of that is possible with a gauge, and no limit of a listing holds for it"
        )
    return HoseRecord(
        command="hose",
        version=sweatline.__version__,
        job=summary_of(asked.job) if asked.job is not None else None,
        cautions=cautions_of(
            [fluid.name],
            work={"charging", "recovering"} if asked.fill is not None else {"charging"},
        ),
        notes=tuple(notes),
        atmospheric_pressure_Pa=asked.atmosphere,
        log_path=asked.account.path,
        taken=asked.account.taken,
        refrigerant=fluid.name,
        temperature_K=asked.temperature,
        charge_as=charge_as,
        hoses=tuple(
            HoseContentRecord(
                bore_m=h.bore,
                length_m=h.length,
                state=h.state,
                pressure_Pa=c.pressure,
                holds_kg=c.mass,
                sd_kg=c.sd,
                returned_kg=c.returned,
            )
            for h, c in zip(asked.hoses, contents, strict=True)
        ),
        machine=MachineChargeRecord(
            mass_kg=Range(
                low=charge.mass - _TWENTIETH * charge.sd,
                middle=charge.mass,
                high=charge.mass + _TWENTIETH * charge.sd,
            ),
            weighed_kg=charge.weighed,
            weighed_sd_kg=charge.weighed_sd,
            in_hoses_kg=charge.in_hoses,
            in_hoses_sd_kg=charge.in_hoses_sd,
            vented_kg=charge.vented,
            vented_sd_kg=charge.vented_sd,
        )
        if charge is not None
        else None,
        weigh_out=_weigh_out(asked, contents, lost) if asked.want is not None else None,
        charge_limit=limit,
        cylinder=_cylinder(asked.cylinder, fluid) if asked.cylinder is not None else None,
        fractionation=shift,
        fill=_fill(asked.fill, fluid) if asked.fill is not None else None,
    )


def stands_near(asked: CylinderAsked) -> tuple[str, ...]:
    """Refrigerants whose liquid stands at what was read, within twice the errors of both."""
    from sweatline.errors import PhysicsError
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.safety_data import known_names

    found = []
    for name in known_names():
        try:
            fluid = load(name)
            low, high = (
                fluid.saturation_pressure_bubble(asked.temperature + z * asked.temperature_sd)
                for z in (-2.0, 2.0)
            )
        except (JobError, PhysicsError):
            continue
        apart = 2.0 * asked.pressure_sd
        if low - apart <= asked.pressure <= high + apart:
            found.append(name)
    return tuple(found)


def _lost(asked: HoseAsked, fluid: Refrigerant, notes: list[str]) -> list[tuple[float, float]]:
    """Vented, and lost at each change of container."""
    from sweatline.parts.hose import hose_content

    lost = [(asked.vented, asked.vented_sd)]
    changes = max(len(asked.containers) + len(asked.cans) - 1, 0)
    if changes and asked.swap is not None:
        content = hose_content(fluid, asked.swap)
        lost.append((changes * content.mass, changes * content.sd))
    elif changes:
        notes.append(
            f"{changes} {'change' if changes == 1 else 'changes'} of container taken as "
            "lossless: true with a valve at the end of the hose (--swap says what was lost each "
            "time); purge the air each time"
        )
    return lost


def _weigh_out(
    asked: HoseAsked, contents: Sequence[HoseContent], lost: Sequence[tuple[float, float]]
) -> WeighOutRecord:
    import math

    assert asked.want is not None
    over = sum(c.mass for c in contents) + sum(mass for mass, _ in lost)
    weighed = asked.want + over
    readings = 2.0 * max(len(asked.containers), 1)
    return WeighOutRecord(
        want_kg=asked.want,
        weigh_out_kg=weighed,
        sd_kg=math.sqrt(
            readings * asked.scale_step**2 / 12.0
            + (asked.scale_share * weighed) ** 2
            + sum(c.sd for c in contents) ** 2
            + sum(sd**2 for _, sd in lost)
        ),
    )


def _limit(asked: HoseAsked, fluid: Refrigerant, mass: float) -> ChargeLimitRecord | None:
    from sweatline.safety.charge_limits import charge_limit

    if asked.job is None:
        return None
    area = asked.job.room.floor_area
    limit = charge_limit(
        fluid.name,
        installation=asked.job.place.installation,
        floor_area=area.value if area is not None else None,
    )
    if limit.lfl is None:
        return None
    return ChargeLimitRecord(
        limit_kg=limit.allowed,
        mass_kg=mass,
        over=mass > limit.allowed,
        source=limit.source,
        status=limit.status,
    )


def _cylinder(asked: CylinderAsked, fluid: Refrigerant) -> CylinderRecord:
    from sweatline.bench.hoses.cylinder import NCG_LIMIT, fuel_guess, saturation_check
    from sweatline.refrigerant.refrigerant import load

    found = saturation_check(
        fluid,
        pressure=asked.pressure,
        pressure_sd=asked.pressure_sd,
        temperature=asked.temperature,
        temperature_sd=asked.temperature_sd,
    )
    verdict: Literal["as it should be", "above saturation", "below saturation"]
    if found.chance_below > _CLEAR:
        verdict = "below saturation"
    elif found.chance_below < 1.0 - _CLEAR:
        verdict = "above saturation"
    else:
        verdict = "as it should be"
    guess = None
    if asked.fuel:
        guess = fuel_guess(
            pressure=asked.pressure,
            temperature=asked.temperature,
            propane=load("R-290"),
            isobutane=load("R-600a"),
            propylene=load("R-1270"),
        )
    return CylinderRecord(
        pressure_Pa=asked.pressure,
        temperature_K=asked.temperature,
        saturation_Pa=found.saturation,
        excess_Pa=found.excess,
        excess_sd_Pa=found.excess_sd,
        non_condensable_share=found.share,
        non_condensable_sd=found.share_sd,
        chance_over_limit=found.chance_over,
        limit=NCG_LIMIT,
        limit_source="AHRI 700 (PUBLISHED), of the vapour by volume",
        verdict=verdict,
        sees=_SEES,
        blind_to=_BLIND_FUEL + _BLIND[1:2] if asked.fuel else _BLIND,
        propane_with_isobutane=guess.propane_with_isobutane if guess is not None else None,
        propane_with_butane=guess.propane_with_butane if guess is not None else None,
        propylene_with_propane=guess.propylene_with_propane if guess is not None else None,
        glide_K=guess.glide if guess is not None else None,
    )


def _shift(
    asked: HoseAsked, fluid: Refrigerant, share: float, notes: list[str]
) -> FractionationRecord | None:
    from sweatline.bench.hoses.fractionation import fractionation

    found = fractionation(fluid, temperature=asked.temperature, taken_share=share)
    if found is None:
        notes.append("one component only: vapour and liquid are the same")
        return None
    return FractionationRecord(
        taken_share=share,
        light=found.light,
        nominal_mass_share=found.nominal,
        taken_mass_share=found.taken,
        left_mass_share=found.left,
        bound=found.bound,
        bubble_rise_share=found.pressure_ratio - 1.0,
    )


def _fill(asked: FillAsked, fluid: Refrigerant) -> FillRecord:
    from sweatline.bench.hoses.cylinder import largest_fill, liquid_full_temperature

    most = largest_fill(fluid, volume=asked.volume, temperature=asked.temperature)
    full = None
    if asked.mass is not None:
        full = liquid_full_temperature(fluid, mass=asked.mass, volume=asked.volume)
    return FillRecord(
        volume_m3=asked.volume,
        temperature_K=asked.temperature,
        most_kg=most,
        asked_kg=asked.mass,
        too_much=asked.mass is not None and asked.mass > most,
        liquid_full_K=full,
    )
