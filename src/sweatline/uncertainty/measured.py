"""A number together with how well it is known and where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Origin = Literal["measured", "nameplate", "inferred", "default"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value in SI units, its standard uncertainty in the same unit, and its origin.

    Parameters
    ----------
    value : float
        Best value. [SI unit of the quantity]
    sd : float
        One standard deviation. [same unit]
    origin : str
        ``measured`` (by the person), ``nameplate``, ``inferred`` (from other numbers of the job)
        or ``default`` (nobody measured it).
    note : str
        Why this value and this uncertainty: shown to the person.
    """

    value: float
    sd: float = 0.0
    origin: Origin = "measured"
    note: str = ""

    def at(self, z: float) -> float:
        """Value `z` standard deviations away. [same unit]"""
        return self.value + z * self.sd


def measured(value: float, sd: float = 0.0, note: str = "") -> Measured:
    """A number the person measured."""
    return Measured(value=value, sd=sd, origin="measured", note=note)


def inferred(value: float, sd: float, note: str) -> Measured:
    """A number worked out from other numbers of the job."""
    return Measured(value=value, sd=sd, origin="inferred", note=note)


def default(value: float, sd: float, note: str) -> Measured:
    """A number nobody measured: a stated default with a wide uncertainty."""
    return Measured(value=value, sd=sd, origin="default", note=note)
