"""What does one choice of parts settle at, how sure is that, and what does it mean?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from sweatline.answers import Q, Range, quantities_of, range_of
from sweatline.answers.range import FEWEST
from sweatline.assembly.build import build_for
from sweatline.assembly.trial_runs import shares_of, solved_of
from sweatline.design.answer import JobHead
from sweatline.design.assessment import Assessment, assess
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled, fixed_charge
from sweatline.machine.circuit import Inventory
from sweatline.uncertainty.sensitivity import Share


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

    Raises
    ------
    SolveError
        The machine has no balance; the error says why.
    """
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    target = filled(superheat=job.targets.superheat) if charge is None else fixed_charge(charge)
    found = build.solve(target, near=build.designed, profiles=True)
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
