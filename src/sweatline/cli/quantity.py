"""Quantities on the command line: a click parameter type for each kind.

The text is kept until the zero of the gauges is known, for a gauge pressure means nothing before.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import click

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.units import EXAMPLES, Kind, quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One quantity as typed behind an option, with what is allowed there."""

    text: str
    kind: Kind
    option: str
    low: float | None = None  # SI
    high: float | None = None  # SI

    def si(self, atmosphere: float = STANDARD_ATMOSPHERE) -> float:
        """Value in SI; pressures absolute, for gauges with their zero at `atmosphere`. [SI]

        Raises
        ------
        JobError
            Not a quantity of this kind, or outside what is allowed; the sentence names the option.
        """
        return quantity(
            self.text, self.kind, self.option, atmosphere=atmosphere, low=self.low, high=self.high
        )


class Quantity(click.ParamType):  # type: ignore[type-arg]
    """Parameter type: a number with its unit.

    Parameters
    ----------
    kind : str
        Kind of quantity, as units knows it.
    low, high : float, optional
        What is allowed. [SI]
    """

    name = "quantity"

    def __init__(self, kind: Kind, *, low: float | None = None, high: float | None = None) -> None:
        self.kind = kind
        self.low = low
        self.high = high

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        """Kind of quantity in capitals, as help shows it."""
        return self.kind.upper().replace(" ", "-")

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Written:
        """Text and limits; a quantity of a kind without gauges is read at once.

        Raises
        ------
        JobError
            As :meth:`Written.si`.
        """
        if isinstance(value, Written):
            return value
        names = () if param is None else sorted(param.opts, key=len)
        written = Written(
            text=str(value),
            kind=self.kind,
            option=names[-1] if names else EXAMPLES[self.kind],
            low=self.low,
            high=self.high,
        )
        if "pressure" not in self.kind:
            written.si()
        return written


def value(written: Written | None) -> float | None:
    """Value of an option that may be left out, of a kind without gauges. [SI]"""
    return None if written is None else written.si()


_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_SERIES = re.compile(rf"\s*({_NUMBER})\s*:\s*({_NUMBER})\s*:\s*({_NUMBER})\s*(\D.*)")
_MOST = 60  # values of a series


class Series(click.ParamType):  # type: ignore[type-arg]
    """Parameter type: rising values as ``first:last:step`` with one unit; one alone is a series.

    Parameters
    ----------
    kind : str
        Kind of quantity, as units knows it.
    low, high : float
        What is allowed. [SI]
    example : str
        As a person may write it.
    """

    name = "series"

    def __init__(self, kind: Kind, *, low: float, high: float, example: str) -> None:
        self.kind = kind
        self.low = low
        self.high = high
        self.example = example

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> list[float]:
        """Values in SI, rising.

        Raises
        ------
        JobError
            Not a series, a unit of another kind, or far too many values.
        """
        if isinstance(value, list):
            return value
        text = str(value)
        option = self.example if param is None else max(param.opts, key=len)
        if ":" not in text:
            return [quantity(text, self.kind, option, low=self.low, high=self.high)]
        match = _SERIES.fullmatch(text)
        if match is None:
            raise JobError(
                what="not a series of first:last:step with one unit",
                read=text[:40],
                allowed=f'write for example "{self.example}"',
                field=option,
            )
        first, last, step = (float(match[i]) for i in (1, 2, 3))
        if not (step > 0.0 and last >= first):
            raise JobError(
                what="a series must rise",
                read=text,
                allowed=f'write for example "{self.example}"',
                field=option,
            )
        count = int((last - first) / step * (1.0 + 1e-12) + 1e-9) + 1
        if count > _MOST:
            raise JobError(
                what=f"{count} values are too many",
                read=text,
                allowed=f"at most {_MOST}",
                field=option,
            )
        unit = match[4].strip()
        return [
            quantity(
                f"{first + i * step:.10g} {unit}", self.kind, option, low=self.low, high=self.high
            )
            for i in range(count)
        ]
