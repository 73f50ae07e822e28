"""A form made from the questions that a request declares, and a request made from what was typed.

The page adds nothing to a question: its words, its kind, its bounds and what holds when nothing is
typed stand where the field of the request is declared, as for the command and for a script.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from starlette.datastructures import QueryParams

from sweatline.answers import Question, questions_of, request_of
from sweatline.errors import JobError
from sweatline.report.sentences import sentence
from sweatline.units import Scale, example_of

_LONGEST: Final = 2000  # letters of one answer
_OTHERS: Final = "Everything else"

Typed = Mapping[str, Any]
"""Answers by the names of their questions: texts, texts by field of a record, or several texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Questions that stand together on a page; those without a title stand open."""

    title: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One thing to type into or to choose from."""

    name: str
    id: str
    label: str
    help: str
    form: str
    kind: str = ""
    typed: str = ""
    hint: str = ""
    """Stands in an empty box."""
    options: tuple[str, ...] = ()
    left_open: bool = True
    """Among options: nothing may be chosen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One question with its boxes, and the mistake in what was typed."""

    name: str
    label: str
    help: str
    boxes: tuple[Box, ...]
    wrong: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldGroup:
    """A group of fields, and whether it stands open."""

    title: str
    open: bool
    fields: tuple[Field, ...]


def typed_in(request: type, query: QueryParams) -> dict[str, Any]:
    """What an address answers of the questions of a request; empty boxes say nothing.

    Raises
    ------
    JobError
        Far too long.
    """
    found: dict[str, Any] = {}
    for q in questions_of(request):
        if q.form == "record" and not q.repeated:
            boxes = {f.name: _text(query, f"{q.name}.{f.name}") for f in q.fields}
            value: Any = {name: text for name, text in boxes.items() if text}
        elif q.repeated:
            lines = _text(query, q.name, plain=False).splitlines()
            value = [line for line in lines if line.strip()]
        elif q.form == "flag":
            value = bool(_text(query, q.name))
        else:
            value = _text(query, q.name)
        if value:
            found[q.name] = value
    return found


def _text(query: QueryParams, name: str, *, plain: bool = True) -> str:
    text = query.get(name, "")
    if len(text) > _LONGEST:
        raise JobError(what="far too long", allowed=f"{_LONGEST} letters", field=name)
    return " ".join(text.split()) if plain else text


def mistakes_in(request: type, typed: Typed, *, zero: float) -> dict[str, str]:
    """A sentence for each question whose answer cannot be read.

    Parameters
    ----------
    zero : float
        Of the gauges. [Pa]
    """
    found: dict[str, str] = {}
    for name, value in typed.items():
        try:
            request_of(request, {name: value}, zero=zero)
        except JobError as error:
            found |= beside(request, error, fallback=name)
    return found


def beside(request: type, error: JobError, *, fallback: str = "") -> dict[str, str]:
    """A mistake beside each of the questions that it is about; empty where it is about none."""
    known = {q.name for q in questions_of(request)}
    told = mistake(error)
    found = {}
    for field in error.field.split(", "):
        name, _, number = field.partition(" ")
        if name in known:
            found[name] = f"Line {number}: {told}" if number else told
    return found or ({fallback: told} if fallback else {})


def mistake(error: JobError) -> str:
    """What is wrong and what is allowed, without the name of the field it stands beside."""
    text = sentence(error.what).rstrip(".")
    if error.read:
        text += f" (read: {error.read})"
    return sentence(f"{text}; {error.allowed}" if error.allowed else text)


def form_of(
    request: type,
    groups: Sequence[Group],
    typed: Typed,
    wrong: Mapping[str, str],
    scale: Scale,
    *,
    choices: Mapping[str, Sequence[str]],
    usual: Mapping[str, str],
) -> Iterator[FieldGroup]:
    """The questions of a request as fields, in groups; those named in no group come last.

    Parameters
    ----------
    choices : mapping
        Names among which a text is chosen, by question.
    usual : mapping
        What holds where nothing is typed, by question, where the request does not say it itself.
    """
    known = {q.name: q for q in questions_of(request)}
    named = {name for group in groups for name in group.names}
    rest = Group(title=_OTHERS, names=tuple(name for name in known if name not in named))
    for group in (*groups, rest) if rest.names else groups:
        fields = tuple(
            _field(known[name], typed.get(name), wrong.get(name, ""), scale, choices, usual)
            for name in group.names
        )
        said = any(name in typed or name in wrong for name in group.names)
        yield FieldGroup(title=group.title, open=said or not group.title, fields=fields)


def _field(
    q: Question,
    typed: Any,
    wrong: str,
    scale: Scale,
    choices: Mapping[str, Sequence[str]],
    usual: Mapping[str, str],
) -> Field:
    label = sentence(q.label).rstrip(".")
    if q.form == "record" and not q.repeated:
        said = typed if isinstance(typed, Mapping) else {}
        boxes = tuple(
            _box(
                f, f"{q.name}.{f.name}", sentence(f.label).rstrip("."), said.get(f.name, ""), scale
            )
            for f in q.fields
        )
        return Field(name=q.name, label=label, help=q.help, boxes=boxes, wrong=wrong)
    text = "\n".join(typed) if q.repeated and typed else "" if typed is None else str(typed)
    box = _box(q, q.name, label, text, scale, tuple(choices.get(q.name, ())), usual.get(q.name, ""))
    return Field(name=q.name, label=label, help=q.help, boxes=(box,), wrong=wrong)


def _box(
    q: Question,
    name: str,
    label: str,
    typed: str,
    scale: Scale,
    options: tuple[str, ...] = (),
    usual: str = "",
) -> Box:
    hint = q.usual or usual
    if not hint and "," in q.metavar:
        hint = q.metavar.lower()
    if not hint and q.kind is not None:
        hint = example_of(q.kind, scale.system)
    if options and not typed:
        typed = usual
    return Box(
        name=name,
        id=f"q-{name}",
        label=label,
        help=q.help,
        form="lines" if q.repeated else "choice" if options or q.choices else q.form,
        kind=q.kind or "",
        typed=typed,
        hint=hint,
        options=options or q.choices,
        left_open=not (options and usual),
    )
