"""Who computes the chunks: this process, processes of this machine, or a cluster that is there.

Each is a function from chunks to finished chunks with their rows, in whatever order they come. A
worker that dies takes its chunk with it; the chunk is given to another.
"""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Final

from sweatline.errors import MissingExtra, StoreError
from sweatline.study.compute import Chunk, Row, compute

_DEATHS: Final = 20  # of workers in a row, without a chunk finished between, before it gives up


def here(work: Sequence[Chunk]) -> Iterator[tuple[Chunk, list[Row]]]:
    """One after the other in this process."""
    for chunk in work:
        yield chunk, compute(chunk)


def local(work: Sequence[Chunk], count: int) -> Iterator[tuple[Chunk, list[Row]]]:
    """In this process and `count` - 1 beside it, which are started anew when one dies.

    This one computes too: it has its kernels loaded while the others still load theirs.

    Raises
    ------
    StoreError
        Workers die again and again without finishing anything.
    """
    waiting = deque(work)
    deaths = 0
    while waiting:
        # Spawned, not forked: a forked one would share the threads of compiled code.
        context = multiprocessing.get_context("spawn")
        running: dict[Future[list[Row]], Chunk] = {}
        with ProcessPoolExecutor(count - 1, mp_context=context) as pool:
            try:
                while waiting or running:
                    while waiting and len(running) < 2 * (count - 1):
                        running[pool.submit(compute, waiting[0])] = waiting[0]
                        waiting.popleft()
                    if waiting:
                        own = waiting.popleft()
                        yield own, compute(own)
                    else:
                        wait(running, return_when=FIRST_COMPLETED)
                    for one in [one for one in running if one.done()]:
                        rows = one.result()
                        deaths = 0
                        yield running.pop(one), rows
            except BrokenProcessPool:
                # Those that finished before the death are handed on, the others begin again.
                for one, chunk in running.items():
                    if one.done() and one.exception() is None:
                        yield chunk, one.result()
                    else:
                        waiting.appendleft(chunk)
                deaths += 1
        if deaths > _DEATHS:
            raise StoreError(what="the workers die again and again", path="")


def cluster(work: Sequence[Chunk], address: str) -> Iterator[tuple[Chunk, list[Row]]]:
    """On the workers of a Dask scheduler; it gives the chunk of a dead one to another.

    Parameters
    ----------
    address : str
        Of the scheduler, as ``tcp://10.0.0.5:8786``. Its workers must have this program installed.

    Raises
    ------
    MissingExtra
        Dask is not installed.
    StoreError
        No scheduler answers there.
    """
    try:
        import distributed
    except ImportError:
        raise MissingExtra(package="distributed", extra="cluster") from None
    try:
        dask: Any = distributed
        client = dask.Client(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise StoreError(what=f"no scheduler answers: {error}", path=address) from None
    with client:
        futures = client.map(compute, list(work), pure=False, retries=3)
        chunk_of = dict(zip((f.key for f in futures), work, strict=True))
        for future in dask.as_completed(futures):
            yield chunk_of[future.key], future.result()
