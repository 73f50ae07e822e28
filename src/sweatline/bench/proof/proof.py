"""Does the machine do what it should? Readings and water against the model, and other rooms.

What it should do: the parts of the job, each uncertain number varied, charged in the job's room to
the superheat that the job wants, within a few per cent of the charge, and moved to the room in
which it was read. Each reading is held against what the trial runs would have shown on these
instruments. The machine calibrated to the readings (:mod:`sweatline.uncertainty.posterior`) is then
carried to the rooms of the test procedures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.answers import Answer, Q, Range, ask, range_of
from sweatline.assembly.build import Build, Parts, build_for, choose
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.bench.answer import BenchAnswer
from sweatline.bench.proof.bucket import Bucket
from sweatline.bench.proof.heat import Balance, Gap, HeatBalance, heat_flows
from sweatline.bench.proof.observables import HUMIDITY_SD, OBSERVABLES, Observable
from sweatline.bench.proof.steadiness import AFTER_CHANGE, Steadiness
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.design.verdicts import cautions_clear
from sweatline.errors import JobError, SolveError
from sweatline.job.explanation import summary_of
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.circuit import SERIES, MachineParameters
from sweatline.machine.room_map import in_room
from sweatline.refrigerant.table import saturation
from sweatline.safety.cautions import cautions_of
from sweatline.uncertainty.posterior import most_probable
from sweatline.uncertainty.sensitivity import normal_samples
from sweatline.units import Kind

FloatArray = NDArray[np.float64]

NOT_CERTIFIED: Final = (
    "This is no certified rating: one machine, one room, instruments of a workshop, carried by a "
    "model"
)
_SAMPLES: Final = 128
_CHARGED_SD: Final = 0.05  # how near to the wanted charge it is charged: 19 in 20 within a tenth
_ROOM_SD: Final = 0.5  # K, a thermometer in the air drawn in (common practice)
_TOGETHER: Final = 0.02  # chance below which the readings do not belong to this build
_FITS: Final = 2  # times that a sampled machine is fitted anew where it then is
_OWN: Final = 3  # charge, temperature and humidity of the room, behind the build's parameters
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


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedRoom(Answer):
    """The machine as it is now, in a room of a test procedure."""

    name: str
    temperature: Annotated[float, Q("temperature", "room")]
    relative_humidity: Annotated[float, Q("relative humidity", "", digits=2)]
    water: Annotated[Range, Q("water removal", "water", digits=2)]
    power: Annotated[Range, Q("power", "watts with the fan")]
    water_per_energy: Annotated[Range, Q("water per energy", "water per energy", digits=2)]
    freezes: bool
    """The coil is below freezing there: frost will take water from this."""


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


# Rooms of test procedures. 65 and 80 °F, 60 %RH: federal appendices X1 and X (PUBLISHED);
# 30 °C, 80 %RH: European trade rating (PUBLISHED); 27 °C, 60 %RH: East Asian (MEMORY 0.75).
RATING_ROOMS: Final = (
    ("US test, portable", 291.483, 0.60),
    ("US test before 2019", 299.817, 0.60),
    ("European trade rating", 303.15, 0.80),
    ("East Asian rating", 300.15, 0.60),
)


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
    _plausible(read, table, asked)
    machine = _Proved(build=build, request=asked, read=read, sds=sds)
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


def _plausible(read: Mapping[str, float], table: Any, asked: ProofRequest) -> None:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """One trial run in the room in which it was read."""

    machine: MachineParameters
    balance: SteadyState | None
    shown: FloatArray  # what the instruments would show, in the order of the readings
    noise: Mapping[str, float]  # of each instrument, in standard deviations


@dataclass(slots=True, kw_only=True)
class _Proved:
    """The build in the room in which it was read, as a function of what is uncertain.

    Parameters
    ----------
    read, sds : mapping
        What was read, and its standard errors, by the field. [SI]
    """

    build: Build
    request: ProofRequest
    read: Mapping[str, float]
    sds: Mapping[str, float]
    observed: tuple[Observable, ...] = ()
    nominal: SteadyState = field(init=False)
    there: SteadyState = field(init=False)

    def __post_init__(self) -> None:
        self.observed = tuple(o for o in OBSERVABLES if o.field in self.read)
        target = filled(superheat=self.build.job.targets.superheat)
        self.nominal = self.build.solve(target, near=self.build.designed)
        moved = in_room(self.build.machine, *self.room, self.pressure)
        self.there = solve(
            self.build.refrigerant.table, self.build.line, moved,
            fixed_charge(self.nominal.charge), near=self.nominal,
        )  # fmt: skip

    @property
    def pressure(self) -> float:
        """Atmospheric. [Pa]"""
        return self.build.job.place.atmospheric_pressure

    @property
    def room(self) -> tuple[float, float]:
        """Temperature and humidity as read. [K], [0..1]"""
        t, rh = self.request.room_temperature, self.request.room_humidity
        assert t is not None
        assert rh is not None
        return t, rh

    @property
    def room_sd(self) -> tuple[float, float]:
        """Their standard errors. [K], [0..1]"""
        t, rh = self.request.room_temperature_sd, self.request.room_humidity_sd
        return (_ROOM_SD if t is None else t, HUMIDITY_SD if rh is None else rh)

    @property
    def dimensions(self) -> int:
        """Of everything uncertain but the instruments."""
        return len(self.build.parameters) + _OWN

    def charged(self, z: FloatArray) -> tuple[MachineParameters, Any, float] | None:
        """Machine, line of the air and charge at `z`; None where it cannot be charged."""
        n = len(self.build.parameters)
        machine, line = self.build.moved(self.build.by_key(z[:n]))
        target = filled(superheat=self.build.job.targets.superheat)
        try:
            full = solve(
                self.build.refrigerant.table, line, machine, target, near=self.nominal,
                tolerance=TRIAL_TOLERANCE,
            )  # fmt: skip
        except SolveError:
            return None
        return machine, line, full.charge * math.exp(_CHARGED_SD * z[n])

    def state(self, z: FloatArray) -> tuple[MachineParameters, SteadyState] | None:
        """Machine and steady state in the room at `z`; None where there is none."""
        found = self.charged(z)
        if found is None:
            return None
        machine, line, charge = found
        t, rh = (
            value + sd * float(off)
            for value, sd, off in zip(self.room, self.room_sd, z[-2:], strict=True)
        )
        moved = in_room(machine, t, min(max(rh, 0.02), 1.0), self.pressure)
        try:
            balance = solve(
                self.build.refrigerant.table, line, moved, fixed_charge(charge),
                near=self.there, tolerance=TRIAL_TOLERANCE,
            )  # fmt: skip
        except SolveError:
            return None
        return moved, balance

    def predict(self, z: FloatArray) -> FloatArray | None:
        """What exact instruments would show at `z`. [SI]"""
        found = self.state(z)
        return None if found is None else self.shown(*found)

    def shown(self, machine: MachineParameters, balance: SteadyState) -> FloatArray:
        """What exact instruments show of a steady state. [SI]"""
        return np.array([o.shown(balance, machine, self.pressure) for o in self.observed])

    def trials(self, count: int) -> list[_Run]:
        """Trial runs, each read with instruments of its own."""
        n = self.dimensions
        extra = [o.field for o in self.observed] + ["room_temperature", "room_humidity"]
        runs = []
        for row in normal_samples(n + len(extra), count):
            noise = dict(zip(extra, row[n:].tolist(), strict=True))
            found = self.state(row[:n])
            if found is None:
                runs.append(_Run(machine=self.build.machine, balance=None,
                                 shown=np.zeros(0), noise=noise))  # fmt: skip
                continue
            errors = [self.sds[o.field] * noise[o.field] for o in self.observed]
            runs.append(_Run(machine=found[0], balance=found[1],
                             shown=self.shown(*found) + np.array(errors), noise=noise))  # fmt: skip
        return runs

    def together(self, shown: FloatArray) -> float | None:
        """Chance of readings at least as far from the trial runs, all of them together.

        Hotelling's test of one new observation: with the covariance of n samples of p readings,
        (n - p) n / (p (n^2 - 1)) D^2 has an F distribution (textbook).
        """
        n, p = shown.shape
        if p < 2:
            return None
        from scipy.stats import f

        off = np.array([self.read[o.field] for o in self.observed]) - shown.mean(axis=0)
        covariance = np.cov(shown, rowvar=False)
        distance = float(off @ np.linalg.solve(covariance, off))
        return float(f.sf(distance * (n - p) * n / (p * (n * n - 1.0)), p, n - p))

    def fitted(self, count: int) -> list[FloatArray]:
        """Samples of everything uncertain, given the readings.

        Each is drawn from what was known before and fitted to the readings with errors of their
        own; exact where the readings are linear (randomised maximum likelihood: Oliver, He and
        Reynolds, "Conditioning permeability fields to pressure data", 1996). The slopes are those
        of the most probable machine.
        """
        spread = np.array([self.sds[o.field] for o in self.observed])
        measured = np.array([self.read[o.field] for o in self.observed])
        found = most_probable(
            self.predict, measured=measured, spread=spread, parameters=self.dimensions
        )
        g, m = found.response, len(measured)
        gain = g.T @ np.linalg.inv(g @ g.T + np.eye(m))
        fitted = []
        for row in normal_samples(self.dimensions + m, count, seed=21):
            drawn, wanted = row[:-m], measured / spread + row[-m:]
            z, shown = found.mean, found.predicted
            for _ in range(_FITS):
                z = drawn + gain @ (wanted - shown / spread - g @ (drawn - z))
                there = self.predict(z)
                if there is None:
                    break
                shown = there
            else:
                fitted.append(drawn + gain @ (wanted - shown / spread - g @ (drawn - z)))
        return fitted

    def rated(self, count: int) -> tuple[RatedRoom, ...]:
        """The machine as these readings have it, in the rooms of the test procedures."""
        table = self.build.refrigerant.table
        seen: list[list[SteadyState]] = [[] for _ in RATING_ROOMS]
        for z in self.fitted(count):
            made = self.charged(z)
            if made is None:
                continue
            machine, line, charge = made
            near = self.there
            for k, (_name, t, rh) in enumerate(RATING_ROOMS):
                moved = in_room(machine, t, rh, self.pressure)
                try:
                    near = solve(
                        table, line, moved, fixed_charge(charge), near=near,
                        tolerance=TRIAL_TOLERANCE,
                    )  # fmt: skip
                except SolveError:
                    continue
                seen[k].append(near)
        return tuple(
            RatedRoom(
                name=name,
                temperature=t,
                relative_humidity=rh,
                water=range_of([b.water for b in balances]),
                power=range_of([b.total_power for b in balances]),
                water_per_energy=range_of([b.water_per_energy or 0.0 for b in balances]),
                freezes=sum(b.frost_share > 0.0 for b in balances) > len(balances) / 2,
            )
            for (name, t, rh), balances in zip(RATING_ROOMS, seen, strict=True)
            if len(balances) > count // 2
        )


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


def _about(machine: _Proved, noise: Mapping[str, float]) -> dict[str, float]:
    """The readings with errors of the instruments."""
    return {name: value + machine.sds[name] * noise[name] for name, value in machine.read.items()}


def _around(middle: float, samples: Sequence[float]) -> Range:
    """Range of samples about a value that is known by itself."""
    found = range_of(samples)
    return Range(low=found.low, middle=middle, high=found.high)


def _measured(machine: _Proved, runs: Sequence[_Run]) -> dict[str, Range]:
    """Each reading and what follows from it, with the range by the errors of the instruments."""
    table = machine.build.refrigerant.table
    exact = {**machine.read, **_derived(machine.read, table)}
    spread = [_about(machine, run.noise) for run in runs]
    every = [{**one, **_derived(one, table)} for one in spread]
    return {name: _around(value, [one[name] for one in every]) for name, value in exact.items()}


def _judged(
    machine: _Proved, runs: Sequence[_Run], measured: Mapping[str, Range]
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


def _balance(machine: _Proved, runs: Sequence[_Run]) -> HeatBalance:
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
