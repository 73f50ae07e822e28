"""The numerical kernels on their way: compiled behind the first screen, by a process of their own.

A compiler holds up everything else in its process for seconds at a time; what it makes is kept on
the disk and loaded from there. Nothing here imports it before the first screen was served.
"""

from __future__ import annotations

import importlib
import subprocess
import sys
import threading
from typing import Final

from sweatline.errors import SolveError

_WORK: Final = "sweatline.design.first_compile"
# It gives way to the page, where the system knows how.
_PROGRAM: Final = f"""
import os
getattr(os, "nice", int)(10)
import {_WORK}
{_WORK}.compile_solver()
"""


class Kernels:
    """How far the kernels of the solver are."""

    def __init__(self) -> None:
        self.problem = ""
        self._begun = threading.Lock()
        self._loaded = threading.Event()
        self._done = threading.Event()
        self._closed = False
        self._compiler: subprocess.Popen[bytes] | None = None

    def begin(self) -> None:
        """Load and compile in the background; the second time nothing happens."""
        if self._begun.acquire(blocking=False):
            threading.Thread(target=self._compile, name="kernels", daemon=True).start()

    @property
    def done(self) -> bool:
        """Answers start at once, or there is a problem."""
        return self._done.is_set()

    @property
    def share(self) -> float | None:
        """Share of the kernels that are compiled, 0 to 1; None until that can be told."""
        if not self._loaded.is_set():
            return None
        found: float = importlib.import_module(_WORK).compiled_share()
        return found

    def wait(self) -> None:
        """Stand by while they are being compiled: nobody compiles the same twice.

        Raises
        ------
        SolveError
            The page was ended meanwhile.
        """
        if self._begun.locked():
            self._done.wait()
        if self._closed:
            raise SolveError("the page was ended")

    def close(self) -> None:
        """Compile no further; what is kept stays."""
        self._closed = True
        self._done.set()
        if self._compiler is not None:
            self._compiler.terminate()

    def _compile(self) -> None:
        try:
            work = importlib.import_module(_WORK)
            self._loaded.set()
            if work.compiled_share() < 1.0 and not self._closed:
                nothing = subprocess.DEVNULL
                self._compiler = subprocess.Popen(
                    [sys.executable, "-c", _PROGRAM], stdin=nothing, stdout=nothing, stderr=nothing
                )
                self._compiler.wait()
            if not self._closed:
                work.compile_solver()  # from the disk; what is missing there is compiled here
        except Exception as error:  # told on the page; a question will tell it again
            self.problem = f"{type(error).__name__}: {error}"
        finally:
            self._done.set()
