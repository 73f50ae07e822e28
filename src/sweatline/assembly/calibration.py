"""Calibration: what readings of the machine as it ran say of the parameters nobody can measure.

The most probable parameters are searched for, with the spread of each as it stands in the job as
the prior (:mod:`sweatline.uncertainty.posterior`). A reading that the others contradict by more
than three standard deviations is set aside and named. What stays in the machine holds for the
rebuild as well (:func:`sweatline.assembly.parameters.transferred_prior`).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final

import numpy as np

from sweatline.answers import Answer, Hidden, Q, Range, ranges_of
from sweatline.answers.fields import SI_UNITS
from sweatline.assembly.build import Parts, build_for
from sweatline.assembly.known_machine import (
    READINGS,
    KnownMachine,
    Reading,
    known_machine,
    runs_of,
)
from sweatline.assembly.parameters import parts_of, stays
from sweatline.assembly.trial_runs import solved_of, trials
from sweatline.job.explanation import JobSummary, summary_of
from sweatline.job.model import Job
from sweatline.machine.balance import filled
from sweatline.safety.cautions import Caution, cautions_of
from sweatline.uncertainty.parameter import Key, MachinePosterior
from sweatline.uncertainty.posterior import (
    FIRST_STEP,
    Posterior,
    inseparable,
    most_probable,
    slopes,
)

# Standard deviations from what the other readings lead one to expect, beyond which a reading is
# no longer believed: one in 370 good readings lies there.
MISFIT: Final = 3.0

# Parameters of which less than this share of the prior's variance is gone are not told about.
_TOLD: Final = 0.10

_LEFT_OUT: Final[Key] = ("lines", "left_out")
_INVENTORY: Final[Key] = ("model", "inventory")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFit(Answer):
    """One reading of the machine as it ran, against the model. SI, in the unit named."""

    run: str
    """Which set of readings, or the plate."""
    key: str
    unit: str
    measured: float
    sd: float
    """Standard deviation of the instrument."""
    origin: str
    before: float
    """By the model as the job describes the machine."""
    after: float | None
    """By the calibrated model."""
    expected: float | None
    """What the other readings alone lead one to expect."""
    expected_sd: float | None
    """Of the difference between that and the reading."""
    off: float | None
    """How far the reading lies from it, in standard deviations."""
    set_aside: bool
    """It does not fit: a misreading, or a fault at that time. It was not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterFit(Answer):
    """One parameter before and after, in SI; a model's multiplier about one."""

    key: Key
    """Object and field of the parameter."""
    label: str
    origin: str
    before: float
    before_sd: float
    after: float
    after_sd: float
    moved: float
    """In standard deviations of before."""
    left: float
    """Share of the standard deviation of before that is left."""
    stays: bool
    """Whether it stays in the machine when compressor, capillary and refrigerant change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuild(Answer):
    """One rebuild without and with what the readings say."""

    parts: Parts
    before: Mapping[str, Range]
    """Likely ranges without the calibration, by quantity."""
    after: Mapping[str, Range]
    """The same with it."""
    draws: int
    """Trial runs behind the ranges."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration(Answer):
    """What readings of the machine as it ran say of it, and of its rebuild."""

    job: JobSummary
    cautions: tuple[Caution, ...]
    """Local codes and licensed practice decide."""
    compressor: str
    refrigerant: str
    capillary: str
    readings: tuple[ReadingFit, ...]
    parameters: tuple[ParameterFit, ...]
    """Parameters of the machine that are known better now, best known first."""
    rooms: tuple[ParameterFit, ...]
    """The same of rooms, charge and power factor at the time."""
    ties: tuple[tuple[str, ...], ...]
    """Groups of parameters that the readings could not tell apart."""
    independent: float
    """How many independent numbers the readings tell."""
    coil_contents_multiplier: float
    """First of the two terms that correct the charge: on what the coils hold."""
    coil_contents_multiplier_sd: float
    liquid_left_out: Annotated[
        float, Q("volume", doc="Second of them: liquid that stands where nobody measured.")
    ]
    liquid_left_out_sd: Annotated[float, Q("volume")]
    settled: bool
    """Whether the search came to rest."""
    notes: tuple[str, ...]
    rebuild: Rebuild | None = None
    """None when no combination of parts was named."""
    posterior: Annotated[MachinePosterior, Hidden()]

    @property
    def set_aside(self) -> tuple[ReadingFit, ...]:
        """Readings that do not fit."""
        return tuple(r for r in self.readings if r.set_aside)


