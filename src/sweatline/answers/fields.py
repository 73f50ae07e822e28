"""Answers: dataclasses whose fields say what they are, so that every other form follows.

>>> @dataclass(frozen=True, slots=True, kw_only=True)
... class Gauges(Answer):
...     suction: Annotated[float, Q("pressure", "suction gauge")]
...     refrigerant: str
>>> Gauges(suction=3e5, refrigerant="R-290").to_dict()
{'suction_Pa': 300000.0, 'refrigerant': 'R-290'}

A property whose return type is annotated with `Q` is a quantity like a field; one annotated with
`Shown` is told as well. Fields marked `Hidden` stay out of JSON. Every type named in a field must
be importable where the class stands.
"""

from __future__ import annotations

import dataclasses
import inspect
import math
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final, get_origin

from sweatline.units.kinds import FORMS, Kind

# SI unit of each kind, as it ends a JSON key.
SI_UNITS: Final[Mapping[Kind, str]] = {kind: form.si for kind, form in FORMS.items()}


@dataclass(frozen=True, slots=True)
class Q:
    """Marks a field as a physical quantity in SI.

    Parameters
    ----------
    kind : str
        Kind of quantity; fixes the unit, in JSON and when shown.
    label : str
        What a person reads beside the number, in the trade's words.
    doc : str
        What exactly it is, for the schema; may be empty.
    unit : str
        Ending of the JSON key where the kind's SI unit does not fit, as for kg/kg.
    digits : int
        Significant digits worth showing.
    """

    kind: Kind
    label: str = ""
    doc: str = ""
    unit: str | None = None
    digits: int = 3


@dataclass(frozen=True, slots=True)
class Hidden:
    """Marks a field that serves the next computation and is not part of what is told."""


@dataclass(frozen=True, slots=True)
class Shown:
    """Marks a property that is told like a field, although it is no quantity."""


@dataclass(frozen=True, slots=True)
class Member:
    """One field or property of an answer, as JSON has it."""

    name: str
    key: str
    type: Any
    q: Q | None


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of an answer that can have a range."""

    name: str
    key: str
    label: str
    kind: Kind
    digits: int
    doc: str

    def of(self, answer: object) -> float:
        """Its value. [SI]"""
        value = getattr(answer, self.name)
        return math.nan if value is None else float(value)


def _marked(name: str, annotation: Any) -> Member | None:
    """Member of an annotation; None when it is hidden."""
    q = None
    plain = annotation
    if get_origin(annotation) is Annotated:
        plain, *marks = typing.get_args(annotation)
        if any(isinstance(mark, Hidden) for mark in marks):
            return None
        q = next((mark for mark in marks if isinstance(mark, Q)), None)
    unit = "" if q is None else SI_UNITS[q.kind] if q.unit is None else q.unit
    return Member(name=name, key=f"{name}_{unit}" if unit else name, type=plain, q=q)


def members_of(cls: Any) -> tuple[Member, ...]:
    """What an answer's class tells, a base class first: fields in their order, then properties."""
    if cls not in _MEMBERS:
        _MEMBERS[cls] = _read_members(cls)
    return _MEMBERS[cls]


_MEMBERS: Final[dict[Any, tuple[Member, ...]]] = {}


def _read_members(cls: Any) -> tuple[Member, ...]:
    hints = typing.get_type_hints(cls, include_extras=True)
    names = list(getattr(cls, "_fields", None) or [f.name for f in dataclasses.fields(cls)])
    found = []
    for owner in reversed(cls.__mro__):
        own = [name for name in names if name in inspect.get_annotations(owner)]
        found += [_marked(name, hints[name]) for name in own]
        names = [name for name in names if name not in own]
        for name, value in vars(owner).items():
            if isinstance(value, property) and value.fget is not None:
                hint = typing.get_type_hints(value.fget, include_extras=True).get("return")
                if get_origin(hint) is Annotated:
                    found.append(_marked(name, hint))
    return tuple(member for member in found if member is not None)


def quantities_of(cls: Any) -> tuple[Quantity, ...]:
    """Labelled quantities of an answer that are one number each, in their order."""
    found = []
    for m in members_of(cls):
        numbers = {*(typing.get_args(m.type) or (m.type,))} - {type(None)}
        if m.q is not None and m.q.label and numbers == {float}:
            found.append(
                Quantity(name=m.name, key=m.key, label=m.q.label, kind=m.q.kind,
                         digits=m.q.digits, doc=m.q.doc)
            )  # fmt: skip
    return tuple(found)


def to_json(value: Any) -> Any:
    """Any part of an answer as JSON has it: SI, keys ending in the unit, null for no number."""
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if dataclasses.is_dataclass(value) or hasattr(value, "_fields"):
        return {m.key: to_json(getattr(value, m.name)) for m in members_of(type(value))}
    if isinstance(value, Mapping):
        return {str(key): to_json(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [to_json(item) for item in value]
    if hasattr(value, "tolist"):  # NumPy's numbers and arrays
        return to_json(value.tolist())
    raise TypeError(f"{type(value).__name__} is no part of an answer")
