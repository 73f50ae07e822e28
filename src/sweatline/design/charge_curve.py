"""How much charge? What gauges and thermometers do from empty to overfull, and where to stop."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from sweatline.answers import Answer, Q, Range, ranges_of
from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import State, few_of, range_of_crossing, trial_states
from sweatline.design.balance import BuildAnswer, JobHead, part_of_progress
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, Target, filled, fixed_charge
from sweatline.machine.charge_curve import ChargeEvent, events, sweep_charge
from sweatline.safety.cautions import Work

Ended = Literal[
    "no balance with more charge than the most shown",
    "no balance with less charge than the least shown",
]

_LEAST, _MOST = 0.35, 1.6  # over the charge to stop at
_CHARGES_WITH_RANGES = 11


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeRanges(Answer):
    """What gauges may show at one charge."""

    charge: Annotated[float, Q("mass")]
    bands: Mapping[str, Range]
    """Likely ranges (9 in 10); keys as in the curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeAnswer(BuildAnswer, JobHead):
    """`sweatline charge-curve --json`: from nearly empty to overfull."""

    WORK: ClassVar[Work] = "charging"
    CHARGE: ClassVar[str] = "stop.charge"
    stop: SteadyState
    """Where to stop: superheat at the target."""
    stop_bands: Mapping[str, Range]
    """Likely ranges (9 in 10) of what is read there; keys as in `stop`."""
    curve: tuple[SteadyState, ...]
    """Rising charge."""
    ranges: tuple[ChargeRanges, ...]
    """At some of the charges of the curve."""
    events: tuple[ChargeEvent, ...]
    draws: int
    """Trial runs behind the ranges; 0 without them."""
    complete: bool
    """False when it was interrupted or ended early."""
    ended: tuple[Ended, ...]
    """Why a direction ended early."""

    @property
    def interrupted(self) -> bool:
        """Whether a person ended it."""
        return not self.complete and not self.ended


def charge_curve(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    step: float = 0.025,
    cells: int = 24,
    draws: int = 32,
    progress: Callable[[float], None] | None = None,
) -> ChargeAnswer:
    """Sweep the charge of one choice of parts. An interrupt keeps what has been found.

    Ranges are calculated at some of the charges, for the machine of every trial run. The curve has
    three times the usual cells: with few, the coldest surface ripples as dry-out moves along them.

    Parameters
    ----------
    step : float
        The largest, over the charge to stop at. [-]
    """
    parts = {"compressor": compressor, "capillary": capillary}
    plain = build_for(job, refrigerant=refrigerant, length=length, **parts)
    # The tube is that of the other answers; only the coils are looked at more finely.
    fine = build_for(job, refrigerant=refrigerant, length=plain.length, cells=cells, **parts)
    build = replace(fine, cut=plain.cut, designed=None)
    target = filled(superheat=job.targets.superheat)
    stop = build.solve(target, near=plain.designed)
    curve = [stop]
    interrupted = False
    try:
        for b in sweep_charge(
            build.refrigerant.table,
            build.line,
            build.machine,
            stop,
            low=_LEAST,
            high=_MOST,
            step=step,
            progress=part_of_progress(progress, 0.0, 0.4 if draws else 1.0),
        ):
            curve.append(b)
    except KeyboardInterrupt:
        interrupted = True
    curve.sort(key=lambda b: b.charge)
    ended: list[Ended] = []
    if not interrupted and curve[-1].charge < (_MOST - 2 * step) * stop.charge:
        ended.append("no balance with more charge than the most shown")
    if not interrupted and curve[0].charge > (_LEAST + 2 * step) * stop.charge:
        ended.append("no balance with less charge than the least shown")
    limit = job.limits.high_side_pressure
    found = events(
        curve,
        superheat=job.targets.superheat,
        high_limit=limit.value if limit is not None else None,
    )
    answer = ChargeAnswer(
        build=build,
        stop=stop,
        stop_bands={},
        curve=tuple(curve),
        ranges=(),
        events=tuple(found),
        draws=0,
        complete=not interrupted and not ended,
        ended=tuple(ended),
    )
    if draws and not interrupted:
        with suppress(KeyboardInterrupt):
            tell = part_of_progress(progress, 0.4, 1.0)
            return _with_ranges(answer, plain, target, draws, tell)
    return answer


def _with_ranges(
    answer: ChargeAnswer,
    plain: Build,
    target: Target,
    draws: int,
    progress: Callable[[float], None] | None,
) -> ChargeAnswer:
    """The curve with what the trial runs show along it."""
    curve, stop = answer.curve, answer.stop
    picked = [curve[i] for i in few_of(len(curve), _CHARGES_WITH_RANGES)]
    charges = [b.charge for b in picked]
    nominal = plain.solve(target, near=stop)
    middle = [plain.solve(fixed_charge(b.charge), near=b) for b in picked]
    # From the stop outwards, so that a trial run always starts from a neighbour it has solved.
    order = sorted(range(len(picked)), key=lambda i: abs(charges[i] - stop.charge))
    states = [State(balance=middle[i], charge=charges[i]) for i in order]
    found = trial_states(plain, nominal, target, states, count=draws, progress=progress)
    at = [order.index(i) for i in range(len(picked))]
    return replace(
        answer,
        stop_bands=ranges_of(found.first),
        events=tuple(
            replace(e, band=range_of_crossing(found, at, charges, e.charge, e.level, middle))
            for e in answer.events
        ),
        ranges=tuple(
            ChargeRanges(charge=b.charge, bands=ranges_of(found.solved(k)))
            for b, k in zip(picked, at, strict=True)
        ),
        draws=found.count,
    )