def _fit(machine: KnownMachine, first: np.ndarray, start: np.ndarray | None = None) -> Posterior:
    return most_probable(
        machine.predict,
        measured=np.array([r.known.value for r in machine.readings]),
        spread=np.array([_error(r) for r in machine.readings]),
        parameters=len(machine.parameters),
        start=start,
        first=first,
    )


# Cost for each reading, half a squared standard deviation where all is well, above which a search
# is begun again elsewhere; from there, in standard deviations of what the coils hold.
_POOR: Final = 0.75
_ELSEWHERE: Final = (-1.5, 1.5)


def _fit_from_afar(machine: KnownMachine, first: np.ndarray) -> Posterior:
    """A first fit; a search may come to rest beside a kink, as where the evaporator floods."""
    best = _fit(machine, first)
    for move in _ELSEWHERE:
        if best.cost > _POOR * len(machine.readings):
            start = np.zeros(len(machine.parameters))
            start[machine.keys.index(_INVENTORY)] = move
            again = _fit(machine, first, start)
            best = again if again.cost < best.cost else best
    return best


def _error(reading: Reading) -> float:
    """Standard deviation of a reading; one said to be exact is given a thousandth. [SI]"""
    return max(reading.known.sd, 1e-3 * abs(reading.known.value), 1e-12)


