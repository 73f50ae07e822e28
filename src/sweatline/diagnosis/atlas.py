"""What a machine shows with each fault, at each charge, solved before anything is read.

Charge counts in shares of what fills the machine's own evaporator: told so, machines that a job
does not tell apart are much alike, and what still differs goes nearly straight with each parameter
of the job. The atlas holds the traits of machines along their charge, their slopes in every
parameter (the change for one standard deviation), the traits with every fault in several sizes,
what a fault does to the slopes, and what two faults do together beyond the sum of what each does.
What is not straight is measured: some machines with all parameters drawn are solved, and what the
slopes miss of them counts as further parameters. A state that has no balance is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build, build_for
from sweatline.assembly.kept import cached, kept_name
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.constants import ZERO_CELSIUS
from sweatline.diagnosis.causes import CAUSES, Cause
from sweatline.diagnosis.faults import FAULTS, OTHER_COMPRESSOR, Fault, faulted
from sweatline.diagnosis.observed import TRAITS, Seen, traits_of
from sweatline.errors import SolveError
from sweatline.job.model import Job
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.machine.circuit import MachineParameters
from sweatline.uncertainty.parameter import Key

FloatArray = NDArray[np.float64]

SHARES: Final = np.array(
    [0.35, 0.45, 0.55, 0.65, 0.74, 0.82, 0.88, 0.94, 1.0, 1.06, 1.12, 1.20, 1.32, 1.48, 1.70]
)
_SLOPED: Final = np.array([0.35, 0.55, 0.74, 0.88, 1.0, 1.12, 1.32, 1.70])  # of those, for slopes
_STEP: Final = 1.0  # standard deviations
# Of the shares, those at which it is measured what is not straight; on how many machines.
_CHECKED: Final = np.array([0.55, 0.82, 1.0, 1.20, 1.48])
_MACHINES: Final = 20
# Shares and places among its sizes at which a fault is solved together with another.
TOGETHER_SHARES: Final = np.array([0.88, 1.0, 1.12])
TOGETHER_SIZES: Final = (1, 3)
SLOPED_SIZE: Final = 2  # place of the size at which a fault's slopes are solved, charged right
_MATTERS: Final = 0.1  # of what all parameters do to a trait; below, a fault's slopes are left
_SEED: Final = 20_011


@dataclass(frozen=True, slots=True, kw_only=True)
class Atlas:
    """Traits of all states, NaN where there is no balance; x shares, t traits, p parameters."""

    healthy: FloatArray  # (x, t)
    slopes: FloatArray  # (x, p + n, t), for one standard deviation; n of what is not straight
    faults: Mapping[str, FloatArray]  # of each cause of the machine (s, x, t)
    bent: Mapping[str, FloatArray]  # what each does to the slopes (p + n, t)
    # What two do beyond the sum of both, at sizes, sizes and shares that were solved (2, 2, 3, t).
    together: Mapping[tuple[str, str], FloatArray]
    keys: tuple[Key, ...]  # (p,)
    ambient: float  # K, round the tubes


def _room(job: Job, z: Mapping[Key, float]) -> tuple[float, float]:
    t, rh = job.room.temperature, job.room.relative_humidity
    return (
        t.at(z.get(("room", "temperature"), 0.0)),
        min(max(rh.at(z.get(("room", "relative_humidity"), 0.0)), 0.01), 1.0),
    )


def seen_with(
    build: Build, causes: Sequence[tuple[Cause, float]], z: Mapping[Key, float] | None = None
) -> Callable[[float, SteadyState | None], Seen]:
    """A machine with faults of these sizes, to be asked for its state at a charge. [kg]

    Raises
    ------
    SolveError
        By the function returned: there is no balance.
    """
    machine, line = (build.machine, build.line) if not z else build.moved(z)
    for cause, size in causes:
        machine = _with(machine, cause, size, build)
    table, room = build.refrigerant.table, _room(build.job, z or {})

    def at(charge: float, near: SteadyState | None) -> Seen:
        target = fixed_charge(charge)
        found = solve(
            table, line, machine, target, near=near, profiles=True, tolerance=TRIAL_TOLERANCE
        )
        return Seen(build, machine, found, room)

    return at


def _with(machine: MachineParameters, cause: Cause, size: float, build: Build) -> MachineParameters:
    kind = FAULTS.get(cause.fault, OTHER_COMPRESSOR)
    return faulted(machine, Fault(kind=kind, size=size), build)


def full_of(build: Build, z: Mapping[Key, float], near: SteadyState) -> SteadyState:
    """A machine without a fault, charged in its job's room until its evaporator is filled.

    Raises
    ------
    SolveError
        No charge fills it.
    """
    machine, line = build.moved(z) if z else (build.machine, build.line)
    target = filled(superheat=build.job.targets.superheat)
    return solve(
        build.refrigerant.table, line, machine, target, near=near, tolerance=TRIAL_TOLERANCE
    )


def _curve(
    at: Callable[[float, SteadyState | None], Seen],
    best: float,
    near: SteadyState,
    shares: FloatArray = SHARES,
) -> FloatArray:
    """Traits along the charge, from the full machine outwards. (x, t)"""
    found = np.full((shares.size, len(TRAITS)), np.nan)
    full = int(np.flatnonzero(shares == 1.0)[0])
    for way in (range(full, -1, -1), range(full + 1, shares.size)):
        beside = near
        for i in way:
            try:
                seen = at(float(shares[i]) * best, beside)
            except SolveError:
                break
            beside = seen.balance
            found[i] = traits_of(seen)
    return found


def made_atlas(
    build: Build,
    here: Build | None = None,
    *,
    progress: Callable[[float], None] | None = None,
) -> Atlas:
    """Atlas of a machine.

    Parameters
    ----------
    build : Build
        In the room of its job, where it is charged right.
    here : Build, optional
        The same parts in the room where it was read.

    Raises
    ------
    SolveError
        No charge fills its evaporator.
    """
    here = here or build
    tell = progress or (lambda _done: None)
    full = build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)
    best = full.charge
    healthy = _curve(seen_with(here, ()), best, full)
    keys = tuple(p.key for p in here.parameters)
    few = along(healthy, SHARES, _SLOPED)
    slopes = np.zeros((_SLOPED.size, len(keys), len(TRAITS)))
    filled_with: dict[Key, SteadyState] = {}
    for i, key in enumerate(keys):
        tell(0.4 * i / len(keys))
        z = {key: _STEP}
        try:
            mine = filled_with[key] = full_of(build, z, full)
        except SolveError:
            continue
        found = _curve(seen_with(here, (), z), mine.charge, mine, _SLOPED)
        slopes[:, i] = np.nan_to_num((found - few) / _STEP)
    flat = along(slopes.reshape(_SLOPED.size, -1), _SLOPED, SHARES)
    slopes = flat.reshape(SHARES.size, len(keys), len(TRAITS))
    middle, rest = _not_straight(here, full, healthy, slopes, keys)
    right = slopes[int(np.flatnonzero(SHARES == 1.0)[0])]  # (p, t)
    all_of = np.sqrt((right**2).sum(axis=0))
    matters = (np.abs(right) > _MATTERS * all_of).any(axis=1)
    full_with = {
        key: filled_with[key]
        for key, told in zip(keys, matters, strict=True)
        if told and key in filled_with
    }
    machine_causes = [c for c in CAUSES.values() if c.part == "machine"]
    faults, bent = {}, {}
    for n, cause in enumerate(machine_causes):
        tell(0.5 + 0.3 * n / len(machine_causes))
        curves, near = [], full
        for size in cause.sizes:
            at = seen_with(here, [(cause, size)])
            try:
                near = at(best, near).balance
            except SolveError:
                curves.append(np.full(healthy.shape, np.nan))
                continue
            curves.append(_curve(at, best, near) + middle)
        faults[cause.key] = np.array(curves)
        bent[cause.key] = np.zeros((len(keys) + rest.shape[1], len(TRAITS)))
        bent[cause.key][: len(keys)] = _slopes_with(here, cause, full, full_with, right, keys)
    together = {}
    pairs = [p for p in combinations(machine_causes, 2) if p[0].fault != p[1].fault]
    for n, (a, b) in enumerate(pairs):
        tell(0.8 + 0.2 * n / len(pairs))
        both = np.array(
            [
                [_at_right(here, [(a, a.sizes[i]), (b, b.sizes[j])], full) for j in TOGETHER_SIZES]
                for i in TOGETHER_SIZES
            ]
        )
        alone = healthy + middle, faults[a.key], faults[b.key]
        x = np.searchsorted(SHARES, TOGETHER_SHARES)
        none, first, second = (f[..., x, :] for f in alone)
        s = list(TOGETHER_SIZES)
        sums = first[s][:, None] + second[s][None] - none - middle[x]
        together[a.key, b.key] = np.nan_to_num(both - sums)
    return Atlas(
        healthy=healthy + middle,
        slopes=np.concatenate([slopes, rest], axis=1),
        faults=faults,
        bent=bent,
        together=together,
        keys=keys,
        ambient=here.machine.air.ambient,
    )


def _at_right(here: Build, causes: Sequence[tuple[Cause, float]], full: SteadyState) -> FloatArray:
    """Traits with faults about the right charge. (x, t)"""
    at = seen_with(here, causes)
    try:
        near = at(full.charge, full).balance
    except SolveError:
        return np.full((TOGETHER_SHARES.size, len(TRAITS)), np.nan)
    return _curve(at, full.charge, near, TOGETHER_SHARES)


def _slopes_with(
    here: Build,
    cause: Cause,
    full: SteadyState,
    full_with: Mapping[Key, SteadyState],
    right: FloatArray,
    keys: Sequence[Key],
) -> FloatArray:
    """What a fault does to the slopes of a machine that is charged right. (p, t)"""
    found = np.zeros(right.shape)
    fault = (cause, cause.sizes[SLOPED_SIZE])
    try:
        middle = seen_with(here, [fault])(full.charge, full)
    except SolveError:
        return found
    for i, key in enumerate(keys):
        if key not in full_with:
            continue
        try:
            moved = seen_with(here, [fault], {key: _STEP})(full_with[key].charge, middle.balance)
        except SolveError:
            continue
        found[i] = (traits_of(moved) - traits_of(middle)) / _STEP - right[i]
    return found


def near_right(shares: FloatArray) -> FloatArray:
    """How far what is solved at the right charge holds at others: judged."""
    return np.interp(shares, (0.74, 0.88, 1.12, 1.32), (0.0, 1.0, 1.0, 0.0))


def _not_straight(
    here: Build, full: SteadyState, healthy: FloatArray, slopes: FloatArray, keys: Sequence[Key]
) -> tuple[FloatArray, FloatArray]:
    """What straight lines miss of drawn machines: its mean (x, t), and its spread (x, n, t)."""
    at = np.searchsorted(SHARES, _CHECKED)
    missed = np.full((_MACHINES, at.size, len(TRAITS)), np.nan)
    draws = np.random.default_rng(_SEED).standard_normal((_MACHINES, len(keys)))
    for n, draw in enumerate(draws):
        z = dict(zip(keys, draw, strict=True))
        try:
            mine = full_of(here, z, full)
        except SolveError:
            continue
        found = _curve(seen_with(here, (), z), mine.charge, mine, _CHECKED)
        missed[n] = found - healthy[at] - np.einsum("p,xpt->xt", draw, slopes[at])
    count = np.maximum(np.isfinite(missed).sum(axis=0), 1)
    middle = np.nansum(missed, axis=0) / count
    rest = np.nan_to_num(missed - middle) / np.sqrt(count)
    flat = np.concatenate([middle[:, None], rest.transpose(1, 0, 2)], axis=1).reshape(at.size, -1)
    every = np.clip(SHARES, _CHECKED[0], _CHECKED[-1])
    both = along(flat, _CHECKED, every).reshape(SHARES.size, -1, len(TRAITS))
    return both[:, 0], both[:, 1:]


def along(values: FloatArray, at: FloatArray, fine: FloatArray) -> FloatArray:
    """Values (k, ...) known at some shares, at others (n, ...); NaN beyond what has a balance."""
    found = np.full((fine.size, values.shape[1]), np.nan)
    good = np.isfinite(values).all(axis=1)
    if good.sum() >= 2:
        x = at[good]
        inside = (fine >= x[0] - 1e-9) & (fine <= x[-1] + 1e-9)
        for k in range(values.shape[1]):
            found[inside, k] = np.interp(fine[inside], x, values[good, k])
    return found


def atlas_of(
    build: Build,
    *,
    room_temperature: float | None = None,
    room_humidity: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Atlas:
    """Atlas of a machine, kept for the next time. Where its room was read, it is that room's.

    Parameters
    ----------
    room_temperature, room_humidity : float, optional
        As read. [K], [0..1] The atlas is made for a round number near by, and what is left is one
        of its parameters.
    """
    here = build
    if room_temperature is not None or room_humidity is not None:
        room = build.job.room
        t, rh = room.temperature, room.relative_humidity
        if room_temperature is not None:
            near = ZERO_CELSIUS + round((room_temperature - ZERO_CELSIUS) / 2.0) * 2.0
            t = replace(t, value=near, sd=1.5)
        if room_humidity is not None:
            rh = replace(rh, value=min(max(round(room_humidity / 0.1), 1), 9) * 0.1, sd=0.06)
        job = replace(build.job, room=replace(room, temperature=t, relative_humidity=rh))
        here = elsewhere(build, job)

    def made() -> Mapping[str, FloatArray]:
        found = made_atlas(build, here, progress=progress)
        arrays = {"healthy": found.healthy, "slopes": found.slopes}
        arrays |= {f"fault {key}": value for key, value in found.faults.items()}
        arrays |= {f"bent {key}": value for key, value in found.bent.items()}
        return arrays | {f"pair {a} + {b}": value for (a, b), value in found.together.items()}

    arrays = cached(kept_name(here, "atlas", build.job.room), made)

    def of(kind: str) -> dict[str, FloatArray]:
        start = f"{kind} "
        return {k.removeprefix(start): v for k, v in arrays.items() if k.startswith(start)}

    return Atlas(
        healthy=arrays["healthy"],
        slopes=arrays["slopes"],
        faults=of("fault"),
        bent=of("bent"),
        together={
            (a, b): v for pair, v in of("pair").items() for a, _, b in [pair.partition(" + ")]
        },
        keys=tuple(p.key for p in here.parameters),
        ambient=here.machine.air.ambient,
    )


def elsewhere(build: Build, job: Job) -> Build:
    """The same parts with another room."""
    return build_for(
        job,
        compressor=job.compressors.index(build.compressor),
        refrigerant=build.refrigerant.name,
        capillary=job.capillaries.index(build.capillary),
        length=build.length,
    )
