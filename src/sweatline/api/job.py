"""A job file in a script: rank its combinations, and ask each of them what it does."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any

from sweatline.answers import Answer, Hidden
from sweatline.answers.answer import scale_of
from sweatline.api.quantity import Written, maybe_si, si
from sweatline.design.match import MatchAnswer
from sweatline.units import show

if TYPE_CHECKING:
    from sweatline.api.charging import Charging, LogBook, Practice
    from sweatline.assembly.calibration import Calibration
    from sweatline.bench.proof.proof import ProofAnswer
    from sweatline.design.balance import BalanceAnswer
    from sweatline.design.charge_curve import ChargeAnswer
    from sweatline.design.frost import FrostAnswer
    from sweatline.design.metering import MeteringAnswer
    from sweatline.design.room_map import RoomAnswer
    from sweatline.diagnosis.diagnosis import Diagnosis
    from sweatline.job.model import Job as Bench
    from sweatline.season.worth import WorthAnswer
    from sweatline.season.year import YearAnswer, YearRequest

__all__ = ["Combination", "Job", "Ranking", "practice", "read_job"]


def read_job(path: str | os.PathLike[str], *, calibrate: bool = True) -> Job:
    """Job of a file, calibrated to readings of the machine as it ran when it holds any.

    Raises
    ------
    JobError
        The file cannot be read, or something in it cannot be used: one line for each mistake.
    """
    from sweatline.job.reading import read_job as read

    bench = read(path)
    if calibrate and bench.original.compressor is not None:
        from sweatline.assembly.calibration import calibrated

        bench = calibrated(bench)
    return Job(bench=bench)


@dataclass(frozen=True, slots=True)
class Job:
    """What is on the bench and the room it stands in."""

    bench: Bench

    def __str__(self) -> str:
        b = self.bench
        return (
            f"{b.title}: {len(b.compressors)} compressors, {len(b.refrigerants)} refrigerants, "
            f"{len(b.capillaries)} capillaries"
        )

    @property
    def compressors(self) -> tuple[str, ...]:
        """Names of the compressors."""
        return tuple(c.name for c in self.bench.compressors)

    @property
    def refrigerants(self) -> tuple[str, ...]:
        """Names of the refrigerants."""
        return self.bench.refrigerants

    @property
    def capillaries(self) -> tuple[str, ...]:
        """Names of the capillaries."""
        return tuple(c.name for c in self.bench.capillaries)

    def match(self, *, samples: int = 16, workers: int | None = None) -> Ranking:
        """Every combination of the parts solved in the job's room, best first.

        Parameters
        ----------
        samples : int
            Trial runs of each combination; the best gets four times as many.
        workers : int, optional
            Threads; by default as many as there are processors.
        """
        from sweatline.design.match import match

        return Ranking(job=self, answer=match(self.bench, draws=samples, workers=workers))

    def combination(
        self,
        *,
        compressor: str | None = None,
        refrigerant: str | None = None,
        capillary: str | None = None,
        length: Written | None = None,
    ) -> Combination:
        """One choice of parts by name; what there is only one of may be left out.

        Raises
        ------
        JobError
            A name fits nothing or several things.
        """
        from sweatline.assembly.build import choose

        i, name, j = choose(
            self.bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary
        )
        return Combination(
            job=self,
            compressor=self.bench.compressors[i].name,
            refrigerant=name,
            capillary=self.bench.capillaries[j].name,
            length=maybe_si(length, "length", "length"),
            choice=(i, name, j),
        )

    def charging(
        self,
        log: LogBook,
        *,
        compressor: str | None = None,
        refrigerant: str | None = None,
        capillary: str | None = None,
        length: Written | None = None,
    ) -> Charging:
        """What to do next while these parts are charged, from an open log."""
        build = self.combination(
            compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
        )
        return build.charging(log)

    def metering(
        self, *, compressor: str | None = None, refrigerant: str | None = None, samples: int = 64
    ) -> MeteringAnswer:
        """Length of every capillary on the shelf for a compressor and a refrigerant."""
        from sweatline.assembly.build import choose
        from sweatline.design.metering import metering

        first = self.capillaries[0]
        i, name, _j = choose(
            self.bench, compressor=compressor, refrigerant=refrigerant, capillary=first
        )
        return metering(self.bench, compressor=i, refrigerant=name, draws=samples)

    def prove(
        self, log: str | os.PathLike[str] | None = None, **readings: float | str
    ) -> ProofAnswer:
        """What the running machine does, held against what it should do; see `sweatline.prove`."""
        from sweatline.api.bench import prove

        return prove(self, log, **readings)

    def calibration(self) -> Calibration:
        """What readings of the machine as it ran teach.

        Raises
        ------
        JobError
            The job holds none.
        """
        from sweatline.assembly.calibration import calibrate

        return calibrate(self.bench)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking(Answer):
    """Combinations from best to worst: a sequence of :class:`Combination`.

    What was worked out for the ranking stands in `answer`.
    """

    job: Annotated[Job, Hidden()] = field(repr=False)
    answer: MatchAnswer = field(repr=False)

    def __len__(self) -> int:
        return len(self.answer.ranked)

    def __getitem__(self, rank: int) -> Combination:
        one = self.answer.ranked[rank]
        return Combination(
            job=self.job,
            compressor=one.parts.compressor,
            refrigerant=one.parts.refrigerant,
            capillary=one.parts.capillary,
            length=one.parts.capillary_length,
            choice=one.choice,
        )

    def __iter__(self) -> Iterator[Combination]:
        return (self[i] for i in range(len(self)))

    def __str__(self) -> str:
        lines = []
        scale = scale_of(self.answer)
        for i, (one, found) in enumerate(zip(self, self.answer.ranked, strict=True), start=1):
            water = scale.show(found.steady.water, "water removal")
            clean = f"runs clean {100.0 * found.chance_clean:.0f} in 100, " if found.draws else ""
            lines.append(f"{i:3d}  {one}: {water}, {clean}{found.word}")
        return "\n".join(lines)

    def to_dict(self) -> dict[str, Any]:
        """As `match --json` prints it, without the command's head."""
        return self.answer.to_dict()


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One choice of compressor, refrigerant and capillary from a job."""

    job: Job = field(repr=False)
    compressor: str
    refrigerant: str
    capillary: str
    length: float | None  # m, of the capillary; None: its own, or cut to suit
    choice: tuple[int, str, int] = field(repr=False)

    def __str__(self) -> str:
        text = f"{self.compressor} + {self.refrigerant} + {self.capillary}"
        if self.length is None:
            return text
        return f"{text}, {show(self.length, 'length', self.job.bench.unit_system)}"

    def _parts(self) -> dict[str, Any]:
        i, name, j = self.choice
        return {"compressor": i, "refrigerant": name, "capillary": j, "length": self.length}

    def _bench(self, temperature: Written | None, humidity: Written | None) -> Bench:
        from sweatline.job.model import in_other_room

        return in_other_room(
            self.job.bench,
            temperature=maybe_si(temperature, "temperature", "room_temperature"),
            relative_humidity=maybe_si(humidity, "relative humidity", "room_humidity"),
        )

    def balance(
        self,
        *,
        charge: Written | None = None,
        room_temperature: Written | None = None,
        room_humidity: Written | None = None,
        samples: int = 0,
    ) -> BalanceAnswer:
        """What it settles at in the job's room or another, with ranges when there are samples.

        Without a charge it is charged until the evaporator's outlet shows the job's superheat.

        Raises
        ------
        SolveError
            There is no balance; the error says why.
        """
        from sweatline.design.balance import balance

        return balance(
            self._bench(room_temperature, room_humidity),
            **self._parts(),
            charge=maybe_si(charge, "mass", "charge"),
            draws=samples,
        )

    def charge_curve(
        self, *, samples: int = 0, progress: Callable[[float], None] | None = None
    ) -> ChargeAnswer:
        """What it shows from nearly empty to overfull, and where to stop."""
        from sweatline.design.charge_curve import charge_curve

        return charge_curve(self.job.bench, **self._parts(), draws=samples, progress=progress)

    def prove(
        self, log: str | os.PathLike[str] | None = None, **readings: float | str
    ) -> ProofAnswer:
        """The same of a job, with these parts; see :meth:`Job.prove`."""
        parts: dict[str, float | str] = {
            "compressor": self.compressor,
            "refrigerant": self.refrigerant,
            "capillary": self.capillary,
        }
        if self.length is not None:
            parts["length"] = self.length
        return self.job.prove(log, **parts, **readings)

    def charging(self, log: LogBook) -> Charging:
        """What to do next while it is charged, from an open log.

        Raises
        ------
        JobError
            The log is about another refrigerant.
        """
        from sweatline.api.charging import Charging
        from sweatline.charging.adviser import Adviser, check_refrigerant
        from sweatline.charging.preparation import prepare
        from sweatline.charging.session import ChargeSession

        check_refrigerant(log.log.about(), self.refrigerant)
        adviser = Adviser(prepare(self.job.bench, **self._parts()), log.log.about())
        return Charging(ChargeSession(adviser, log.log))

    def diagnose(
        self,
        readings: str | Sequence[str] | LogBook,
        *,
        well: str | Sequence[str] | LogBook = (),
    ) -> Diagnosis:
        """What is wrong with it by its readings, and what to measure next.

        Parameters
        ----------
        readings : str, sequence of str or LogBook
            Lines as a log takes them, as ``"suction 24 psig; head 140 psig"``, or an open log.
        well : str, sequence of str or LogBook
            Of the same machine when it ran well.

        Raises
        ------
        JobError
            A line was not understood, or nothing was read of the machine.
        """
        from sweatline.api.charging import LogBook
        from sweatline.assembly.build import build_for
        from sweatline.charging.readings import Round, log_of_lines, round_of
        from sweatline.diagnosis.diagnosis import diagnose

        build = build_for(self.job.bench, **self._parts())

        def taken(told: str | Sequence[str] | LogBook) -> Round:
            if isinstance(told, LogBook):
                return round_of(told.log, build)
            with log_of_lines(build, [told] if isinstance(told, str) else told) as log:
                return round_of(log, build)

        found, before = taken(readings), taken(well)
        return diagnose(
            build,
            found.readings,
            well=before.readings,
            notes=(*found.notes, *before.notes),
            ruled_out=found.ruled_out,
        )

    def room_map(
        self,
        *,
        temperatures: Sequence[Written] = ("8 degC", "14 degC", "20 degC", "26 degC"),
        humidities: Sequence[Written] = (0.5, 0.65, 0.8),
        charge: Written | None = None,
        samples: int = 0,
    ) -> RoomAnswer:
        """The machine, charged in the job's room, in a grid of other rooms."""
        from sweatline.design.room_map import room_map

        return room_map(
            self.job.bench,
            **self._parts(),
            temperatures=[si(t, "temperature", "temperatures") for t in temperatures],
            humidities=[si(h, "relative humidity", "humidities") for h in humidities],
            charge=maybe_si(charge, "mass", "charge"),
            draws=samples,
        )

    def frost(
        self,
        *,
        room_temperature: Written | None = None,
        room_humidity: Written | None = None,
        hours: float = 24.0,
    ) -> FrostAnswer:
        """Whether its coil freezes up in a room, how soon, and what melts it."""
        from sweatline.design.frost import frost

        return frost(
            self.job.bench,
            **self._parts(),
            room_temperature=maybe_si(room_temperature, "temperature", "room_temperature"),
            room_humidity=maybe_si(room_humidity, "relative humidity", "room_humidity"),
            hours=hours,
        )

    def year(
        self,
        *,
        charge: Written | None = None,
        samples: int = 64,
        progress: Callable[[float], None] | None = None,
    ) -> YearAnswer:
        """A year with it in the room of the job: damp hours, ice, litres, energy, which control.

        Raises
        ------
        JobError
            The weather cannot be read.
        """
        from sweatline.season.year import year

        return year(self.job.bench, self._year(charge, samples), progress=progress)

    def worth(
        self,
        *,
        charge: Written | None = None,
        samples: int = 64,
        progress: Callable[[float], None] | None = None,
    ) -> WorthAnswer:
        """Whether the rebuild pays, beside a new machine, airing and nothing.

        Raises
        ------
        JobError
            A price is missing, or the weather cannot be read.
        """
        from sweatline.season.worth import worth

        return worth(self.job.bench, self._year(charge, samples), progress=progress)

    def _year(self, charge: Written | None, samples: int) -> YearRequest:
        from sweatline.season.year import YearRequest

        return YearRequest(
            **self._parts(), charge=maybe_si(charge, "mass", "charge"), draws=samples
        )


