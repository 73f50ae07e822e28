"""One choice of parts, solved at its best values and at every trial run, and judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from sweatline.answers import Q, Range, Shown, ranges_of
from sweatline.assembly.build import Build
from sweatline.assembly.trial_runs import COLDER, Trial, colder_balance, solved_of, trials
from sweatline.design.answer import BuildAnswer
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import judge, judged
from sweatline.machine.balance import SteadyState, Target

_LIKELY = 0.2  # chance of a fault from which on it explains a low rank


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
        return max(bad, key=lambda v: (v.final, v.safety, v.probability or 1.0), default=None)

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
