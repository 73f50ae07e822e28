"""What a person writes down of a reading: as fine as the scale lets them, and sometimes wrong.

A slip of the pen changes what is written and nothing else; what should have been written is kept
beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from sweatline.log.channels import CHANNELS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

    from sweatline.units import System

__all__ = ["SLIP_CHANCE", "Jotted", "Pad", "weight"]

SLIP_CHANCE: Final = 1.0 / 40.0  # of a reading (MEMORY 0.3); two or three in an hour of charging


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """How finely an instrument is read: unit, step of half a division, decimals, and the unit of
    its other scale."""

    unit: str
    step: float
    decimals: int
    other: str


# Half a division of common manifold gauges (0.1 and 0.2 bar, 1 and 5 psi), the last digit of
# thermometers and watt-meters (common practice).
_SCALES: Final[Mapping[System, Mapping[str, _Scale]]] = {
    "SI": {
        "suction gauge": _Scale(unit="bar(g)", step=0.05, decimals=2, other="psig"),
        "head gauge": _Scale(unit="bar(g)", step=0.1, decimals=1, other="psig"),
        "temperature": _Scale(unit="°C", step=0.1, decimals=1, other="°F"),
        "watts": _Scale(unit="W", step=1.0, decimals=0, other=""),
    },
    "US": {
        "suction gauge": _Scale(unit="psig", step=0.5, decimals=1, other="bar(g)"),
        "head gauge": _Scale(unit="psig", step=2.5, decimals=1, other="bar(g)"),
        "temperature": _Scale(unit="°F", step=0.1, decimals=1, other="°C"),
        "watts": _Scale(unit="W", step=1.0, decimals=0, other=""),
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Jotted:
    """A reading as it was written down."""

    channel: str
    text: str
    value: float  # SI, of the text
    meant: str = ""  # what should have been written; empty when that was


@dataclass(frozen=True, slots=True)
class Pad:
    """Writes readings in the units of a job.

    `slips` is None, or decides when the pen slips.
    """

    system: System
    atmosphere: float  # Pa, zero of the gauges
    slips: np.random.Generator | None = None

    def write(self, channel: str, value: float) -> Jotted:
        """A reading [SI] as it is written down."""
        from sweatline.units import parse

        scales = _SCALES[self.system]
        kind = CHANNELS[channel].kind
        scale = scales.get(channel) or scales[kind]
        number = round(self._number(value, channel, scale.unit) / scale.step) * scale.step
        right = _text(number, scale.decimals, scale.unit)
        text = right
        if self.slips is not None and self.slips.random() < SLIP_CHANCE:
            text = self._slip(value, channel, scale, right)
        parsed = parse(text, kind, atmosphere=self.atmosphere).value
        return Jotted(
            channel=channel, text=text, value=parsed, meant=right if text != right else ""
        )

    def _number(self, value: float, channel: str, unit: str) -> float:
        from sweatline.units.kinds import units_of

        found = next(u for u in units_of(CHANNELS[channel].kind) if u.name == unit)
        return found.number(value, self.atmosphere)

    def _slip(self, value: float, channel: str, scale: _Scale, right: str) -> str:
        """The number of the other scale with this one's unit, or two digits the wrong way round."""
        assert self.slips is not None
        if scale.other and self.slips.random() < 0.5:
            number = self._number(value, channel, scale.other)
            return _text(number, scale.decimals, scale.unit)
        digits = [i for i, c in enumerate(right) if c.isdigit()]
        pairs = [(i, j) for i, j in pairwise(digits) if right[i] != right[j]]
        if not pairs:
            return right
        i, j = pairs[int(self.slips.integers(len(pairs)))]
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