def practice(
    job: Job | Combination,
    *,
    seed: int = 1,
    fault: str | None = None,
    slips: bool = False,
    log: str | os.PathLike[str] | None = None,
    samples: int = 128,
) -> Practice:
    """A simulated machine, drawn from what a job leaves open, running with half of its charge.

    Parameters
    ----------
    job : Combination, or a Job with one of each part
    seed : int
        Which machine.
    fault : str, optional
        What is wrong with it, as `sweatline practice` names it; ``any`` hides one, or nothing.
    slips : bool
        Now and then a reading is written down wrongly.
    log : path, optional
        A new file for what is written down; else it is kept in memory.
    samples : int
        Trial runs behind the advice that the debrief holds you against.

    Raises
    ------
    JobError
        No such fault.
    SolveError
        The parts, or the drawn machine, have no balance.
    """
    from sweatline.api.charging import Practice
    from sweatline.diagnosis.faults import ANY
    from sweatline.training.session import session_on
    from sweatline.training.simulated_machine import simulate

    build = job.combination() if isinstance(job, Job) else job
    machine = simulate(build.job.bench, **build._parts(), seed=seed, fault=fault)
    path = None if log is None else os.fspath(log)
    return Practice(
        session=session_on(machine, seed, path=path, slips=slips),
        seed=seed,
        hidden=fault == ANY,
        samples=samples,
    )
