"""An uncertain number: how well it is known, where it came from, and the key it is known by.

A parameter is known by its key and never by what a person reads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:  # a job is read without it
    import numpy as np
    from numpy.typing import NDArray

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


# Object and field, for instance ("evaporator", "fin_pitch"); between them the name of the part
# where a job may have several: ("capillary", "the thin one", "bore").
Key = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Instrument:
    """A way of knowing a number: its standard uncertainty is the larger of two parts.

    Parameters
    ----------
    name : str
        What it is, as shown to the person.
    absolute : float
        Part that does not grow with the value. [SI unit of the quantity]
    relative : float
        Part in proportion to the value.
    """

    name: str
    absolute: float = 0.0
    relative: float = 0.0

    def sd(self, value: float) -> float:
        """Standard uncertainty of a reading of `value`. [SI unit of the quantity]"""
        return max(self.absolute, self.relative * abs(value))


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One uncertain number of a machine.

    Parameters
    ----------
    key : tuple
        What it is. Two parameters are the same when their keys are.
    label : str
        What a person reads; parts may be called anything, so two labels may be equal.
    value, sd : float
        Best value and standard deviation. [SI; multipliers of models about 1]
    origin : str
        Where the value comes from; ``model`` for the error of a correlation.
    note : str
        Why this value and this uncertainty.
    belongs_to : tuple of str
        Things that must stay for the number to stay, as ``compressor``; empty where it always does.
    instrument : Instrument, optional
        What measures it better; None where nothing at a bench does.
    """

    key: Key
    label: str
    value: float
    sd: float
    origin: Origin | Literal["model"]
    note: str
    belongs_to: tuple[str, ...] = ()
    instrument: Instrument | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MachinePosterior:
    """What readings of one machine say of all its parameters together.

    The parameters are jointly normal, counted in standard deviations of what was known of each
    before: mean zero and the unit matrix mean that nothing was learned.

    Parameters
    ----------
    parameters : tuple of Parameter
        (n,)
    mean : (n,) array
        Most probable values. [standard deviations of the prior]
    covariance : (n, n) array
        Symmetric.
    parts : frozenset of (str, str)
        What the machine was made of: each thing and which one it was.
    readings : int
        How many were used.
    """

    parameters: tuple[Parameter, ...]
    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    parts: frozenset[tuple[str, str]]
    readings: int
