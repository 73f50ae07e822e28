"""Which of the three pins of a sealed motor is which, by the resistances between them.

Run and start winding meet at the common pin C. Between R and S both are in series, so that pair
reads most, and the pin that is not in it is C. The run winding has thicker wire than the start
winding, so of the other two pairs the one that reads less is C and R.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, need
from sweatline.bench.start_gear.motor import Judged

Pin = Literal["C", "R", "S"]

_PINS: Final = {"12": 3, "23": 1, "31": 2}  # pair, and the pin that is not in it
_LEADS: Final = 0.3  # ohm, of the meter's leads and its last digit; common practice
_AGREE: Final = 0.1  # relative, of a sum of two readings; judged
_ALIKE: Final = 0.05  # relative, within which two windings cannot be told apart; judged


@dataclass(frozen=True, slots=True, kw_only=True)
class Windings:
    """What an ohmmeter reads between the pins, taken off everything, cold and drained."""

    one_two: float = need(
        "Between pin 1 and 2.", "resistance", 0.05, 5e3, label="pins 1 and 2"
    )  # ohm
    two_three: float = need(
        "Between pin 2 and 3.", "resistance", 0.05, 5e3, label="pins 2 and 3"
    )  # ohm
    three_one: float = need(
        "Between pin 3 and 1.", "resistance", 0.05, 5e3, label="pins 3 and 1"
    )  # ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminals(Answer):
    """The pins by name, and whether the readings agree."""

    pins: tuple[Pin, ...]
    """Of pin 1, 2 and 3."""
    run: Annotated[float, Q("resistance", "run winding, C to R")]
    start: Annotated[float, Q("resistance", "start winding, C to S")]
    both: Annotated[float, Q("resistance", "in series, R to S")]
    verdict: Judged
    sentence: str
    status: str = "common practice"


def terminals(read: Windings) -> Terminals:
    """Name the pins of a motor.

    Parameters
    ----------
    read : Windings
        Three resistances.
    """
    pairs = {"12": read.one_two, "23": read.two_three, "31": read.three_one}
    less, more, most = sorted(pairs, key=lambda pair: pairs[pair])
    common, start, run = (_PINS[pair] for pair in (most, less, more))
    names: dict[int, Pin] = {common: "C", run: "R", start: "S"}
    low, high, both = pairs[less], pairs[more], pairs[most]
    verdict: Judged = "ok"
    sentence = f"pin {common} is C, pin {run} is R, pin {start} is S"
    if abs(low + high - both) > _AGREE * both + _LEADS:
        verdict = "wrong"
        sentence = (
            "the two lower readings do not add up to the highest: a pin with a bad contact, a "
            "winding that is open or burnt, or a part that is still connected; read again"
        )
    elif high - low < max(_ALIKE * high, _LEADS):
        verdict = "marginal"
        sentence = (
            f"pin {common} is C; run and start winding read too much alike to be told apart: take "
            "them from the plate, the cover or a finer meter"
        )
    return Terminals(
        pins=(names[1], names[2], names[3]),
        run=low,
        start=high,
        both=both,
        verdict=verdict,
        sentence=sentence,
    )
