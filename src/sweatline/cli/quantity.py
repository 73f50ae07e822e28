"""Quantities on the command line: a click parameter type for each kind.

The text is kept until the zero of the gauges is known, for a gauge pressure means nothing before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import click

from sweatline.constants import STANDARD_ATMOSPHERE
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
