"""Logs that pages follow: the rows of each are read once, whoever writes into it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from sweatline.log.data_quality import DataQuality
from sweatline.log.logbook import open_log
from sweatline.log.store import Log

_MOST: Final = 32  # logs that are kept read


class Followed:
    """A log and what holds of it, for one reader or writer at a time."""

    def __init__(self, path: Path) -> None:
        self._lock = threading.Lock()
        self._path = path
        self._quality: DataQuality | None = None

    @contextmanager
    def open(self) -> Iterator[tuple[Log, DataQuality]]:
        """The log, and its quality up to its last row.

        Raises
        ------
        StoreError
            It cannot be read.
        """
        with self._lock, open_log(str(self._path)) as log:
            facts = log.about()
            known = self._quality
            if known is None or known.refrigerant != facts.get("refrigerant", ""):
                known = self._quality = DataQuality(facts)
            known.catch_up(log)
            yield log, known

    def read(self) -> None:
        """Read what was not read yet."""
        with self.open():
            pass


_followed: OrderedDict[tuple[Path, int], Followed] = OrderedDict()
_lock = threading.Lock()


def follow_log(path: Path) -> Followed:
    """The log of a file that is there; another file in its place is another log."""
    key = (path, path.stat().st_ino)
    with _lock:
        found = _followed.setdefault(key, Followed(path))
        _followed.move_to_end(key)
        while len(_followed) > _MOST:
            _followed.popitem(last=False)
    return found
