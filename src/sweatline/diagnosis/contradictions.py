"""Readings that cannot be right together in a running machine, and what was probably meant."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from sweatline.answers import Answer
from sweatline.assembly.build import Build
from sweatline.diagnosis.weighed import Reading
from sweatline.log.channels import CHANNELS
from sweatline.refrigerant.table import saturation

_SURELY: Final = 3.0  # standard deviations


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction(Answer):
    """Two readings that cannot be right together."""

    channels: tuple[str, ...]
    sentence: str
    """What is impossible, and what to look at."""
    swapped: bool
    """They would be possible the other way round."""


class _Order(NamedTuple):
    """One channel that shows more than another in any machine that runs."""

    more: str
    less: str
    sentence: str


_ORDERS: Final = (
    _Order("head gauge", "suction gauge", "the suction gauge shows as much as the head gauge"),
    _Order("discharge gas", "suction gas", "the suction line is warmer than the discharge line"),
    _Order("discharge gas", "return gas", "the suction line is warmer than the discharge line"),
    _Order("discharge gas", "liquid line", "the liquid line is warmer than the discharge line"),
    _Order("condenser bend", "evaporator bend", "the evaporator is warmer than the condenser"),
    _Order("discharge gas", "condenser bend", "the condenser is warmer than the discharge line"),
    _Order("liquid line", "evaporator bend", "the evaporator is warmer than the liquid line"),
)


def contradictions_in(build: Build, readings: Sequence[Reading]) -> tuple[Contradiction, ...]:
    """Readings that cannot be right together, the plainest first."""
    by: Mapping[str, Reading] = {r.channel: r for r in readings}
    found = []
    for order in _ORDERS:
        if not _broken(order, by):
            continue
        # Exchanged they must be in order with all the rest, or it is another mistake.
        exchanged = {**by, order.more: by[order.less], order.less: by[order.more]}
        fits = not any(_broken(other, exchanged) for other in _ORDERS)
        found.append(
            Contradiction(
                channels=(order.less, order.more),
                sentence=f"{order.sentence}: {'swapped' if fits else 'is one of them wrong'}?",
                swapped=fits,
            )
        )
    for channel, r in by.items():
        gauge = CHANNELS[channel].gauge
        if not gauge or gauge not in by:
            continue
        table = build.refrigerant.table
        p = min(max(by[gauge].value, table.p_min), table.p_max)
        side = 1 if CHANNELS[channel].saturation == "dew" else 0
        at = float(saturation(table, p)[side])
        wide = 2.0 + _SURELY * r.sd
        name, shown = CHANNELS[channel].heading, CHANNELS[gauge].heading
        if side == 1 and r.value < at - wide:
            found.append(
                Contradiction(
                    channels=(channel, gauge),
                    sentence=f"the {name} is colder than refrigerant can be at the {shown} "
                    "pressure: the gauge reads high, or the thermometer low",
                    swapped=False,
                )
            )
        elif side == 0 and r.value > at + wide:
            found.append(
                Contradiction(
                    channels=(channel, gauge),
                    sentence=f"the {name} is warmer than liquid can be at the {shown} pressure: "
                    "the gauge reads low, or the thermometer high",
                    swapped=False,
                )
            )
    return tuple(found)


def _broken(order: _Order, by: Mapping[str, Reading]) -> bool:
    """Whether two readings stand surely the wrong way round."""
    if order.more not in by or order.less not in by:
        return False
    more, less = by[order.more], by[order.less]
    return less.value > more.value + _SURELY * math.hypot(more.sd, less.sd)
