"""What does one choice of parts settle at, how sure is that, and what does it mean?

It is solved at its best values and at every trial run, and judged. Here is also what every answer
about the parts on a bench begins with.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Annotated, Any, ClassVar, Literal

from sweatline.answers import Answer, Hidden, Q, Range, Shown, quantities_of, range_of, ranges_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.build import Build, Parts, build_for
from sweatline.assembly.trial_runs import (
    COLDER,
    Trial,
    colder_balance,
    shares_of,
    solved_of,
    trials,
)
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import cautions_clear, judge, judged
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, Target, filled, fixed_charge
from sweatline.machine.circuit import Inventory
from sweatline.safety.cautions import Caution, Work, cautions_of
from sweatline.uncertainty.sensitivity import Share

_LIKELY = 0.2  # chance of a fault from which on it explains a low rank


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildAnswer(Answer):
    """An answer about one choice of parts."""

    build: Annotated[Build, Hidden()] = field(repr=False)

    @property
    def parts(self) -> Annotated[Parts, Shown()]:
        """The parts, with the length of the capillary."""
        return self.build.parts


class JobHead:
    """Job and cautions of an answer that has a build."""

    __slots__ = ()
    WORK: ClassVar[Work] = "planning"
    CHARGE: ClassVar[str] = "steady.charge"  # where the answer holds what is in the machine
    build: Build

    @property
    def job(self) -> Annotated[JobSummary, Shown()]:
        """The job the answer is about."""
        return summary_of(self.build.job)

    @property
    def cautions(self) -> Annotated[tuple[Caution, ...], Shown()]:
        """Local codes and licensed practice decide."""
        clear = cautions_clear(self.build, attrgetter(self.CHARGE)(self))
        return cautions_of([self.build.refrigerant.name], work={self.WORK}, clear=clear)


def part_of_progress(
    progress: Callable[[float], None] | None, start: float, end: float
) -> Callable[[float], None] | None:
    """Progress of a part of the work as progress of the whole."""
    if progress is None:
        return None
    tell = progress
    return lambda done: tell(start + done * (end - start))


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment(BuildAnswer):
    """What a choice of parts settles at, how sure that is, and what is wrong with it."""

    steady: SteadyState
    bands: Mapping[str, Range]
    """Likely ranges (9 in 10) over the trial runs; keys as in `steady`."""
    draws: int
    """Trial runs."""
    unsolved: int
    """Trial runs without a balance."""
    verdicts: tuple[Verdict, ...]
    """Safety first."""
    chance_clean: float
    """Of running without any fault."""
    dependable_water: Annotated[
        float,
        Q("water removal", "", "Mean over the trial runs, each one with a fault counted as none."),
    ]

    @property
    def stopped(self) -> Annotated[bool, Shown()]:
        """A final verdict forbids this rebuild."""
        return any(v.final and v.state == "fails" for v in self.verdicts)

    @property
    def worst(self) -> Verdict | None:
        """The verdict that costs it most: a final one, else the likeliest fault."""
        bad = [v for v in self.verdicts if v.state == "fails"]
        if not bad:
            bad = [v for v in self.verdicts if (v.probability or 0.0) > _LIKELY]
        return max(
            bad, key=lambda v: (v.barred, v.final, v.safety, v.probability or 1.0), default=None
        )

    @property
    def word(self) -> Annotated[str, Shown()]:
        """The answer in a word or two: should work, or the fault that stands against it."""
        worst = self.worst
        return worst.fault if worst is not None and worst.state == "fails" else "should work"


def assess(
    build: Build, found: SteadyState, target: Target, *, draws: int, look_colder: bool = False
) -> tuple[dict[str, Any], Sequence[Trial]]:
    """Fields of an :class:`Assessment`, and the trial runs behind them.

    Parameters
    ----------
    found : SteadyState
        The machine at its best values.
    target : Target
        What closes the circuit in every trial run.
    look_colder : bool
        Look for floodback in the cold end of the room's range without trial runs too.
    """
    cold = colder_balance(build, found, COLDER) if draws or look_colder else None
    runs = trials(build, found, target, count=draws, look_colder=True, cold=cold) if draws else []
    over = judged(build, runs)
    verdicts = judge(build, found, cold, runs, over)
    faultless = over.faultless
    # A fault that no run decides (oil, voltage) or that forbids is there in every one of them.
    barred = any((v.final or v.probability is None) and v.state == "fails" for v in verdicts)
    water = sum(
        t.balance.water
        for t, fine in zip(runs, faultless, strict=True)
        if fine and t.balance is not None
    )
    fields = {
        "build": build,
        "steady": found,
        "bands": ranges_of(solved_of(runs)),
        "draws": len(runs),
        "unsolved": len(runs) - int(over.solved.sum()),
        "verdicts": tuple(verdicts),
        "chance_clean": 0.0 if barred else (int(faultless.sum()) + 0.5) / (len(runs) + 1.0),
        "dependable_water": 0.0 if barred else water / max(len(runs), 1),
    }
    return fields, runs


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceAnswer(Assessment, JobHead):
    """`sweatline balance --json`: what one machine settles at."""

    charged_to: Literal["superheat", "charge"]
    """What closes the circuit: the wanted superheat, or a given charge."""
    place_bands: Annotated[
        Mapping[str, Range], Q("mass", "", "Of the charge in each place, as in `bands`.")
    ]
    shares: Mapping[str, tuple[Share, ...]]
    """What the spread of each quantity comes from, largest first; keys as in `bands`."""


def balance(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    charge: float | None = None,
    draws: int = 128,
    near: SteadyState | None = None,
) -> BalanceAnswer:
    """Steady state of one choice of parts in the job's room.

    Parameters
    ----------
    compressor, capillary : int
        Positions in the job.
    length : float, optional
        Of the capillary. [m] By default a fitted tube keeps its own and stock is cut to suit.
    charge : float, optional
        [kg] By default the machine is charged until its evaporator is filled.
    draws : int
        Trial runs.
    near : SteadyState, optional
        Of a similar machine, from which one step must lead to this one: milliseconds, for a
        machine that is moved by hand.

    Raises
    ------
    SolveError
        The machine has no balance; the error says why. Or none was found from `near`.
    """
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    target = filled(superheat=job.targets.superheat) if charge is None else fixed_charge(charge)
    found = build.solve(target, near=near or build.designed, profiles=True, farther=near is None)
    fields, runs = assess(build, found, target, draws=draws)
    solved = solved_of(runs)
    return BalanceAnswer(
        **fields,
        charged_to="superheat" if charge is None else "charge",
        place_bands={
            place: range_of([getattr(b.charge_by_place, place) for b in solved])
            for place in Inventory._fields
            if len(solved) >= FEWEST
        },
        shares=shares_of(build, runs, quantities_of(SteadyState)),
    )
