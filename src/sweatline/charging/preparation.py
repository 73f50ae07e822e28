"""What a charging needs before anything is read: the build, its best values, its charge prior.

Sampled machines are carried along their charge, and what they show there is what readings will be
held against. Sampling takes seconds, and the answer depends only on the job, the parts and this
program. So it is kept beside the compiled kernels, under a name made from all of these: a changed
number, part or line of code has another name and is worked out anew. A file that is missing,
damaged or of another shape is worked out anew too; a folder that cannot be written costs the time
and nothing else.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build, build_for
from sweatline.assembly.trial_runs import TRIAL_TOLERANCE
from sweatline.charging.dosing import LOGARITHMIC, READINGS, ChargePrior
from sweatline.compiled import cache_folder
from sweatline.design.verdict import Verdict
from sweatline.design.verdicts import judge, judged
from sweatline.errors import SolveError
from sweatline.job.model import Job
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState, filled, fixed_charge, solve
from sweatline.refrigerant.table import Table, saturation, saturation_transport
from sweatline.uncertainty.sensitivity import normal_samples

FloatArray = NDArray[np.float64]

# Of the charge that fills a machine; close where superheat and subcooling come and go.
_SHARES: Final = np.array(
    [0.45, 0.55, 0.64, 0.72, 0.79, 0.85, 0.90, 0.94, 0.97, 1.0, 1.03, 1.06, 1.10, 1.15, 1.22, 1.35]
)
_FEWEST: Final = 24  # samples

_CODE: Final = ("*.py", "*.npz", "*.csv", "*.json", "*.toml")
_FOLDER: Final = "charge-priors"
_MOST_FILES: Final = 40  # some 100 kB each


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A machine about to be charged, and what is known of it before anything is read."""

    build: Build
    full: SteadyState  # charged right, by the job's best values
    barred: str  # why it must not be charged at all; empty when it may be
    foreseen: tuple[Verdict, ...]  # what will be wrong with it when it is charged right
    prior: ChargePrior | None  # None where it is barred


