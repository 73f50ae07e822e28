"""Does the machine do what it should? Readings and water against the model, and other rooms.

What it should do: the parts of the job, each uncertain number varied, charged in the job's room to
the superheat that the job wants, within a few per cent of the charge, and moved to the room in
which it was read. Each reading is held against what the trial runs would have shown on these
instruments. The machine calibrated to the readings (:mod:`sweatline.uncertainty.posterior`) is then
carried to the rooms of the test procedures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Q, Range, ask, range_of
from sweatline.assembly.build import Parts, build_for, choose
from sweatline.bench.answer import BenchAnswer
from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.heat import Balance, Gap, HeatBalance, heat_flows
from sweatline.bench.proof.observables import HUMIDITY_SD, OBSERVABLES
from sweatline.bench.proof.proved_machine import ProvedMachine, RatedRoom, Run
from sweatline.bench.proof.steadiness import AFTER_CHANGE, Steadiness
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.design.verdicts import cautions_clear
from sweatline.errors import JobError, SolveError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.machine.circuit import SERIES
from sweatline.refrigerant.table import saturation
from sweatline.safety.cautions import cautions_of
from sweatline.units import Kind

FloatArray = NDArray[np.float64]

NOT_CERTIFIED: Final = (
    "This is no certified rating: one machine, one room, instruments of a workshop, carried by a "
    "model"
)
_SAMPLES: Final = 128
_ROOM_SD: Final = 0.5  # K, a thermometer in the air drawn in (common practice)
_TOGETHER: Final = 0.02  # chance below which the readings do not belong to this build
_LATENT_WATER: Final = 1e-9  # kg/s below which no water is judged


def _quantity(help: str, kind: Kind, low: float, high: float, **more: Any) -> Any:  # noqa: A002
    return ask(help, kind, low, high, error=0.0, **more)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofRequest:
    """Readings of the running machine, all of one time; ± states an instrument's error."""

    atmosphere: float = STANDARD_ATMOSPHERE  # Pa
    job: Job | None = None
    compressor: str | None = ask("Of the job, by name or number.", metavar="NAME")
    refrigerant: str | None = ask(
        "In the machine, if the job lists several.", metavar="NAME", taken="refrigerant"
    )
    capillary: str | None = ask("Of the job, by name or number.", metavar="NAME")
    length: float | None = ask("Of the capillary.", "length", 0.05, 50.0, metavar="LENGTH")
    bucket: Bucket | None = ask(
        'Water that ran off, as "0.7 L in 2 h", "25 oz in 2 h" or "a cup in 40 min".',
        metavar="WATER", divider=" in ", example="0.7 L in 2 h", option="water",
        label="water in the bucket", taken="water",
    )  # fmt: skip
    room_temperature: float | None = _quantity(
        "Of the air drawn in, while all this was read; else the job's.", "temperature",
        263.15, 323.15, metavar="T", option="air-in", label="air in", taken="air in",
    )  # fmt: skip
    room_temperature_sd: float | None = None  # K
    room_humidity: float | None = _quantity(
        "Of the air drawn in; else the job's.", "relative humidity", 0.05, 1.0, metavar="RH",
        taken="room humidity",
    )  # fmt: skip
    room_humidity_sd: float | None = None
    suction: float | None = _quantity(
        "Low side, while it runs.", "pressure", 2e4, 3e6, metavar="P", option="suction-gauge",
        label="suction gauge", taken="suction gauge",
    )  # fmt: skip
    suction_sd: float | None = None  # Pa
    head: float | None = _quantity(
        "High side, while it runs.", "pressure", 1.2e5, 6e6, metavar="P", option="head-gauge",
        label="head gauge", taken="head gauge",
    )  # fmt: skip
    head_sd: float | None = None  # Pa
    suction_gas: float | None = _quantity(
        "Tube at the evaporator's outlet: superheat.", "temperature", 223.15, 343.15,
        metavar="T", taken="suction gas",
    )  # fmt: skip
    suction_gas_sd: float | None = None  # K
    return_gas: float | None = _quantity(
        "Suction tube at the compressor.", "temperature", 223.15, 343.15, metavar="T",
        taken="return gas",
    )  # fmt: skip
    return_gas_sd: float | None = None  # K
    discharge_gas: float | None = _quantity(
        "Discharge tube at the compressor.", "temperature", 273.15, 433.15, metavar="T",
        taken="discharge gas",
    )  # fmt: skip
    discharge_gas_sd: float | None = None  # K
    liquid_line: float | None = _quantity(
        "Tube behind the condenser: subcooling.", "temperature", 253.15, 353.15, metavar="T",
        taken="liquid line",
    )  # fmt: skip
    liquid_line_sd: float | None = None  # K
    coil: float | None = _quantity(
        "Coldest place of the evaporator's fins.", "temperature", 233.15, 323.15, metavar="T",
        taken="coil",
    )  # fmt: skip
    coil_sd: float | None = None  # K
    air_between: float | None = _quantity(
        "Air behind the evaporator.", "temperature", 243.15, 323.15, metavar="T",
        taken="air between",
    )  # fmt: skip
    air_between_sd: float | None = None  # K
    air_out: float | None = _quantity(
        "Air that leaves the machine.", "temperature", 253.15, 343.15, metavar="T",
        taken="air out",
    )  # fmt: skip
    air_out_sd: float | None = None  # K
    air_out_humidity: float | None = _quantity(
        "Of the air that leaves the machine.", "relative humidity", 0.02, 1.0, metavar="RH",
        taken="air out humidity",
    )  # fmt: skip
    air_out_humidity_sd: float | None = None
    airflow: float | None = _quantity(
        "Through the evaporator, measured.", "volume flow", 1e-3, 3.0, metavar="V",
    )  # fmt: skip
    airflow_sd: float | None = None  # m3/s
    watts: float | None = _quantity(
        "Of the whole machine, at the plug.", "power", 10.0, 2e4, metavar="W", taken="watts"
    )
    watts_sd: float | None = None  # W
    energy: float | None = _quantity(
        "By a plug-in meter over the time of the bucket, in place of watts.", "energy",
        1e3, 1e10, metavar="E",
    )  # fmt: skip
    energy_sd: float | None = None  # J
    stood_still: float | None = ask(
        "How long the readings have stood still, where no log shows it.", "time", 0.0, 1e6,
        metavar="TIME", label="stood still for",
    )  # fmt: skip
    # s
    steadiness: Steadiness | None = None  # as a log shows it
    draws: int = ask(
        "Trial runs behind the ranges.", low=16, high=4096, default=_SAMPLES, label="trial runs"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged(Answer):
    """One quantity as read, against what this build should show. SI, in the unit of its kind."""

    what: str
    kind: Kind
    read_SI: Range
    """Likely range (9 in 10) by the errors of the instruments."""
    expected_SI: Range
    """What these instruments would show of such a machine, likely range (9 in 10)."""
    verdict: Literal["inside", "below", "above"]


Outcome = Literal["passes", "fails", "look", "does not count"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofAnswer(BenchAnswer):
    """What the machine does, each with its range, and whether that is what it should do."""

    parts: Parts
    verdict: Outcome
    reason: str
    steadiness: Steadiness
    room_temperature: Annotated[float, Q("temperature", "room")]
    room_humidity: Annotated[float, Q("relative humidity", "room humidity", digits=2)]
    superheat: Annotated[
        Range | None, Q("temperature difference", "superheat, evaporator outlet", digits=2)
    ]
    superheat_at_compressor: Annotated[
        Range | None, Q("temperature difference", "superheat at the compressor", digits=2)
    ]
    subcooling: Annotated[Range | None, Q("temperature difference", "subcooling", digits=2)]
    water: Annotated[Range | None, Q("water removal", "water", digits=2)]
    power: Annotated[Range | None, Q("power", "watts with the fan")]
    water_per_energy: Annotated[Range | None, Q("water per energy", "water per energy", digits=2)]
    heat: HeatBalance
    judged: tuple[Judged, ...]
    """Each quantity that was read, against this build."""
    chance_together: float | None
    """Of readings at least so far off together, from a machine that is as described; null where
    fewer than two were read."""
    rooms: tuple[RatedRoom, ...]
    """As calibrated to these readings; no certified rating. Empty where it does not count."""
    draws: int
    """Trial runs."""


def prove(request: ProofRequest) -> ProofAnswer:
    """Hold the readings against what this build should do, and carry it to other rooms.

    Raises
    ------
    JobError
        Nothing was read, readings that contradict one another, or parts that were not named; the
        field names the question.
    SolveError
        These parts have no balance in the room in which they were read.
    """
    if request.job is None:
        raise JobError(what="a proof is about the machine of a job", field="job")
    job = request.job
    asked, notes = _completed(request, job)
    read, sds = _readings(asked)
    i, name, j = choose(
        job, compressor=asked.compressor, refrigerant=asked.refrigerant,
        capillary=asked.capillary,
    )  # fmt: skip
    build = build_for(job, compressor=i, refrigerant=name, capillary=j, length=asked.length)
    table = build.refrigerant.table
    _plausible(read, table)
    room, room_sd = _room(asked)
    machine = ProvedMachine(build=build, room=room, room_sd=room_sd, read=read, sds=sds)
    runs = machine.trials(asked.draws)
    shown = np.array([run.shown for run in runs if run.balance is not None])
    if len(shown) < asked.draws // 2:
        raise SolveError(condition="hardly any of the trial runs has a balance in this room")
    measured = _measured(machine, runs)
    judged = _judged(machine, runs, measured)
    steadiness = _steadiness(asked)
    together = machine.together(shown)
    verdict, reason = _verdict(judged, steadiness, together)
    if steadiness.verdict == "not shown":
        reason += "; nothing shows yet that the readings stood still"
    rooms: tuple[RatedRoom, ...] = ()
    if verdict != "does not count" and build.machine.air.arrangement == SERIES:
        rooms = machine.rated(max(asked.draws // 2, 16))
        notes.append(NOT_CERTIFIED)
        if together is not None and together < _TOGETHER:
            notes.append(
                "the readings do not belong to the build as described: what is carried to other "
                "rooms is less sure than its range says"
            )
    weighed = machine.nominal.charge
    return ProofAnswer(
        job=summary_of(job),
        cautions=cautions_of([name], work={"running"}, clear=cautions_clear(build, weighed)),
        notes=tuple(notes),
        atmospheric_pressure=asked.atmosphere,
        parts=build.parts,
        verdict=verdict,
        reason=reason,
        steadiness=steadiness,
        room_temperature=machine.room[0],
        room_humidity=machine.room[1],
        heat=_balance(machine, runs),
        judged=judged,
        chance_together=together,
        rooms=rooms,
        draws=len(runs),
        superheat=measured.get("superheat"),
        superheat_at_compressor=measured.get("superheat_at_compressor"),
        subcooling=measured.get("subcooling"),
        water=measured.get("water"),
        water_per_energy=measured.get("water_per_energy"),
        power=measured.get("watts"),
    )  # fmt: skip


def _completed(request: ProofRequest, job: Job) -> tuple[ProofRequest, list[str]]:
    """The request with room and watts, and what that rests on."""
    notes: list[str] = []
    room = job.room
    asked = request
    if asked.room_temperature is None or asked.room_humidity is None:
        lacks = [
            what
            for what, value in (
                ("temperature", asked.room_temperature), ("humidity", asked.room_humidity)
            )
            if value is None
        ]  # fmt: skip
        notes.append(f"nobody read the room's {' and '.join(lacks)}: that of the job is taken")
    if asked.room_temperature is None:
        asked = replace(
            asked, room_temperature=room.temperature.value,
            room_temperature_sd=max(room.temperature.sd, _ROOM_SD),
        )  # fmt: skip
    if asked.room_humidity is None:
        asked = replace(
            asked, room_humidity=room.relative_humidity.value,
            room_humidity_sd=max(room.relative_humidity.sd, HUMIDITY_SD),
        )  # fmt: skip
    if asked.energy is not None:
        if asked.bucket is None:
            raise JobError(
                what="an energy says something only with the time in which it was used",
                allowed="give the water with its time, or watts", field="energy",
            )  # fmt: skip
        if asked.watts is not None:
            raise JobError(
                what="watts and energy say the same twice", allowed="give one", field="energy"
            )
        time = asked.bucket.time
        sd = None if asked.energy_sd is None else asked.energy_sd / time
        asked = replace(asked, watts=asked.energy / time, watts_sd=sd)
    return asked, notes


def _readings(asked: ProofRequest) -> tuple[dict[str, float], dict[str, float]]:
    """What was read, and its standard errors, by the field."""
    read: dict[str, float] = {}
    sds: dict[str, float] = {}
    for o in OBSERVABLES:
        if o.field == "water":
            if asked.bucket is not None:
                read["water"], sds["water"] = asked.bucket.rate, asked.bucket.rate_sd
            continue
        value = getattr(asked, o.field)
        if value is None:
            continue
        stated = getattr(asked, f"{o.field}_sd")
        usual = o.sd * abs(value) if o.relative else o.sd
        read[o.field] = value
        sds[o.field] = max(usual if stated is None else stated, 1e-6 * abs(value))
    if not read:
        raise JobError(
            what="nothing of the machine was read",
            allowed="water in a bucket with its time, watts, gauges or thermometers",
            field="bucket",
        )
    return read, sds


def _room(asked: ProofRequest) -> tuple[tuple[float, float], tuple[float, float]]:
    """Temperature and humidity of the room, and their standard errors. [K], [0..1]"""
    t, rh = asked.room_temperature, asked.room_humidity
    assert t is not None
    assert rh is not None
    t_sd, rh_sd = asked.room_temperature_sd, asked.room_humidity_sd
    return (t, rh), (
        _ROOM_SD if t_sd is None else t_sd,
        HUMIDITY_SD if rh_sd is None else rh_sd,
    )


def _plausible(read: Mapping[str, float], table: Any) -> None:
    """Refuse readings that contradict one another beyond any instrument."""
    if {"suction", "head"} <= read.keys() and read["suction"] >= read["head"]:
        raise JobError(
            what="the suction gauge is not below the head gauge",
            allowed="is the machine running, are the hoses swapped?", field="suction, head",
        )  # fmt: skip
    for gas, liquid in (("return_gas", "discharge_gas"), ("suction_gas", "discharge_gas")):
        if {gas, liquid} <= read.keys() and read[gas] >= read[liquid]:
            raise JobError(
                what="the suction line is not colder than the discharge line",
                allowed="are the two thermometers swapped?", field=f"{gas}, {liquid}",
            )  # fmt: skip
    for name in ("suction", "head"):
        if name in read and not table.p_min < read[name] < table.p_max:
            raise JobError(
                what="outside the table of this refrigerant",
                allowed="is it the right gauge, and the right refrigerant?", field=name,
            )  # fmt: skip


def _derived(read: Mapping[str, float], table: Any) -> dict[str, float]:
    """Superheat, subcooling and water per energy from readings."""
    found: dict[str, float] = {}
    if "suction" in read:
        dew = saturation(table, read["suction"])[1]
        if "suction_gas" in read:
            found["superheat"] = read["suction_gas"] - dew
        if "return_gas" in read:
            found["superheat_at_compressor"] = read["return_gas"] - dew
    if {"head", "liquid_line"} <= read.keys():
        found["subcooling"] = saturation(table, read["head"])[0] - read["liquid_line"]
    if {"water", "watts"} <= read.keys():
        found["water_per_energy"] = read["water"] / read["watts"]
    return found


_DERIVED: Final[Mapping[str, tuple[str, Kind]]] = {
    "superheat": ("superheat", "temperature difference"),
    "subcooling": ("subcooling", "temperature difference"),
    "water_per_energy": ("water per energy", "water per energy"),
}


def _about(machine: ProvedMachine, noise: Mapping[str, float]) -> dict[str, float]:
    """The readings with errors of the instruments."""
    return {name: value + machine.sds[name] * noise[name] for name, value in machine.read.items()}


def _around(middle: float, samples: Sequence[float]) -> Range:
    """Range of samples about a value that is known by itself."""
    found = range_of(samples)
    return Range(low=found.low, middle=middle, high=found.high)


def _measured(machine: ProvedMachine, runs: Sequence[Run]) -> dict[str, Range]:
    """Each reading and what follows from it, with the range by the errors of the instruments."""
    table = machine.build.refrigerant.table
    exact = {**machine.read, **_derived(machine.read, table)}
    spread = [_about(machine, run.noise) for run in runs]
    every = [{**one, **_derived(one, table)} for one in spread]
    return {name: _around(value, [one[name] for one in every]) for name, value in exact.items()}


def _judged(
    machine: ProvedMachine, runs: Sequence[Run], measured: Mapping[str, Range]
) -> tuple[Judged, ...]:
    """Every quantity that was read, against what the trial runs would have shown."""
    table = machine.build.refrigerant.table
    fields = [o.field for o in machine.observed]
    shown = [dict(zip(fields, run.shown, strict=True)) for run in runs if run.balance is not None]
    shown = [{**one, **_derived(one, table)} for one in shown]
    told: list[tuple[str, str, Kind]] = [
        (o.field, o.label, o.kind) for o in machine.observed if o.judged
    ]
    told += [(name, label, kind) for name, (label, kind) in _DERIVED.items() if name in measured]
    found = []
    for name, label, kind in told:
        expected = range_of([float(one[name]) for one in shown])
        read = measured[name]
        if name == "water" and expected.high < _LATENT_WATER:
            continue
        verdict: Literal["inside", "below", "above"] = "inside"
        if read.middle < expected.low:
            verdict = "below"
        elif read.middle > expected.high:
            verdict = "above"
        found.append(
            Judged(what=label, kind=kind, read_SI=read, expected_SI=expected, verdict=verdict)
        )
    return tuple(found)


def _balance(machine: ProvedMachine, runs: Sequence[Run]) -> HeatBalance:
    """The heat balance of the readings, with the errors of instruments and compressor."""
    table = machine.build.refrigerant.table
    names = [n for n in HeatBalance.__dataclass_fields__ if n != "gaps"]
    room = dict(zip(("room_temperature", "room_humidity"), machine.room, strict=True))
    exact = heat_flows({**machine.read, **room}, machine.build.machine, table, machine.pressure)
    every = []
    for run in runs:
        moved = {
            name: room[name] + sd * run.noise[name]
            for name, sd in zip(room, machine.room_sd, strict=True)
        }
        moved["room_humidity"] = min(max(moved["room_humidity"], 0.02), 1.0)
        read = {**_about(machine, run.noise), **moved}
        every.append(heat_flows(read, run.machine, table, machine.pressure))
    pairs: tuple[tuple[Balance, str, str], ...] = (
        ("cooling", "cooling", "cooling_by_air"),
        ("heat to the air", "released", "released_by_air"),
        ("airflow", "airflow", "airflow_by_watts"),
    )
    gaps = [
        Gap(what=what, gap=gap, closes=gap.low <= 0.0 <= gap.high)
        for what, a, b in pairs
        if {a, b} <= exact.keys()
        for gap in (_gap([exact, *every], a, b),)
    ]
    if "water_by_air" in exact and "water" in machine.read:
        every_water = [
            {**one, "water": _about(machine, run.noise)["water"]}
            for one, run in zip(every, runs, strict=True)
        ]
        gap = _gap(
            [{**exact, "water": machine.read["water"]}, *every_water], "water", "water_by_air"
        )
        gaps.append(Gap(what="water", gap=gap, closes=gap.low <= 0.0 <= gap.high))
    return HeatBalance(
        gaps=tuple(gaps),
        **{
            name: _around(exact[name], [one[name] for one in every]) if name in exact else None
            for name in names
        },
    )


def _gap(found: Sequence[Mapping[str, float]], first: str, second: str) -> Range:
    """First less second over the first: of the exact readings, then of those with errors."""
    middle, *others = ((one[first] - one[second]) / one[first] for one in found)
    return _around(middle, others)


def _steadiness(asked: ProofRequest) -> Steadiness:
    """As the log shows it, or as the person says it."""
    if asked.steadiness is not None:
        return asked.steadiness
    if asked.stood_still is None:
        return Steadiness(
            verdict="not shown", duration=0.0,
            reason="one look does not show that the readings stood still",
        )  # fmt: skip
    enough = asked.stood_still >= AFTER_CHANGE
    return Steadiness(
        verdict="steady" if enough else "not steady",
        duration=asked.stood_still,
        reason="they stood still, as you say"
        if enough
        else "readings count after a quarter of an hour in which none of them moves",
    )


_TASK: Final = ("water", "water per energy")


def _verdict(
    judged: Sequence[Judged], steadiness: Steadiness, together: float | None
) -> tuple[Outcome, str]:
    """Pass or fail, and why."""
    if steadiness.verdict == "not steady":
        return "does not count", steadiness.reason
    below = [one for one in judged if one.what in _TASK and one.verdict == "below"]
    named = " and ".join(one.what for one in below)
    outside = [f"{one.what} {one.verdict}" for one in judged if one.verdict != "inside"]
    # One healthy build in ten lies a little below, so it fails only with all of its own range.
    if any(one.read_SI.high < one.expected_SI.low for one in below):
        return "fails", f"{named} below the likely range, and more than the instruments explain"
    if below:
        return "look", f"{named} a little below the likely range: measure once more, and longer"
    if together is not None and together < _TOGETHER:
        told = ", ".join(outside) or "each inside its range, but not all of them together"
        return "look", f"the readings do not belong to this build: {told}"
    if not any(one.what == "water" for one in judged):
        return "look", "without water in a bucket it cannot pass; what was read is inside" if (
            not outside
        ) else f"without water in a bucket it cannot pass; outside: {', '.join(outside)}"
    if outside:
        return "passes", f"outside its likely range: {', '.join(outside)}"
    return "passes", "everything that was read lies inside its likely range"
