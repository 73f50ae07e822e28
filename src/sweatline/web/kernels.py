"""The numerical kernels on their way: compiled behind the first screen, in a thread of their own.

Nothing here imports them before that thread does, for the compiler alone takes a second to load.
"""

from __future__ import annotations

import contextlib
import importlib
import threading
from typing import Final

_WORK: Final = "sweatline.design.first_compile"
_AFTER: Final = "sweatline.training.practice_machine"  # what nobody waits for


class Kernels:
    """How far the kernels of the solver are."""

    def __init__(self) -> None:
        self.problem = ""
        self._begun = threading.Lock()
        self._loaded = threading.Event()
        self._done = threading.Event()

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

    def _compile(self) -> None:
        try:
            work = importlib.import_module(_WORK)
            self._loaded.set()
            work.compile_solver()
        except Exception as error:  # told on the page; a question will tell it again
            self.problem = f"{type(error).__name__}: {error}"
        finally:
            self._done.set()
        with contextlib.suppress(Exception):  # who practises is told
            importlib.import_module(_AFTER).compile_practice()
