"""What the log says of tight and dry: the answers that the commands give with the log alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from sweatline.bench.evacuation.evacuation import EvacuationAnswer, EvacuationRequest, evacuation
from sweatline.bench.evacuation.rise_test import vacuum_in
from sweatline.bench.proof.from_log import proof_in
from sweatline.bench.proof.proof import ProofAnswer, ProofRequest, prove
from sweatline.bench.tightness.pressure_hold import hold_in
from sweatline.bench.tightness.tightness import TightnessAnswer, TightnessRequest, tightness
from sweatline.errors import JobError, SweatlineError
from sweatline.job.model import Job
from sweatline.log.extract import Book, Logged, read_book
from sweatline.log.store import Log

R = TypeVar("R")
A = TypeVar("A")


def tight_by_log(job: Job, log: Log, refrigerant: str, compressor: int) -> TightnessAnswer | str:
    """The last pressure test of a log, or why there is no answer."""
    return _by_log(job, log, refrigerant, compressor, hold_in, TightnessRequest, tightness)


def dry_by_log(job: Job, log: Log, refrigerant: str, compressor: int) -> EvacuationAnswer | str:
    """The last rise test of a log, or why there is no answer."""
    return _by_log(job, log, refrigerant, compressor, _vacuum, EvacuationRequest, evacuation)


def proof_by_log(
    job: Job, log: Log, refrigerant: str, compressor: int, capillary: int, length: float | None
) -> ProofAnswer | str:
    """The proof of the last run in a log, or why there is none."""
    return _by_log(
        job, log, refrigerant, compressor, proof_in, ProofRequest, prove,
        capillary=job.capillaries[capillary].name, length=length,
    )  # fmt: skip


def _vacuum(book: Book) -> Logged:
    return vacuum_in(book, alone=True)


def _by_log(
    job: Job,
    log: Log,
    refrigerant: str,
    compressor: int,
    read: Callable[[Book], Logged],
    request: Callable[..., R],
    answer: Callable[[R], A],
    **parts: object,
) -> A | str:
    try:
        found = {name: one.value for name, one in read(read_book(log)).found.items() if one}
        found |= parts
        found |= {"refrigerant": refrigerant, "compressor": job.compressors[compressor].name}
        return answer(
            request(
                job=job,
                atmosphere=job.place.atmospheric_pressure,
                **found,
            )
        )
    except JobError as error:
        return error.sentence
    except SweatlineError as error:
        return str(error)
