"""The tasks with hoses on, in a script: pressure test, evacuation, hoses and scale, start gear.

What is not named is taken from the job, or is as usual. A quantity is a number in SI or a text with
its unit; a record of several is one text, or a sequence of its fields. Further fields of a request
may be given by their names, in SI.
"""

from __future__ import annotations

import functools
import inspect
import os
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, Protocol, TypeVar

from sweatline.air.moist import standard_pressure
from sweatline.answers import questions_of, request_of
from sweatline.api.quantity import Written, si
from sweatline.bench.evacuation.evacuation import EvacuationAnswer, EvacuationRequest
from sweatline.bench.evacuation.evacuation import evacuation as answer_evacuation
from sweatline.bench.hoses.hoses import HoseAnswer, HoseRequest
from sweatline.bench.hoses.hoses import hose as answer_hose
from sweatline.bench.proof.from_log import proof_in
from sweatline.bench.proof.proof import ProofAnswer, ProofRequest
from sweatline.bench.proof.proof import prove as answer_prove
from sweatline.bench.start_gear.start_gear import StartGearAnswer, StartGearRequest
from sweatline.bench.start_gear.start_gear import start_gear as answer_start_gear
from sweatline.bench.tightness.tightness import TightnessAnswer, TightnessRequest
from sweatline.bench.tightness.tightness import tightness as answer_tightness
from sweatline.log.extract import read_book
from sweatline.log.logbook import open_log

if TYPE_CHECKING:
    from sweatline.job.model import Job as Bench

R = TypeVar("R")
Asking = TypeVar("Asking", bound=Callable[..., object])
Answer = float | str | bool | Sequence[object] | None

_TYPES: Final = {
    "quantity": "float | str",
    "record": "str | Sequence",
    "flag": "bool",
    "count": "int",
    "choice": "str",
    "text": "str",
}


class HasBench(Protocol):
    """A job as :func:`sweatline.read_job` gives it."""

    @property
    def bench(self) -> Bench: ...


def _asking(request: type) -> Callable[[Asking], Asking]:
    """Gives a function the keywords of a request, each with what is asked."""

    def named(function: Asking) -> Asking:
        signature = inspect.signature(function)
        own = {n: p for n, p in signature.parameters.items() if p.kind is not p.VAR_KEYWORD}
        asked = [q for q in questions_of(request) if q.name not in own]
        keyword = functools.partial(inspect.Parameter, kind=inspect.Parameter.KEYWORD_ONLY)
        more = [keyword(q.name, default=None, annotation=_TYPES[q.form]) for q in asked]
        function.__signature__ = signature.replace(  # type: ignore[attr-defined]
            parameters=[*own.values(), *more]
        )
        told = "\n".join(f"    {q.name} : {_TYPES[q.form]}\n        {q.help}" for q in asked)
        function.__doc__ = f"{function.__doc__}\n    Other Parameters\n    {'-' * 16}\n{told}\n"
        return function

    return named


def _request(
    request: type[R], job: HasBench | None, altitude: Written | None, answers: Mapping[str, Answer]
) -> R:
    """The request from keywords; those that nobody is asked for are fields in SI."""
    if altitude is not None:
        zero = standard_pressure(si(altitude, "altitude", "altitude"))
    else:
        zero = standard_pressure(0.0) if job is None else job.bench.place.atmospheric_pressure
    bench = None if job is None else job.bench
    given: dict[str, Any] = {n: value for n, value in answers.items() if value is not None}
    asked = {q.name: given.pop(q.name) for q in questions_of(request) if q.name in given}
    return request_of(request, asked, zero=zero, atmosphere=zero, job=bench, **given)


@_asking(TightnessRequest)
def tightness(
    job: HasBench | None = None, *, altitude: Written | None = None, **answers: Answer
) -> TightnessAnswer:
    """A pressure test read, or planned.

    Raises
    ------
    JobError
        Something that the question needs is missing, or a pressure no part may see; its field is
        the keyword.
    """
    return answer_tightness(_request(TightnessRequest, job, altitude, answers))


@_asking(EvacuationRequest)
def evacuation(
    job: HasBench | None = None, *, altitude: Written | None = None, **answers: Answer
) -> EvacuationAnswer:
    """A rise test read; with a pump and hoses, the pump-down too. Errors as :func:`tightness`."""
    return answer_evacuation(_request(EvacuationRequest, job, altitude, answers))


@_asking(HoseRequest)
def hose(
    refrigerant: str | None = None,
    job: HasBench | None = None,
    *,
    altitude: Written | None = None,
    **answers: Answer,
) -> HoseAnswer:
    """How much got in, or what the scale must show. Errors as :func:`tightness`."""
    asked = {**answers, "refrigerant": refrigerant}
    return answer_hose(_request(HoseRequest, job, altitude, asked))


@_asking(StartGearRequest)
def start_gear(
    job: HasBench | None = None, *, altitude: Written | None = None, **answers: Answer
) -> StartGearAnswer:
    """Whether it starts, and what the motor carries. Errors as :func:`tightness`."""
    return answer_start_gear(_request(StartGearRequest, job, altitude, answers))


@_asking(ProofRequest)
def prove(
    job: HasBench, log: str | os.PathLike[str] | None = None, **answers: Answer
) -> ProofAnswer:
    """What the running machine does, held against what it should do.

    From a log what stands in it and was not named. Errors as :func:`tightness`.
    """
    found: dict[str, Answer] = {}
    if log is not None:
        with open_log(os.fspath(log)) as store:
            logged = proof_in(read_book(store))
        found = {name: one.value for name, one in logged.found.items() if one is not None}
        typed = {name for name, value in answers.items() if value is not None}
        found = {n: value for n, value in found.items() if n.removesuffix("_sd") not in typed}
    return answer_prove(_request(ProofRequest, job, None, {**found, **answers}))
