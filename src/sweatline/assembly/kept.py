"""What is worked out once of a machine before anything is read, kept for the next time.

It takes seconds and depends only on the job, the parts and this program. So it is kept beside the
compiled kernels, under a name made from all of these: a changed number, part or line of code has
another name and is worked out anew. A file that is missing, damaged or of another shape is worked
out anew too; a folder that cannot be written costs the time and nothing else.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import tempfile
import threading
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from sweatline.assembly.build import Build
from sweatline.compiled import cache_folder

FloatArray = NDArray[np.float64]

_CODE: Final = ("*.py", "*.npz", "*.csv", "*.json", "*.toml")
_FOLDER: Final = "machines"
_MOST_FILES: Final = 40  # of 30 to 600 kB
_MAKING: Final[dict[Path, threading.Lock]] = {}  # who asks for what is being made waits for it


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


def kept_name(build: Build, *more: object) -> str:
    """Name of what is known of a machine: another for any other job, parts or program.

    Where the job's file is and how it is worded is left out: the same numbers are the same machine.
    """
    digest = hashlib.sha256(_code())
    told = (
        replace(build.job, path="", digest=""),
        build.compressor,
        build.refrigerant.name,
        build.capillary,
        build.length,
        build.cut,
        *more,
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
    with _MAKING.setdefault(place, threading.Lock()):
        found = _read(place, name)
        if found is not None:
            with contextlib.suppress(OSError):
                os.utime(place)  # what is in use is not the oldest
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
