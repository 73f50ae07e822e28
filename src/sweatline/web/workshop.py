"""The folder that is served: its job files, its logs, and what is being calculated for them."""

from __future__ import annotations

import os
import sys
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from sweatline.errors import JobError, SolveError, SweatlineError
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.log.channels import SENSORS_FILE
from sweatline.units import Scale
from sweatline.web.kernels import Kernels

_KEPT: Final = 64  # calculations
_JOBS: Final = 16  # read, calibrated and kept
_BEHIND: Final = 5  # of 19, by which calculations give way
_WORKERS: Final = 2  # at once; each may use threads of its own


@dataclass(slots=True)
class Calculation:
    """One calculation on its way: the share done, then its answer or why there is none."""

    share: float = 0.0
    answer: Any = None
    problem: str = ""
    kernels: Kernels | None = None
    """What it may have to wait for before it begins."""
    finished: threading.Event = field(default_factory=threading.Event)

    @property
    def done(self) -> bool:
        """There is an answer, or a problem."""
        return self.finished.is_set()

    def run(self, work: Callable[[Callable[[float], None]], Any]) -> None:
        """Do the work, which is told how to say its share done, and keep what came of it."""

        def tell(share: float) -> None:
            self.share = share

        try:
            if self.kernels is not None:
                self.kernels.wait()
            self.answer = work(tell)
        except SolveError as error:
            self.problem = f"No balance: {error.condition}."
        except SweatlineError as error:
            self.problem = str(error)
        except Exception as error:  # a fault of ours: told, never a dead page
            self.problem = f"a fault of sweatline's own ({type(error).__name__}: {error})"
            if os.environ.get("SWEATLINE_DEBUG", "") not in ("", "0"):
                raise
        finally:
            self.finished.set()


def _give_way() -> None:
    """Let a calculation stand behind what follows a finger: Linux ranks threads one by one."""
    if sys.platform == "linux":
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _BEHIND)


class Calculations:
    """Runs what takes longer than a click, once for everybody who asks the same."""

    def __init__(self, kernels: Kernels | None = None) -> None:
        self._kernels = kernels
        self._pool = ThreadPoolExecutor(
            _WORKERS, thread_name_prefix="calculation", initializer=_give_way
        )
        self._held: OrderedDict[Hashable, Calculation] = OrderedDict()
        self._lock = threading.Lock()

    def ask(
        self, key: Hashable, work: Callable[[Callable[[float], None]], Any], *, wait: float = 0.0
    ) -> Calculation:
        """The calculation of a key, begun now if nobody asked before.

        Parameters
        ----------
        work : callable
            Takes a function that is told the share done; gives the answer.
        wait : float
            Longest time to stand by for the answer. [s]
        """
        with self._lock:
            found = self._held.get(key)
            if found is None:
                found = self._held[key] = Calculation(kernels=self._kernels)
                self._pool.submit(found.run, work)
                done = [k for k, c in self._held.items() if c.done]
                for old in done[: max(0, len(self._held) - _KEPT)]:
                    del self._held[old]
            self._held.move_to_end(key)
        found.finished.wait(wait)
        return found

    def close(self) -> None:
        """Begin nothing more."""
        self._pool.shutdown(wait=False, cancel_futures=True)


class Workshop:
    """A folder with job files (`*.toml`) and logs (`*.log`).

    Names in requests are stems of files that stand directly in it; nothing else is ever opened.

    Parameters
    ----------
    folder : Path
        What is served.
    first : str
        Stem of the job that was named on the command line; empty for none.
    """

    def __init__(self, folder: Path, first: str = "") -> None:
        self.folder = folder
        self.first = first
        self.kernels = Kernels()
        self.calculations = Calculations(self.kernels)
        self._taught: OrderedDict[str, Job] = OrderedDict()
        self._teaching = threading.Lock()
        self._read: dict[tuple[str, int, int], Job] = {}

    def _stems(self, ending: str) -> tuple[str, ...]:
        found = self.folder.glob(f"*{ending}")
        files = (p for p in found if p.is_file() and p.name != SENSORS_FILE)
        return tuple(sorted(p.name.removesuffix(ending) for p in files))

    @property
    def jobs(self) -> tuple[str, ...]:
        """Names of the job files."""
        return self._stems(".toml")

    @property
    def logs(self) -> tuple[str, ...]:
        """Names of the logs."""
        return self._stems(".log")

    def job_path(self, name: str) -> Path:
        """File of a job.

        Raises
        ------
        JobError
            There is none of this name in the folder.
        """
        return self._existing(name, self.jobs, ".toml", "job")

    def log_path(self, name: str) -> Path:
        """File of a log.

        Raises
        ------
        JobError
            There is none of this name in the folder.
        """
        return self._existing(name, self.logs, ".log", "log")

    def _existing(self, name: str, names: tuple[str, ...], ending: str, what: str) -> Path:
        if name not in names:
            allowed = f"here are {', '.join(names)}" if names else "none is here yet"
            raise JobError(what=f"no {what} of this name", read=name[:60], allowed=allowed)
        return self.folder / f"{name}{ending}"

    def new_path(self, name: str, ending: str) -> Path:
        """Place of a file to come.

        Raises
        ------
        JobError
            Not a plain name, or taken.
        """
        plain = name.replace("-", "").replace("_", "").replace(" ", "")
        if not plain.isalnum() or len(name) > 60:
            raise JobError(
                what="not a name for a file", read=name[:60], allowed="letters, digits and hyphens"
            )
        path = self.folder / f"{name.replace(' ', '-')}{ending}"
        if path.exists():
            raise JobError(what="there is a file of that name already", read=path.name)
        return path

    def job(self, name: str) -> Job:
        """Content of a job file as it stands now.

        Raises
        ------
        JobError
            No such job, or mistakes in it: one line for each.
        """
        path = self.job_path(name)
        at = path.stat()
        key = (name, at.st_mtime_ns, at.st_size)
        found = self._read.get(key)
        if found is None:
            found = self._read[key] = read_job(path)
            while len(self._read) > _JOBS:
                del self._read[next(iter(self._read))]
        return found

    def taught(self, job: Job) -> Job:
        """The job, calibrated to the machine as it ran when it has readings of it.

        For work that is on its way: the first calibration of a job takes a while.
        """
        # Only here: the first screen is served before anything that is compiled is imported.
        from sweatline.assembly.calibration import calibrated

        with self._teaching:
            if job.digest not in self._taught:
                self._taught[job.digest] = calibrated(job)
                while len(self._taught) > _JOBS:
                    self._taught.popitem(last=False)
            return self._taught[job.digest]

    def scale(self, name: str) -> Scale:
        """Units in which a job's numbers are shown."""
        job = self.job(name)
        return Scale(job.unit_system, job.place.atmospheric_pressure)
