"""How well the tools of the trade read, and what the plate of a part is worth.

One table for the whole project. A reading without a stated uncertainty gets the one of its tool.
Except where a source is named, the figures are common practice: the graduation or class of an
ordinary tool, taken as one standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sweatline.uncertainty.measured import Measured, Origin
from sweatline.units import Parsed

__all__ = ["TOOLS", "Tool", "reading"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A way of knowing a number: its standard uncertainty is the larger of two parts.

    Parameters
    ----------
    words : str
        What it is, as shown to the person.
    absolute : float
        Part that does not grow with the value. [SI unit of the quantity]
    relative : float
        Part in proportion to the value.
    origin : str
        Origin that a number known this way has.
    """

    words: str
    absolute: float = 0.0
    relative: float = 0.0
    origin: Origin = "measured"

    def sd(self, value: float) -> float:
        """Standard uncertainty of a reading of `value`. [SI unit of the quantity]"""
        return max(self.absolute, self.relative * abs(value))


TOOLS: Final = {
    "calliper": Tool(words="calliper, 0.02 mm", absolute=0.02e-3),
    "micrometer": Tool(words="micrometer, 0.01 mm", absolute=0.01e-3),
    "tape": Tool(words="tape, 1 mm or 0.5 %", absolute=1e-3, relative=0.005),
    "room tape": Tool(words="room measure, 3 %", relative=0.03),
    "fin count": Tool(words="fins counted along a rule, 2 %", relative=0.02),
    "bore gauge": Tool(words="bore gauge or marking, 0.02 mm", absolute=0.02e-3),
    "thermometer": Tool(words="thermometer, 0.5 K", absolute=0.5),
    "hygrometer": Tool(words="hygrometer, 3 %RH", absolute=0.03),
    "anemometer": Tool(words="anemometer or plate airflow, 10 %", relative=0.10),
    "wattmeter": Tool(words="wattmeter or plate, 5 %", relative=0.05),
    "measuring cup": Tool(words="measured out or plate, 10 %", relative=0.10),
    "estimate": Tool(words="estimate by eye, 25 %", relative=0.25),
    "mains": Tool(words="mains, 2 %", relative=0.02),
    "mains frequency": Tool(words="mains frequency, 0.1 %", relative=0.001),
    "plate": Tool(words="plate, 5 %", relative=0.05, origin="nameplate"),
    # A maker's figure holds for the type; one machine of it lies some per cent beside it.
    "machine plate": Tool(words="plate of the machine, 8 %", relative=0.08, origin="nameplate"),
    "plate charge": Tool(words="plate charge, 2 %", relative=0.02, origin="nameplate"),
    "plate condition": Tool(words="condition as printed", origin="nameplate"),
    "plate limit": Tool(words="limit as printed", origin="nameplate"),
    "displacement": Tool(words="maker's displacement, 2 %", relative=0.02, origin="nameplate"),
    # Makers' ratings hold within about 5 % in the normal envelope (AHRI 540 practice).
    "rating": Tool(words="maker's rating, 5 %", relative=0.05, origin="nameplate"),
    # A class 1.6 gauge errs by up to 1.6 % of its span, 0.2 bar on the low side of a manifold
    # (EN 837-1, MEMORY 0.8).
    "gauge": Tool(words="manifold gauge, 0.1 bar or 2 %", absolute=1e4, relative=0.02),
    "clamp": Tool(words="clamp thermometer on a cleaned tube, 1 K", absolute=1.0),
    "clamp, hot": Tool(words="clamp thermometer on hot tube, 3 K", absolute=3.0),
    "air out": Tool(words="thermometer in air that is not mixed, 1 K", absolute=1.0),
    "plug meter": Tool(words="plug-in wattmeter, 2 % or 2 W", absolute=2.0, relative=0.02),
    "clamp meter": Tool(words="clamp meter, 3 % or 0.05 A", absolute=0.05, relative=0.03),
    "bucket": Tool(words="bucket, scale and watch, 5 %", relative=0.05),
    "scale": Tool(words="weighed in, 5 g or 2 %", absolute=5e-3, relative=0.02),
    "judgement": Tool(words="judged by eye, 10 %", relative=0.10),
}


def reading(parsed: Parsed, tool: Tool) -> Measured:
    """A quantity as written, with the stated uncertainty or else that of its tool."""
    if parsed.sd is not None:
        return Measured(value=parsed.value, sd=parsed.sd, origin=tool.origin, note="as stated")
    return Measured(
        value=parsed.value, sd=tool.sd(parsed.value), origin=tool.origin, note=tool.words
    )