def calibrate(job: Job) -> Calibration:
    """Fit the parameters of the machine as it ran to everything it showed.

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
    machine = known_machine(job)
    everything = machine.readings
    start = np.zeros(len(machine.parameters))
    before = machine.predict(start)
    assert before is not None  # it was solved there
    everywhere = range(len(start))
    first = slopes(machine.predict, start, everywhere, step=FIRST_STEP, at=before, both=False)
    posterior = _fit_from_afar(machine, first)
    aside: list[Reading] = []
    most = max(1, len(everything) // 3)
    while len(aside) < most and len(machine.readings) > 2:  # of two nothing says which is wrong
        posterior, first, doubtful = _without_the_worst(machine, posterior, first)
        if doubtful is None:
            break
        aside.append(doubtful)
    return _answer(machine, posterior, everything, before.tolist(), aside)


# Readings tried without, at most, before one is set aside.
_SUSPECTS: Final = 3


_SAME_WAY: Final = 1.0  # standard deviations from which two readings are off alike


def _agreed(machine: KnownMachine, posterior: Posterior, left_out: Reading, off: float) -> bool:
    """Whether another run shows the same quantity off the same way as a reading left out.

    Then the description of the machine is wrong, and not the reading.
    """
    predicted = machine.predict(posterior.mean)
    return predicted is not None and any(
        one.key == left_out.key
        and one.run != left_out.run
        and math.copysign(1.0, off) * (one.known.value - value) > _SAME_WAY * one.known.sd
        for one, value in zip(machine.readings, predicted, strict=True)
    )


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
        kept = np.delete(first, i, axis=0)
        without = _fit(machine, kept, posterior.mean)
        expected, spread = _unused(machine, without, everything[i])
        off = everything[i].known.value - expected
        far = abs(off) / spread
        if far > farthest and _agreed(machine, without, everything[i], off):
            continue
        if far > farthest:
            worst, farthest = (i, without, kept), far
        elif far <= MISFIT and worst is None:
            machine.readings = everything
            again = _fit(machine, first, without.mean)
            posterior = again if again.cost < posterior.cost else posterior
    if worst is None:
        machine.readings = everything
        return posterior, first, None
    i, without, kept = worst
    machine.readings = (*everything[:i], *everything[i + 1 :])
    return without, kept, everything[i]


def _answer(
    machine: KnownMachine,
    posterior: Posterior,
    everything: tuple[Reading, ...],
    before: list[float],
    aside: list[Reading],
) -> Calibration:
    sd = np.sqrt(np.diag(posterior.covariance))
    mine = [i for i, key in enumerate(machine.keys) if _of_the_machine(key)]
    told = [i for i in range(len(sd)) if 1.0 - sd[i] ** 2 >= _TOLD or abs(posterior.mean[i]) > 0.5]
    told.sort(key=lambda i: float(sd[i]))
    readings = _readings(machine, posterior, everything, before, aside)
    contents = _parameter(machine, posterior, machine.keys.index(_INVENTORY))
    left_out = _parameter(machine, posterior, machine.keys.index(_LEFT_OUT))
    known = MachinePosterior(
        parameters=tuple(machine.parameters[i] for i in mine),
        mean=posterior.mean[mine],
        covariance=posterior.covariance[np.ix_(mine, mine)],
        parts=parts_of(machine.compressor, machine.refrigerant.name, machine.capillary),
        readings=len(machine.readings),
    )
    clear = {"over-limit"}  # nothing is let in
    if machine.refrigerant.name == machine.job.original.refrigerant:
        clear.add("conversion")
    return Calibration(
        job=summary_of(replace(machine.job, posterior=known)),
        cautions=cautions_of([machine.refrigerant.name], work={"planning"}, clear=clear),
        compressor=machine.compressor.name,
        refrigerant=machine.refrigerant.name,
        capillary=machine.capillary.name,
        readings=readings,
        parameters=tuple(_parameter(machine, posterior, i) for i in told if i in mine),
        rooms=tuple(_parameter(machine, posterior, i) for i in told if i not in mine),
        ties=tuple(
            tuple(machine.parameters[i].label for i in group)
            for group in inseparable(posterior, sorted(mine, key=lambda i: float(sd[i])))
        ),
        independent=posterior.learned,
        coil_contents_multiplier=contents.after,
        coil_contents_multiplier_sd=contents.after_sd,
        liquid_left_out=left_out.after,
        liquid_left_out_sd=left_out.after_sd,
        settled=posterior.settled,
        notes=_notes(machine, posterior, readings),
        posterior=known,
    )


def _of_the_machine(key: Key) -> bool:
    """Whether a parameter belongs to the machine, not to one run, the charge or the mains."""
    return key[0] != "run" and key not in (("original", "charge"), ("supply", "voltage"))


def _readings(
    machine: KnownMachine,
    posterior: Posterior,
    everything: tuple[Reading, ...],
    before: list[float],
    aside: list[Reading],
) -> tuple[ReadingFit, ...]:
    """Every reading against the fit, those set aside included."""
    names = {run.number: run.name for run in machine.runs}
    used = {id(r): k for k, r in enumerate(machine.readings)}
    found = []
    for r, was in zip(everything, before, strict=True):
        j = used.get(id(r))
        if j is not None:
            after = float(posterior.predicted[j])
            expected, spread = float(posterior.expected[j]), float(posterior.expected_sd[j])
            off = float(posterior.surprise[j])
        else:
            after, spread = _unused(machine, posterior, r)
            expected = after
            off = (r.known.value - after) / spread
        found.append(
            ReadingFit(
                run=names[r.run],
                key=r.key,
                unit=SI_UNITS[READINGS[r.key].kind].replace("_per_", "/"),
                measured=r.known.value,
                sd=_error(r),
                origin=r.known.origin,
                before=was,
                after=after,
                expected=expected,
                expected_sd=spread,
                off=off,
                set_aside=r in aside,
            )
        )
    return tuple(found)


def _unused(machine: KnownMachine, posterior: Posterior, reading: Reading) -> tuple[float, float]:
    """What the fit expects of a reading that was set aside, and how surely. [SI]"""
    run = next(r for r in machine.runs if r.number == reading.run)

    def one(z: np.ndarray) -> np.ndarray | None:
        balance = machine.balance(run, z)
        return None if balance is None else np.array([machine.shown(reading, balance)])

    at = one(posterior.mean)
    if at is None:
        return math.nan, math.inf
    g = slopes(one, posterior.mean, range(len(posterior.mean)), step=FIRST_STEP, at=at)[0]
    return float(at[0]), math.sqrt(float(g @ posterior.covariance @ g) + _error(reading) ** 2)


def _parameter(machine: KnownMachine, posterior: Posterior, i: int) -> ParameterFit:
    p = machine.parameters[i]
    z, left = float(posterior.mean[i]), math.sqrt(float(posterior.covariance[i, i]))
    if p.key[0] == "model":  # log-normal about one
        after = math.exp(p.sd * z)
        after_sd = after * p.sd * left
    else:
        after, after_sd = p.value + p.sd * z, p.sd * left
    return ParameterFit(
        key=p.key,
        label=p.label,
        origin=p.origin,
        before=p.value,
        before_sd=p.sd,
        after=after,
        after_sd=after_sd,
        moved=z,
        left=left,
        stays=stays(p),
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
            "shown is still what was assumed before"
        )
    if not keys & {"suction_pressure", "head_pressure"}:
        found.append(
            "no gauge was read: what the compressor does cannot be told from what the coils do"
        )
    if keys and not keys & {"power", "current"}:
        found.append("no watts and no amperes: nothing is learned of the compressor's losses")
    if not posterior.settled:
        found.append("the search did not come to rest: the readings contradict the machine")
    if any(f.off is not None and abs(f.off) > MISFIT for f in fits if not f.set_aside):
        found.append(
            "readings and machine disagree, and the readings are too few to say which is wrong: "
            "check the parts in the job and every reading"
        )
    if machine.job.original.charge is None and all(r.charge is None for r in machine.runs):
        found.append("the charge was not weighed: it was fitted too, and says little")
    return tuple(found)


@functools.lru_cache(maxsize=8)
def _posterior(job: Job) -> MachinePosterior:
    return calibrate(job).posterior


def calibrated(job: Job) -> Job:
    """The same job, calibrated to the machine as it ran if it has readings of it."""
    if job.posterior is not None or not runs_of(job):
        return job
    return replace(job, posterior=_posterior(job))


def with_rebuild(
    found: Calibration,
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 64,
) -> Calibration:
    """The calibration with the ranges of one rebuild, without it and with it.

    The tube is that of the calibrated rebuild in both, so that the same machine is compared.

    Parameters
    ----------
    job : Job
        The one that was calibrated.
    compressor, refrigerant, capillary, length
        Of the rebuild; as :func:`sweatline.assembly.build.build_for` takes them.
    draws : int
        Trial runs, taken up to the next power of two.
    """
    target = filled(superheat=job.targets.superheat)
    plain, taught = replace(job, posterior=None), replace(job, posterior=found.posterior)
    choice = {"compressor": compressor, "capillary": capillary}
    build = build_for(taught, refrigerant=refrigerant, length=length, **choice)
    ranges = []
    for one in (plain, taught):
        same = build_for(one, refrigerant=refrigerant, length=build.length, **choice)
        balance = same.solve(target, near=same.designed)
        runs = trials(same, balance, target, count=draws)
        ranges.append(ranges_of(solved_of(runs)))
    rebuild = Rebuild(parts=build.parts, before=ranges[0], after=ranges[1], draws=draws)
    return replace(found, rebuild=rebuild)
