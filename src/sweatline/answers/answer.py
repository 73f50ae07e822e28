"""Base of every answer: what all of them can do, from their fields alone."""

from __future__ import annotations

from typing import Any

from sweatline.answers.fields import to_json
from sweatline.answers.shown import as_html, as_text


class Answer:
    """Base of what a computation returns to a person or a program."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """As `--json` prints it, without the command's head."""
        found: dict[str, Any] = to_json(self)
        return found

    def __str__(self) -> str:
        return as_text(self)

    def _repr_html_(self) -> str:
        return as_html(self)
