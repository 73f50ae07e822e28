"""What a person may be asked: a field of a request says once what command, script and page need.

>>> @dataclass(frozen=True, slots=True, kw_only=True)
... class Weighing:
...     before: float = need("On the scale.", "mass", 0.0)
...     step: float = ask("Smallest step it shows.", "mass", usual="1 g")
>>> request_of(Weighing, {"before": "1.25 kg"})
Weighing(before=1.25, step=0.001)

The type of the field says the form: a float with a kind is a quantity, a Literal a choice, a
dataclass a record of several fields, a sequence of them may be given again and again.
"""

from __future__ import annotations

import dataclasses
import inspect
import math
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeVar, Union, get_args, get_origin

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.units.kinds import Kind
from sweatline.units.reading import parse, quantity, split_fields

R = TypeVar("R")

Form = Literal["quantity", "text", "choice", "flag", "count", "record"]
_FORMS: Final[Mapping[Any, Form]] = {float: "quantity", str: "text", bool: "flag", int: "count"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One field of a request, as a person is asked for it."""

    name: str = ""
    """Field of the request, keyword of a script."""
    form: Form = "text"
    help: str
    kind: Kind | None = None
    low: float | None = None
    """What is allowed: in SI, or the ends of a count."""
    high: float | None = None
    usual: str = ""
    """What holds when nothing is said, as a person writes it."""
    error: float | None = None
    """Where a ± may be written: the share that holds without one, 0 where another rule holds."""
    choices: tuple[str, ...] = ()
    repeated: bool = False
    needed: bool = False
    label: str = ""
    """Name that a person reads beside it."""
    taken: str = ""
    """Name in the account of what came from where, if a log can say it."""
    option: str = ""
    """Name of the command's option, without dashes."""
    metavar: str = ""
    """Of the option."""
    example: str = ""
    divider: str = ""
    """Between the fields of a record, where that is no comma."""
    zero: bool = False
    """Where the gauges of the same record have their zero."""
    special: Callable[[str], Mapping[str, Any]] | None = None
    """Reads a spelling of its own into fields of the record; nothing where it is none."""
    record: type | None = None
    fields: tuple[Question, ...] = ()
    """Of a record."""


def need(
    help: str,  # noqa: A002 - as click calls it
    kind: Kind | None = None,
    low: float | None = None,
    high: float | None = None,
    *,
    default: Any = dataclasses.MISSING,
    **more: Any,
) -> Any:
    """Field of a request or a record that must be answered; `more` as in :class:`Question`."""
    question = Question(help=help, kind=kind, low=low, high=high, **more)
    return dataclasses.field(default=default, metadata={"question": question})


def ask(
    help: str,  # noqa: A002 - as click calls it
    kind: Kind | None = None,
    low: float | None = None,
    high: float | None = None,
    *,
    usual: str = "",
    default: Any = None,
    **more: Any,
) -> Any:
    """As :func:`need`, of a field that may be left out: then `usual` or `default` holds."""
    if usual and kind is not None:
        default = parse(usual, kind).value
    return need(help, kind, low, high, default=default, usual=usual, **more)


def questions_of(request: Any) -> tuple[Question, ...]:
    """Questions of a request's class in their order, those of a base class last."""
    if request not in _QUESTIONS:
        hints = typing.get_type_hints(request)
        fields = {f.name: f for f in dataclasses.fields(request)}
        owners = [inspect.get_annotations(owner) for owner in request.__mro__]
        names = dict.fromkeys(name for own in owners for name in own if name in fields)
        _QUESTIONS[request] = tuple(
            _complete(fields[n], hints[n]) for n in names if "question" in fields[n].metadata
        )
    return _QUESTIONS[request]


_QUESTIONS: Final[dict[Any, tuple[Question, ...]]] = {}


def _complete(field: dataclasses.Field[Any], hint: Any) -> Question:
    """A question with what the type of its field says."""
    q: Question = field.metadata["question"]
    repeated = False
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(a for a in get_args(hint) if a is not type(None))
    if get_origin(hint) is Sequence:
        repeated, hint = True, get_args(hint)[0]
    choices = tuple(get_args(hint)) if get_origin(hint) is Literal else ()
    record: Any = hint if dataclasses.is_dataclass(hint) else None
    needed = field.default is dataclasses.MISSING
    return dataclasses.replace(
        q,
        name=field.name,
        form="choice" if choices else "record" if record else _FORMS[hint],
        choices=choices,
        repeated=repeated,
        needed=needed,
        usual=q.usual or ("" if needed or not field.default else str(field.default)),
        label=q.label or q.taken or field.name.replace("_", " "),
        option=q.option or field.name.replace("_", "-"),
        record=record,
        fields=questions_of(record) if record is not None else (),
    )


def request_of(
    request: type[R],
    answers: Mapping[str, object],
    *,
    where: str = "",
    zero: float = STANDARD_ATMOSPHERE,
    **given: Any,
) -> R:
    """A request, or a record, from answers by the names of its fields.

    Parameters
    ----------
    answers : mapping
        Text as a person writes it, or SI numbers; a record as one text, as a sequence or a
        mapping of its fields, or ready made.
    where : str
        Name under which a mistake is told; else that of the field.
    zero : float
        Of the gauges. [Pa]
    given
        Fields that nobody is asked for.

    Raises
    ------
    JobError
        An answer that is missing or cannot be read; its field names the question.
    """
    known = {q.name: q for q in questions_of(request)}
    filled = dict(given)
    for q in known.values():
        if q.zero and q.name in answers:
            zero = _read(q, answers[q.name], where or q.name, zero)[q.name]
    for name, value in answers.items():
        if name not in known:
            raise JobError(what="not asked here", allowed=", ".join(known), field=where or name)
        filled |= _read(known[name], value, where or name, zero)
    missing = [q.name for q in known.values() if q.needed and q.name not in filled]
    if missing:
        raise JobError(what=f"{' and '.join(missing)} is needed", field=where or missing[0])
    return request(**filled)


def record_of(record: type[R], value: object, *, where: str, zero: float) -> R:
    """One record as a person writes it; arguments and errors as :func:`request_of`."""
    q = Question(help="", record=record, fields=questions_of(record))
    made: R = _record(q, value, where, zero, None)
    return made


def _read(q: Question, value: Any, where: str, zero: float) -> dict[str, Any]:
    """Fields that one answer fills: its own, and that of a stated error."""
    if q.repeated:
        items = [value] if isinstance(value, str) else value
        found: list[Any] = []
        for i, item in enumerate(items, 1):
            before = found[-1] if found else None
            found.append(_record(q, item, f"{where} {i}", zero, before))
        return {q.name: tuple(found)}
    if q.form == "record":
        return {q.name: _record(q, value, where, zero, None)}
    if q.kind is not None:
        if q.special is not None and isinstance(value, str):
            try:
                special = q.special(value)
            except JobError as error:
                error.field = where
                raise
            if special:
                return dict(special)
        number = quantity(value, q.kind, where, atmosphere=zero, low=q.low, high=q.high)
        sd = parse(value, q.kind).sd if q.error is not None and isinstance(value, str) else None
        return {q.name: number} if sd is None else {q.name: number, f"{q.name}_sd": sd}
    if q.form == "choice":
        chosen = " ".join(str(value).casefold().split())
        if chosen not in q.choices:
            raise JobError(
                what="not one of the choices",
                read=str(value)[:40],
                allowed=", ".join(q.choices),
                field=where,
            )
        return {q.name: chosen}
    if q.form == "count":
        if not str(value).isdecimal() or not (q.low or 0) <= int(value) <= (q.high or math.inf):
            allowed = f"a number from {q.low} to {q.high}"
            raise JobError(what="not a count", read=str(value)[:40], allowed=allowed, field=where)
        return {q.name: int(value)}
    if q.form == "text" and not isinstance(value, str):
        raise JobError(what="not a text", read=repr(value)[:40], field=where)
    return {q.name: value}


def _record(q: Question, value: Any, where: str, zero: float, before: Any) -> Any:
    """One record, looked at by its own `check` if it has one, beside the record before it."""
    assert q.record is not None
    made = value
    if not isinstance(value, q.record):
        made = request_of(q.record, _told(q, value, where), where=where, zero=zero)
    if hasattr(made, "check"):
        try:
            made.check(before)
        except JobError as error:
            error.field = where
            error.read = error.read or (value if isinstance(value, str) else "")
            raise
    return made


def _told(q: Question, value: Any, where: str) -> dict[str, object]:
    """Fields of a record by their names."""
    needed = tuple(f.name for f in q.fields if f.needed)
    more = tuple(f.name for f in q.fields if not f.needed)
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, str) and q.divider:
        parts = [part.strip() for part in value.split(q.divider, 1)]
        if len(parts) == len(needed) and all(parts):
            return dict(zip(needed, parts, strict=True))
        raise JobError(
            what=f"{' and '.join(needed)} belong here, with {q.divider.strip()} between them",
            read=value[:60],
            allowed=f'write for example "{q.example}"',
            field=where,
        )
    if isinstance(value, str):
        return dict(split_fields(value, where, needed, more))
    if isinstance(value, Sequence) and len(needed) <= len(value) <= len(q.fields):
        return dict(zip((*needed, *more), value, strict=False))
    raise JobError(
        what=f"{', '.join((*needed, *more))} belong here", read=repr(value)[:60], field=where
    )


def error_of(request: object, name: str) -> float:
    """Standard deviation of an answer: as stated, else the share that its question says."""
    stated = getattr(request, f"{name}_sd")
    if stated is not None:
        return float(stated)
    share = next(q.error for q in questions_of(type(request)) if q.name == name)
    return (share or 0.0) * float(getattr(request, name))