def prepare(
    job: Job,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """Everything that is worked out once, before the first reading.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    build = build_for(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    return prepare_build(build, well_charged(build), draws=draws, progress=progress)


def well_charged(build: Build) -> SteadyState:
    """The machine charged right, by the job's best values.

    Raises
    ------
    SolveError
        These parts have no balance.
    """
    return build.solve(filled(superheat=build.job.targets.superheat), near=build.designed)


def prepare_build(
    build: Build,
    full: SteadyState,
    *,
    simulated: bool = False,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> Prepared:
    """The same of parts already put together.

    Parameters
    ----------
    full : SteadyState
        Of `well_charged`.
    simulated : bool
        The machine is a simulated one, which may be charged whatever it would do to a real one.

    Raises
    ------
    SolveError
        Hardly any of the machines that this one may be has a balance.
    """
    found = judge(build, full, None, (), judged(build, ()))
    failing = tuple(v for v in found if v.state == "fails")
    barred = "" if simulated else next((f"{v.fault}: {v.sentence}" for v in failing if v.final), "")
    prior = None
    if not barred:

        def made() -> Mapping[str, FloatArray]:
            return asdict(charge_prior(build, full, draws=draws, progress=progress))

        prior = ChargePrior(**cached(cache_key(build, draws), made))
    return Prepared(build=build, full=full, barred=barred, foreseen=failing, prior=prior)


def charge_prior(
    build: Build,
    full: SteadyState,
    *,
    draws: int = 128,
    progress: Callable[[], None] | None = None,
) -> ChargePrior:
    """What sampled machines show at shares of the charge that fills each.

    Raises
    ------
    SolveError
        Hardly any of the sampled machines has a balance.
    """
    table = build.refrigerant.table
    target = filled(superheat=build.job.targets.superheat)
    middle = int(np.flatnonzero(_SHARES == 1.0)[0])
    readings, best = [], []
    for z in normal_samples(len(build.parameters), draws):
        if progress is not None:
            progress()
        machine, line = build.moved(build.by_key(z))
        try:
            first = solve(table, line, machine, target, near=full, tolerance=TRIAL_TOLERANCE)
        except SolveError:
            continue
        curve = np.full((_SHARES.size, len(READINGS)), np.nan)
        curve[middle] = _curve_point(table, first)
        # From the full machine outwards, so that each state is next to one already known.
        for way in (range(middle - 1, -1, -1), range(middle + 1, _SHARES.size)):
            near, at, rate = first, 1.0, np.zeros(4)
            for i in way:
                step = float(_SHARES[i] - at)
                start = np.array(near.unknowns)
                try:
                    found = solve(
                        table,
                        line,
                        machine,
                        fixed_charge(float(_SHARES[i]) * first.charge),
                        near=near,
                        guess=start + step * rate,
                        tolerance=TRIAL_TOLERANCE,
                    )
                except SolveError:
                    break
                rate = (np.array(found.unknowns) - start) / step
                curve[i] = _curve_point(table, found)
                near, at = found, float(_SHARES[i])
        readings.append(curve)
        best.append(first.charge)
    if len(best) < _FEWEST:
        raise SolveError(
            condition="of the machines that this one may be, hardly any fills its evaporator",
            tried=(f"{draws} sampled machines",),
        )
    return ChargePrior(shares=_SHARES.copy(), readings=np.array(readings), best=np.array(best))


def _curve_point(table: Table, b: SteadyState) -> list[float]:
    """Readings of a balance; superheat and subcooling go on below zero as what is missing."""
    _tb, _td, _hl, hv, *_ = saturation(table, b.suction_pressure)
    superheat = b.superheat
    if b.suction_quality < 1.0:
        evaporation = hv - saturation(table, b.suction_pressure)[2]
        capacity = saturation_transport(table, b.suction_pressure)[5]
        superheat = (b.suction_quality - 1.0) * evaporation / capacity
    subcooling = b.subcooling
    if b.liquid_quality > 0.0:
        _tb, _td, hl, hv, *_ = saturation(table, b.liquid_pressure)
        capacity = saturation_transport(table, b.liquid_pressure)[4]
        subcooling = -b.liquid_quality * (hv - hl) / capacity
    derived = {
        "superheat": superheat,
        "subcooling": subcooling,
        "coldest surface": b.coil_temperature,
    }
    found = [
        float(derived[name] if name in derived else getattr(b, CHANNELS[name].state))
        for name in READINGS
    ]
    for j in LOGARITHMIC:
        found[j] = float(np.log(found[j]))
    return found


@functools.cache
def _code() -> bytes:
    """Fingerprint of everything here that an answer can depend on: sources and tables."""
    import scipy

    digest = hashlib.sha256(f"{np.__version__} {scipy.__version__}".encode())
    root = Path(__file__).resolve().parents[1]
    files = {f for pattern in _CODE for f in root.rglob(pattern)}
    for file in sorted(files):
        digest.update(str(file.relative_to(root)).encode())
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.digest()


def cache_key(build: Build, draws: int) -> str:
    """Name of what is known of one machine: another for any other job, parts or program."""
    digest = hashlib.sha256(_code())
    told = (
        build.job,
        build.compressor,
        build.refrigerant.name,
        build.capillary,
        build.length,
        build.cut,
        draws,
    )
    # The records of a job are plain dataclasses: their text holds every number with all its digits.
    digest.update(repr(told).encode())
    return digest.hexdigest()


def cached(
    name: str, made: Callable[[], Mapping[str, FloatArray]], *, folder: Path | None = None
) -> dict[str, FloatArray]:
    """Arrays kept under a name; made now, and kept if that is possible, when there are none.

    Parameters
    ----------
    folder : Path, optional
        By default one beside the compiled kernels.
    """
    if folder is None:
        folder = cache_folder() / _FOLDER
    place = folder / f"{name[:32]}.npz"
    found = _read(place, name)
    if found is not None:
        return found
    arrays = {key: np.asarray(a, dtype=np.float64) for key, a in made().items()}
    with contextlib.suppress(OSError):
        _write(place, name, arrays)
    return arrays


def _read(place: Path, name: str) -> dict[str, FloatArray] | None:
    """What is kept there under this name; the archive's own check finds other damage."""
    try:
        with place.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            found = {key: archive[key] for key in archive.files}
    except (OSError, ValueError, EOFError, zipfile.BadZipFile, KeyError):
        return None
    return found if str(found.pop("name", "")) == name else None


def _write(place: Path, name: str, arrays: Mapping[str, FloatArray]) -> None:
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, temporary = tempfile.mkstemp(dir=place.parent, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            np.savez(file, name=np.array(name), **arrays)  # type: ignore[arg-type]
        Path(temporary).replace(place)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(temporary).unlink()
        raise
    old = sorted(place.parent.glob("*.npz"), key=lambda f: f.stat().st_mtime)
    for spare in old[:-_MOST_FILES]:
        spare.unlink(missing_ok=True)
