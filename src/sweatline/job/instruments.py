"""How well the instruments of the trade read, and what the plate of a part is worth.

One table for the whole project. A reading without a stated uncertainty gets the one of its
instrument. Except where a source is named, the figures are common practice: the graduation or class
of an ordinary instrument, taken as one standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sweatline.uncertainty.measured import Measured, Origin
from sweatline.units import Kind, Parsed, System, show_spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """A way of knowing a number: its standard uncertainty is the larger of two parts.

    Parameters
    ----------
    name : str
        What it is, as shown to the person.
    kind : str
        Kind of quantity of the absolute part.
    absolute : float
        Part that does not grow with the value. [SI unit of the quantity]
    relative : float
        Part in proportion to the value.
    origin : str
        Origin that a number known this way has.
    """

    name: str
    kind: Kind = "ratio"
    absolute: float = 0.0
    relative: float = 0.0
    origin: Origin = "measured"

    def sd(self, value: float) -> float:
        """Standard uncertainty of a reading of `value`. [SI unit of the quantity]"""
        return max(self.absolute, self.relative * abs(value))

    def words(self, system: System) -> str:
        """What it is and how well it reads, in a unit system."""
        parts = []
        if self.absolute:
            # The value only chooses the unit: that of a usual reading of the instrument.
            parts.append(show_spread(self.absolute, 100.0 * self.absolute, self.kind, system, 1))
        if self.relative:
            parts.append(f"{100.0 * self.relative:g} %")
        return ", ".join([self.name, " or ".join(parts)]) if parts else self.name


def _plate(name: str, relative: float = 0.0) -> Instrument:
    return Instrument(name=name, relative=relative, origin="nameplate")


INSTRUMENTS: Final = {
    "calliper": Instrument(name="calliper", kind="length", absolute=0.02e-3),
    "micrometer": Instrument(name="micrometer", kind="length", absolute=0.01e-3),
    "tape": Instrument(name="tape", kind="length", absolute=1e-3, relative=0.005),
    "room tape": Instrument(name="room measure", relative=0.03),
    "fin count": Instrument(name="fins counted along a rule", relative=0.02),
    "bore gauge": Instrument(name="bore gauge or marking", kind="length", absolute=0.02e-3),
    "thermometer": Instrument(name="thermometer", kind="temperature", absolute=0.5),
    "hygrometer": Instrument(name="hygrometer", kind="relative humidity", absolute=0.03),
    "anemometer": Instrument(name="anemometer or plate airflow", relative=0.10),
    "wattmeter": Instrument(name="wattmeter or plate", relative=0.05),
    "measuring cup": Instrument(name="measured out or plate", relative=0.10),
    "estimate": Instrument(name="estimate by eye", relative=0.25),
    "mains": Instrument(name="mains", relative=0.02),
    "mains frequency": Instrument(name="mains frequency", relative=0.001),
    "plate": _plate("plate", 0.05),
    # A maker's figure holds for the type; one machine of it lies some per cent beside it.
    "machine plate": _plate("plate of the machine", 0.08),
    "plate charge": _plate("plate charge", 0.02),
    "plate condition": _plate("condition as printed"),
    "plate limit": _plate("limit as printed"),
    "displacement": _plate("maker's displacement", 0.02),
    # Makers' ratings hold within about 5 % in the normal envelope (AHRI 540 practice).
    "rating": _plate("maker's rating", 0.05),
    # A class 1.6 gauge errs by up to 1.6 % of its span, 0.2 bar on the low side of a manifold
    # (EN 837-1, MEMORY 0.8).
    "gauge": Instrument(name="manifold gauge", kind="pressure", absolute=1e4, relative=0.02),
    "clamp": Instrument(
        name="clamp thermometer on a cleaned tube", kind="temperature", absolute=1.0
    ),
    "clamp, hot": Instrument(
        name="clamp thermometer on hot tube", kind="temperature", absolute=3.0
    ),
    "air out": Instrument(
        name="thermometer in air that is not mixed", kind="temperature", absolute=1.0
    ),
    "plug meter": Instrument(name="plug-in wattmeter", kind="power", absolute=2.0, relative=0.02),
    "clamp meter": Instrument(name="clamp meter", kind="current", absolute=0.05, relative=0.03),
    "bucket": Instrument(name="bucket, scale and watch", relative=0.05),
    "scale": Instrument(name="weighed in", kind="mass", absolute=5e-3, relative=0.02),
    "judgement": Instrument(name="judged by eye", relative=0.10),
}


def reading(parsed: Parsed, instrument: Instrument, system: System) -> Measured:
    """A quantity as written, with the stated uncertainty or else that of its instrument."""
    if parsed.sd is not None:
        sd, note = parsed.sd, "as stated"
    else:
        sd, note = instrument.sd(parsed.value), instrument.words(system)
    return Measured(value=parsed.value, sd=sd, origin=instrument.origin, note=note)
