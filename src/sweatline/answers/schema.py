"""JSON schema of an answer's class, and reading its JSON back; pydantic is imported only here."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import textwrap
import types
import typing
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any, Final, Union, get_args, get_origin

from sweatline.answers.fields import members_of

if TYPE_CHECKING:
    from pydantic import BaseModel


def schema_of(cls: type, *, title: str, head: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """JSON schema of an answer; `head` holds further fields as (type, description)."""
    found: dict[str, Any] = model_of(cls, tuple((head or {}).items())).model_json_schema(
        mode="serialization"
    )
    dialect = "https://json-schema.org/draft/2020-12/schema"
    return {**found, "$schema": dialect, "title": title}


def model_of(cls: Any, head: tuple[tuple[str, Any], ...] = ()) -> type[BaseModel]:
    """Model that accepts exactly the JSON of an answer's class."""
    if (cls, head) not in _MODELS:
        _MODELS[cls, head] = _made_model(cls, head)
    return _MODELS[cls, head]


_MODELS: Final[dict[Any, type[BaseModel]]] = {}


def _made_model(cls: Any, head: tuple[tuple[str, Any], ...]) -> type[BaseModel]:
    from pydantic import ConfigDict, Field, create_model

    told = _descriptions(cls)
    fields: dict[str, Any] = {name: (kind, Field(description=text)) for name, (kind, text) in head}
    for m in members_of(cls):
        text = (m.q.doc if m.q is not None else "") or told.get(m.name)
        fields[m.key] = (_json_type(m.type), Field(description=text))
    return create_model(
        cls.__name__,
        __config__=ConfigDict(extra="forbid", strict=True, frozen=True),
        __doc__=inspect.getdoc(cls),
        **fields,
    )


def _json_type(annotation: Any) -> Any:
    """The type that a value has once it is JSON."""
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _json_type(args[0])
    if origin in (Union, types.UnionType):
        return Union[tuple(_json_type(a) for a in args)]  # noqa: UP007 - built from parts
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return dict[str, _json_type(args[1])]  # type: ignore[misc]
    if isinstance(origin, type) and issubclass(origin, Sequence | set | frozenset):
        if origin is tuple and Ellipsis not in args:
            return tuple[tuple(_json_type(a) for a in args)]  # type: ignore[misc]
        return tuple[_json_type(args[0]), ...]  # type: ignore[misc]
    if origin is not None and getattr(origin, "__name__", "") == "ndarray":
        return list[Any]
    if isinstance(annotation, type) and (
        dataclasses.is_dataclass(annotation) or hasattr(annotation, "_fields")
    ):
        return model_of(annotation)
    return annotation


def _descriptions(cls: Any) -> dict[str, str]:
    """Strings that stand under the fields of a class and of its bases, docstrings of properties."""
    found: dict[str, str] = {}
    for owner in reversed(cls.__mro__):
        for name, value in vars(owner).items():
            if isinstance(value, property) and value.__doc__:
                found[name] = inspect.cleandoc(value.__doc__)
        if owner is object or not dataclasses.is_dataclass(owner):
            continue
        body = ast.parse(textwrap.dedent(inspect.getsource(typing.cast("type", owner)))).body[0]
        assert isinstance(body, ast.ClassDef)
        for field, text in zip(body.body, body.body[1:], strict=False):
            if (
                isinstance(field, ast.AnnAssign)
                and isinstance(field.target, ast.Name)
                and isinstance(text, ast.Expr)
                and isinstance(text.value, ast.Constant)
                and isinstance(text.value.value, str)
            ):
                found[field.target.id] = inspect.cleandoc(text.value.value)
    return found
