"""Gauge readout: what a person writes down of a reading, as fine as the scale, sometimes wrong.

A slip of the pen changes what is written and nothing else; what should have been written is kept
beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Final

import numpy as np

from sweatline.answers import Answer, Hidden
from sweatline.log.channels import CHANNELS, Readout
from sweatline.units import System, parse
from sweatline.units.kinds import units_of

SLIP_CHANCE: Final = 1.0 / 40.0  # of a reading (MEMORY 0.3); two or three in an hour of charging


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenReading(Answer):
    """A reading as it was written down."""

    channel: str
    text: str
    value: Annotated[float, Hidden()]  # SI, of the text
    meant: Annotated[str, Hidden()] = ""  # what should have been written; empty when that was


@dataclass(frozen=True, slots=True)
class GaugeReadout:
    """Writes readings in the units of a job.

    `slips` is None, or decides when the pen slips.
    """

    system: System
    atmosphere: float  # Pa, zero of the gauges
    slips: np.random.Generator | None = None

    def write(self, channel: str, value: float) -> WrittenReading:
        """A reading [SI] as it is written down."""
        scale = CHANNELS[channel].readout[self.system]
        number = round(self._number(value, channel, scale.unit) / scale.step) * scale.step
        right = _text(number, scale.decimals, scale.unit)
        text = right
        if self.slips is not None and self.slips.random() < SLIP_CHANCE:
            text = self._slip(self.slips, value, channel, scale, right)
        parsed = parse(text, CHANNELS[channel].kind, atmosphere=self.atmosphere).value
        return WrittenReading(
            channel=channel, text=text, value=parsed, meant=right if text != right else ""
        )

    def _number(self, value: float, channel: str, unit: str) -> float:
        found = next(u for u in units_of(CHANNELS[channel].kind) if u.name == unit)
        return found.number(value, self.atmosphere)

    def _slip(
        self, pen: np.random.Generator, value: float, channel: str, scale: Readout, right: str
    ) -> str:
        """The number of the other scale with this one's unit, or two digits the wrong way round."""
        if scale.other and pen.random() < 0.5:
            number = self._number(value, channel, scale.other)
            return _text(number, scale.decimals, scale.unit)
        digits = [i for i, c in enumerate(right) if c.isdigit()]
        pairs = [(i, j) for i, j in pairwise(digits) if right[i] != right[j]]
        if not pairs:
            return right
        i, j = pairs[int(pen.integers(len(pairs)))]
        swapped = list(right)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        return "".join(swapped)


def weight(mass: float, system: System) -> str:
    """A mass [kg] as the scale under the cylinder shows it."""
    if system == "US":
        return f"{mass / 28.349523125e-3:.2f} oz"
    return f"{mass * 1e3:.0f} g"


def _text(number: float, decimals: int, unit: str) -> str:
    text = f"{number:.{decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return f"{text} {unit}"
