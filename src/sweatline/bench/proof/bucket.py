"""Water in a bucket: how much in which time, as people without a scale say it too."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sweatline.answers import need
from sweatline.errors import JobError, UnitError
from sweatline.units import WATER_DENSITY, parse

_SD: Final = 0.03  # of a volume by the marks of a bucket (common practice)
_CUP_SD: Final = 0.06  # of a cup, filled by eye: a US and a metric one are 6 % apart
_LOOK: Final = 30e-3  # kg, two looks at the marks (judged)
_SCALE: Final = 5e-3  # kg, a kitchen scale and the drops beside the bucket (common practice)
_CLINGS: Final = 20e-3  # kg, what coil and tray give off by fits and starts (judged)
_WORDS: Final = (
    (re.compile(r"(?i)^\s*(an?|one)\s+"), "1 "),
    (re.compile(r"(?i)^\s*(half an?|half)\s+"), "0.5 "),
)
_CUP: Final = re.compile(r"(?i)\bcups?\b")
_LEAST, _MOST = 1e-3, 500.0  # kg
_SHORTEST, _LONGEST = 60.0, 7.0 * 86400.0  # s


def _water(text: str) -> Mapping[str, Any]:
    """Mass of water from a mass, a volume, or cups."""
    for pattern, number in _WORDS:
        text = pattern.sub(number, text)
    try:
        weighed = parse(text, "mass")
        return {"amount": weighed.value, "amount_sd": weighed.sd or _SCALE}
    except UnitError as error:
        try:
            filled = parse(text, "volume")
        except UnitError:
            raise error from None
    sd = None if filled.sd is None else WATER_DENSITY * filled.sd
    amount = WATER_DENSITY * filled.value
    share = _CUP_SD if _CUP.search(text) else _SD
    return {"amount": amount, "amount_sd": share * amount if sd is None else sd}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Water that ran into a bucket in a time."""

    amount: float = need(
        "Weighed or measured.", "mass", _LEAST, _MOST, special=_water, example="0.7 L", error=0.0
    )  # kg
    time: float = need("While it ran.", "time", _SHORTEST, _LONGEST)  # s
    amount_sd: float | None = None  # kg

    def check(self, _before: Bucket | None) -> None:
        """Refuse what no bucket holds."""
        if not _LEAST <= self.amount <= _MOST:
            raise JobError(
                what="no water that a bucket holds",
                allowed="how much ran into it and in which time, as 0.7 L in 2 h",
            )

    @property
    def rate(self) -> float:
        """[kg/s]"""
        return self.amount / self.time

    @property
    def rate_sd(self) -> float:
        """Standard error; what clings to the coil at begin and end counts too. [kg/s]"""
        sd = _SD * self.amount if self.amount_sd is None else self.amount_sd
        return math.hypot(sd, _CLINGS) / self.time


def measured_by_marks(amount: float, time: float, *, sd: float | None) -> Bucket:
    """Water read off in a bucket that fills: each look has its error. [kg], [s]"""
    return Bucket(
        amount=amount,
        time=time,
        amount_sd=max(_SD * amount, _LOOK) if sd is None else math.sqrt(2.0) * sd,
    )
