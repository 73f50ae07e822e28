"""Calibration to a known machine: what its readings say of the numbers nobody can measure.

The most probable numbers are searched for with the spread of every number as it stands in the job
as the prior (:mod:`sweatline.uncertainty.posterior`). A reading that the rest contradicts by more
than three standard deviations is set aside and named. What stays in the machine is carried to the
rebuild by :mod:`sweatline.assembly.prior_transfer`.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sweatline.answers import Range
from sweatline.assembly.known_machine import KnownMachine, Reading, known_machine, runs_of
from sweatline.uncertainty.measured import Learned

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.assembly.parameters import Uncertain
    from sweatline.job.model import Job
    from sweatline.uncertainty.posterior import Posterior

__all__ = [
    "MISFIT",
    "Calibration",
    "NumberFit",
    "ReadingFit",
    "calibrate",
    "calibrated",
    "narrowed",
]

# Standard deviations from what the other readings lead one to expect, beyond which a reading is
# no longer believed: one in 370 good readings lies there.
MISFIT: Final = 3.0

# Numbers of which less than this share of the prior's variance is gone are not told about.
_TOLD: Final = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFit:
    """One reading against the model before and after. [SI]"""

    run: str
    key: str
    measured: float
    sd: float
    origin: str
    before: float
    after: float
    expected: float  # from the other readings alone
    expected_sd: float  # of that and of the reading itself
    surprise: float  # standard deviations between the two
    set_aside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberFit:
    """One uncertain number before and after, in its own unit; a model's multiplier about one."""

    name: str
    origin: str
    note: str
    before: float
    before_sd: float
    after: float
    after_sd: float
    moved: float  # prior standard deviations
    left: float  # posterior standard deviation, in prior ones
    stays: bool  # in a rebuild with another compressor and refrigerant

    @property
    def relative(self) -> bool:
        """Whether it is told best as a share of itself."""
        return abs(self.before) > 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What the readings of a known machine say."""

    job: Job
    compressor: str
    refrigerant: str
    capillary: str
    readings: tuple[ReadingFit, ...]
    numbers: tuple[NumberFit, ...]  # what was learned of the machine, most first
    rooms: tuple[NumberFit, ...]  # what was learned of rooms, charge and power factor
    charge_terms: tuple[NumberFit, NumberFit]  # on what the coils hold; liquid left out
    ties: tuple[tuple[str, ...], ...]  # numbers the readings could not tell apart
    things: float  # independent things that the readings tell
    settled: bool
    notes: tuple[str, ...]
    learned: Learned

    @property
    def set_aside(self) -> tuple[ReadingFit, ...]:
        """Readings that do not fit."""
        return tuple(r for r in self.readings if r.set_aside)


def _fit(machine: KnownMachine, first: np.ndarray, last: Posterior | None = None) -> Posterior:
    from sweatline.uncertainty.posterior import most_probable

    return most_probable(
        machine.predict,
        measured=np.array([r.known.value for r in machine.readings]),
        spread=np.array([_error(r) for r in machine.readings]),
        numbers=len(machine.numbers),
        start=last.mean if last is not None else None,
        first=first,
    )


def _error(reading: Reading) -> float:
    """Standard deviation of a reading; one said to be exact is given a thousandth. [SI]"""
    return max(reading.known.sd, 1e-3 * abs(reading.known.value), 1e-12)


def calibrate(job: Job, *, progress: Callable[[float], None] | None = None) -> Calibration:
    """Fit the uncertain numbers of the machine as it ran to everything it showed.

    Parameters
    ----------
    job : Job
        With `original.compressor` and readings; see :func:`known_machine`.

    Raises
    ------
    JobError
        The job does not say what ran, or has no readings of it.
    SolveError
        The machine as described has no balance in one of its rooms.
    """
    from sweatline.uncertainty.posterior import FIRST_STEP, slopes

    machine = known_machine(job)
    everything = machine.readings
    start = np.zeros(len(machine.numbers))
    before = machine.predict(start)
    assert before is not None  # it was solved there
    everywhere = range(len(start))
    first = slopes(machine.predict, start, everywhere, step=FIRST_STEP, at=before, both=False)
    posterior = _fit(machine, first)
    aside: list[Reading] = []
    most = max(1, len(everything) // 3)
    while len(aside) < most and len(machine.readings) > 2:  # of two nothing says which is wrong
        if progress is not None:
            progress((len(aside) + 1) / (most + 2))
        posterior, first, doubtful = _without_the_worst(machine, posterior, first)
        if doubtful is None:
            break
        aside.append(doubtful)
    return _told(machine, posterior, everything, before.tolist(), aside)


# Readings tried without, at most, before one is set aside.
_SUSPECTS: Final = 3


def _without_the_worst(
    machine: KnownMachine, posterior: Posterior, first: np.ndarray
) -> tuple[Posterior, np.ndarray, Reading | None]:
    """Take out the reading that the others contradict most, if any does by too much.

    The linear fit only casts suspicion: beside a kink, as where the evaporator floods, its slopes
    mislead. Each suspect is left out in turn and the rest fitted anew; the one that lies farthest
    from what the rest then expects of it goes. When none of them lies too far, all stay.
    """
    everything = machine.readings
    order = np.argsort(-np.abs(posterior.surprise), kind="stable")
    suspects = [int(i) for i in order if abs(posterior.surprise[i]) > MISFIT][:_SUSPECTS]
    worst, farthest = None, MISFIT
    for i in suspects:
        machine.readings = (*everything[:i], *everything[i + 1 :])
        slopes = np.delete(first, i, axis=0)
        without = _fit(machine, slopes, posterior)
        expected, spread = _unused(machine, without, everything[i])
        far = abs(everything[i].known.value - expected) / spread
        if far > farthest:
            worst, farthest = (i, without, slopes), far
        elif far <= MISFIT and worst is None:
            machine.readings = everything
            again = _fit(machine, first, without)
            posterior = again if again.cost < posterior.cost else posterior
    if worst is None:
        machine.readings = everything
        return posterior, first, None
    i, without, slopes = worst
    machine.readings = (*everything[:i], *everything[i + 1 :])
    return without, slopes, everything[i]


def _told(
    machine: KnownMachine,
    posterior: Posterior,
    everything: tuple[Reading, ...],
    before: list[float],
    aside: list[Reading],
) -> Calibration:
    from sweatline.uncertainty.posterior import inseparable

    z = posterior.mean
    machine_wide = [i for i, u in enumerate(machine.numbers) if _of_the_machine(u, machine)]
    used = {id(r): k for k, r in enumerate(machine.readings)}
    fits = []
    for k, r in enumerate(everything):
        j = used.get(id(r))
        if j is not None:
            after = float(posterior.predicted[j])
            expected, spread = float(posterior.expected[j]), float(posterior.expected_sd[j])
            surprise = float(posterior.surprise[j])
        else:
            after, spread = _unused(machine, posterior, r)
            expected = after
            surprise = (r.known.value - after) / spread
        fits.append(
            ReadingFit(
                run=r.run,
                key=r.key,
                measured=r.known.value,
                sd=_error(r),
                origin=str(r.known.origin),
                before=before[k],
                after=after,
                expected=expected,
                expected_sd=spread,
                surprise=surprise,
                set_aside=r in aside,
            )
        )
    sd = np.sqrt(np.diag(posterior.covariance))
    told = [i for i in range(len(z)) if 1.0 - sd[i] ** 2 >= _TOLD or abs(z[i]) > 0.5]
    told.sort(key=lambda i: float(sd[i]))
    numbers = [i for i in told if i in set(machine_wide)]
    ties = inseparable(posterior, sorted(machine_wide, key=lambda i: float(sd[i])))
    names = machine.names
    return Calibration(
        job=machine.job,
        compressor=machine.compressor.name,
        refrigerant=machine.refrigerant.name,
        capillary=machine.capillary.name,
        readings=tuple(fits),
        numbers=tuple(_number(machine, posterior, i) for i in numbers),
        rooms=tuple(_number(machine, posterior, i) for i in told if i not in set(numbers)),
        charge_terms=(
            _number(machine, posterior, names.index("inventory")),
            _number(machine, posterior, names.index("liquid left out")),
        ),
        ties=tuple(tuple(names[i] for i in group) for group in ties),
        things=posterior.learned,
        settled=posterior.settled,
        notes=_notes(machine, posterior, fits),
        learned=Learned(
            names=tuple(names[i] for i in machine_wide),
            mean=tuple(float(z[i]) for i in machine_wide),
            covariance=tuple(
                tuple(float(posterior.covariance[i, j]) for j in machine_wide) for i in machine_wide
            ),
            compressor=machine.compressor.name,
            capillary=machine.capillary.name,
            oil=machine.compressor.oil,
            refrigerant=machine.refrigerant.name,
            readings=len(machine.readings),
        ),
    )


def _of_the_machine(number: Uncertain, machine: KnownMachine) -> bool:
    """Whether a number belongs to the machine, not to one room, the charge or the mains."""
    runs = tuple(f"{run.name}: " for run in machine.runs)
    return number.name not in ("charge", "power factor") and not number.name.startswith(runs)


def _unused(machine: KnownMachine, posterior: Posterior, reading: Reading) -> tuple[float, float]:
    """What the fit expects of a reading that was set aside, and how surely. [SI]"""
    from sweatline.uncertainty.posterior import slopes

    run = next(r for r in machine.runs if r.name == reading.run)

    def one(z: np.ndarray) -> np.ndarray | None:
        balance = machine.balance(run, z)
        return None if balance is None else np.array([machine.shown(reading, balance, z)])

    at = one(posterior.mean)
    if at is None:
        return math.nan, math.inf
    g = slopes(one, posterior.mean, range(len(posterior.mean)), step=0.3, at=at)[0]
    return float(at[0]), math.sqrt(float(g @ posterior.covariance @ g) + _error(reading) ** 2)


def _number(machine: KnownMachine, posterior: Posterior, i: int) -> NumberFit:
    from sweatline.assembly.parameters import MODEL_SCATTER
    from sweatline.assembly.prior_transfer import carries

    u = machine.numbers[i]
    z, left = float(posterior.mean[i]), math.sqrt(float(posterior.covariance[i, i]))
    if u.name in MODEL_SCATTER:  # log-normal about one
        after = math.exp(u.sd * z)
        after_sd = after * u.sd * left
    else:
        after, after_sd = u.value + u.sd * z, u.sd * left
    return NumberFit(
        name=u.name,
        origin=str(u.origin),
        note=u.note,
        before=u.value,
        before_sd=u.sd,
        after=after,
        after_sd=after_sd,
        moved=z,
        left=left,
        stays=carries(u.name, machine.compressor.name, machine.capillary.name),
    )


def _notes(
    machine: KnownMachine, posterior: Posterior, fits: Sequence[ReadingFit]
) -> tuple[str, ...]:
    found = []
    count = len(machine.readings)
    keys = {r.key for r in machine.readings}
    if count < 4:
        found.append(
            f"{'only one reading' if count == 1 else f'only {count} readings'}: most of what is "
            "told below is still what was assumed before"
        )
    if not keys & {"suction_pressure", "head_pressure"}:
        found.append("no gauge was read: what the compressor does and what the coils do are mixed")
    if keys and not keys & {"power", "current"}:
        found.append("no watts and no amperes: nothing is learned of the compressor's losses")
    if not posterior.settled:
        found.append("the search did not come to rest: the readings contradict the machine")
    wide = [f for f in fits if not f.set_aside and abs(f.surprise) > MISFIT]
    if wide:
        found.append(
            "readings and machine disagree, and the readings are too few to say which is wrong: "
            "look at the parts in the job and at every reading"
        )
    if machine.job.original.charge is None and all(r.charge is None for r in machine.runs):
        found.append("the charge was not weighed: it was worked out too, and teaches little")
    return tuple(found)


@functools.lru_cache(maxsize=8)
def _learned(job: Job) -> Learned:
    return calibrate(job).learned


def calibrated(job: Job) -> Job:
    """The same job, taught by the readings of its known machine if it has any."""
    if job.learned is not None or not runs_of(job):
        return job
    return replace(job, learned=_learned(job))


def narrowed(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 64,
) -> tuple[Build, Mapping[str, Range], Mapping[str, Range]]:
    """One rebuild, and its bands without and with what the known machine taught.

    `job` must be :func:`calibrated`. The tube is that of the calibrated machine in both, so that
    the same rebuild is compared.
    """
    from sweatline.assembly.build import build_for
    from sweatline.design.questions import balance

    parts = {"compressor": compressor, "capillary": capillary}
    build = build_for(job, refrigerant=refrigerant, length=length, **parts)
    cut = build.length
    found = []
    for one in (replace(job, learned=None), job):
        answer = balance(one, refrigerant=refrigerant, length=cut, draws=draws, **parts)
        found.append(answer.bands)
    return build, found[0], found[1]
