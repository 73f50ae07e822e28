"""Verdicts that follow from charge, oil and pressures at rest, without another balance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sweatline.assembly.assemble import WorkingLimits
from sweatline.assembly.build import Build
from sweatline.design.verdict import Fact, State, Verdict
from sweatline.machine.balance import SteadyState
from sweatline.refrigerant.safety_data import sourced
from sweatline.refrigerant.table import bubble_pressure
from sweatline.safety.charge_limits import charge_limit, room_concentration
from sweatline.safety.regulations import conversion_gate
from sweatline.safety.reused_parts import oil_verdict
from sweatline.safety.start_gear import start_verdict, voltage_verdict

# Warmest place in which a machine is carried or stored; the low side sees saturation there.
HOTTEST_STORE = 316.15  # K (43 C, the warmest design ambient of EN 378-2, MEMORY high)

# Temperature at which a missing low-side limit is inferred from the original refrigerant.
DESIGN_STORE = 299.85  # K (26.7 C, least low-side design temperature of ASHRAE 15, MEMORY medium)


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticLimit:
    """A limit that the charge of every trial run is held against."""

    key: str
    margin: Callable[[SteadyState, WorkingLimits], float]  # positive is the fault


def static_limits(build: Build) -> list[StaticLimit]:
    """Limits of :func:`static_verdicts` that vary from trial run to trial run, as rooms do."""
    name = build.refrigerant.name
    found = []

    def over_limit(balance: SteadyState, limits: WorkingLimits) -> float:
        allowed = charge_limit(
            name, installation=build.job.place.installation, floor_area=limits.floor_area
        ).allowed
        return balance.charge - allowed

    def concentrated(balance: SteadyState, limits: WorkingLimits) -> float:
        assert limits.room_volume is not None
        leak = room_concentration(name, charge=balance.charge, room_volume=limits.room_volume)
        return leak.concentration - leak.limit if leak.limit is not None else -1.0

    limit = charge_limit(
        name, installation=build.job.place.installation, floor_area=build.limits().floor_area
    )
    if limit.lfl is not None:
        found.append(StaticLimit(key="flammable_charge", margin=over_limit))
    if build.job.room.volume is not None:
        found.append(StaticLimit(key="concentration", margin=concentrated))
    return found


def static_verdicts(build: Build, balance: SteadyState) -> list[Verdict]:
    """Charge limit, concentration, conversion, oil, pressure at rest, start, supply."""
    return [
        *_flammable(build, balance),
        *_concentration(build, balance),
        *_conversion(build),
        *_at_rest(build),
        _oil(build),
        *_tube(build),
        *_start(build, balance),
        *_supply(build),
    ]


def _flammable(build: Build, balance: SteadyState) -> list[Verdict]:
    job = build.job
    area = job.room.floor_area
    limit = charge_limit(
        build.refrigerant.name,
        installation=job.place.installation,
        floor_area=area.value if area is not None else None,
    )
    if limit.lfl is None:
        return []
    too_much = balance.charge > limit.allowed
    return [
        Verdict(
            key="flammable_charge",
            fault="flammable charge above the room's limit",
            state="fails" if too_much else "holds",
            number=balance.charge,
            limit=limit.allowed,
            kind="mass",
            source=sourced(limit.source, limit.status),
            facts=()
            if area is None
            else (Fact(label="floor area", value=area.value, kind="area"),),
            sentence=f"charge of class {limit.safety_class} {build.refrigerant.name} in "
            + ("this room. " if area is not None else "a room of unknown area. ")
            + " ".join(limit.statements),
            safety=True,
            final=True,
        )
    ]


def _concentration(build: Build, balance: SteadyState) -> list[Verdict]:
    volume = build.job.room.volume
    if volume is None:
        return []
    found = room_concentration(
        build.refrigerant.name, charge=balance.charge, room_volume=volume.value
    )
    if found.limit is None:
        return []
    return [
        Verdict(
            key="concentration",
            fault="a leak would exceed the concentration limit",
            state="fails" if found.concentration > found.limit else "holds",
            number=found.concentration,
            limit=found.limit,
            kind="concentration",
            source=sourced(found.limit_source, found.limit_status),
            facts=(Fact(label="room volume", value=volume.value, kind="room volume"),),
            sentence="whole charge leaked into the room, against the refrigerant's limit",
            safety=True,
            final=True,
        )
    ]


def _conversion(build: Build) -> list[Verdict]:
    gate = conversion_gate(
        build.refrigerant.name,
        built_for=build.job.original.refrigerant,
        country=build.job.place.country,
        accepted=build.job.place.flammable_conversion == "accepted",
    )
    if not gate.reason:
        return []
    sentence = gate.reason
    if gate.stop and not gate.barred:
        sentence += (
            " To go on, read the rules of the country and the cautions, and write "
            'flammable_conversion = "accepted" under [place] in the job.'
        )
    return [
        Verdict(
            key="conversion",
            fault="flammable refrigerant in a machine not built for it",
            state="fails" if gate.stop else "note",
            source=sourced(gate.rule.source, gate.rule.status) if gate.rule else "local code",
            sentence=sentence,
            safety=True,
            final=gate.stop,
        )
    ]


def _at_rest(build: Build) -> list[Verdict]:
    limit = build.job.limits.low_side_pressure
    table = build.refrigerant.table
    if limit is None:
        return []
    # A limit from the plate must hold in the hottest store. One inferred from the original
    # refrigerant is a saturation pressure itself, and like is compared with like.
    from_plate = limit.origin != "default"
    warmest = HOTTEST_STORE if from_plate else DESIGN_STORE
    rest = float(bubble_pressure(table, min(warmest, 0.98 * table.t_crit)))
    return [
        Verdict(
            key="pressure_at_rest",
            fault="standing pressure too high",
            state="note" if rest > limit.value else "holds",
            number=rest,
            limit=limit.value,
            kind="pressure",
            source=limit.note or "limits in the job",
            sentence="low side of the machine at rest in a hot store, if liquid remains (a small "
            "charge evaporates below that pressure)"
            if from_plate
            else "saturation of the new refrigerant against that of the old at the same design "
            "temperature",
            safety=True,
        )
    ]


def _oil(build: Build) -> Verdict:
    found = oil_verdict(build.compressor.oil, build.refrigerant.name)
    state: State = "holds"
    if found.verdict == "wrong":
        state = "fails"
    elif found.verdict == "marginal":
        state = "note"
    return Verdict(
        key="oil",
        fault="wrong oil",
        state=state,
        source=sourced(found.source, found.status),
        sentence=found.sentence,
    )


# Below some three hundred bores a tube is an orifice: the liquid leaves it before it has flashed,
# its flow depends on the entrance, and a millimetre of length decides (common practice).
_SHORTEST_BORES = 300.0


def _tube(build: Build) -> list[Verdict]:
    bore = build.capillary.bore.value
    stock = build.capillary.length
    found = []
    if build.length < _SHORTEST_BORES * bore:
        found.append(
            Verdict(
                key="short_tube",
                fault="too short for a capillary",
                state="fails",
                number=build.length,
                limit=_SHORTEST_BORES * bore,
                kind="length",
                source="common practice: a capillary is at least three hundred bores long",
                sentence="so short a tube cannot be cut closely enough; take a wider bore",
            )
        )
    if build.cut and stock is not None and build.length > stock.value:
        found.append(
            Verdict(
                key="stock",
                fault="not enough tube on the shelf",
                state="fails",
                number=build.length,
                limit=stock.value,
                kind="length",
                source="the job",
                sentence="length wanted against the length on the shelf; take a narrower bore",
            )
        )
    return found


def _start(build: Build, balance: SteadyState) -> list[Verdict]:
    found = start_verdict(
        starting_torque=build.compressor.starting_torque,
        difference=balance.discharge_pressure - balance.suction_pressure,
    )
    if found.verdict == "ok":
        return []
    return [
        Verdict(
            key="start",
            fault="will not start against pressure",
            state="note",
            number=balance.discharge_pressure - balance.suction_pressure,
            kind="pressure difference",
            source=sourced(found.source, found.status),
            sentence=found.sentence,
        )
    ]


def _supply(build: Build) -> list[Verdict]:
    plate = build.compressor.rated_voltage
    found = []
    if plate is not None:
        v = voltage_verdict(supply=build.job.supply.voltage.value, plate=plate)
        if not v.holds:
            found.append(
                Verdict(
                    key="voltage",
                    fault="wrong voltage",
                    state="fails",
                    number=build.job.supply.voltage.value,
                    limit=plate,
                    kind="voltage",
                    source=sourced("the motor's plate and its usual tolerance", v.status),
                    sentence=v.sentence,
                    safety=True,
                    final=True,
                )
            )
    mains = build.job.supply.frequency.value
    if abs(mains - build.compressor.rated_frequency) > 1.0:
        found.append(
            Verdict(
                key="frequency",
                fault="other line frequency",
                state="note",
                number=mains,
                limit=build.compressor.rated_frequency,
                kind="frequency",
                source="common practice",
                sentence="the motor runs at the speed of this mains, not of its plate; its "
                "voltage must change in the same proportion",
            )
        )
    return found
