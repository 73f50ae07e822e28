"""Every exception sweatline raises on purpose.

::

    SweatlineError
    ├── JobError          something a person wrote cannot be used (also ValueError)
    │   ├── UnitError     a number without a usable unit
    │   └── NoDateError   a clock in a file that does not say of which day
    ├── PhysicsError      the question has no answer in the physics at hand
    │   ├── OutOfRange    outside the range of a table or correlation
    │   └── NoSuchState   the two properties asked for never occur together
    ├── SolveError        a machine has no balance, or none was found
    ├── StoreError        a file or record could not be read or written (also OSError)
    └── MissingExtra      an optional package is not installed (also ImportError)

Fields come first; the sentence shown to a person is made from them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


class SweatlineError(Exception):
    """Root of the tree; `exit_code` is what the command returns."""

    exit_code = 1


@dataclass(eq=False)
class JobError(SweatlineError, ValueError):
    """Something written by a person cannot be used.

    `what` says what is wrong, `allowed` what would be right; the rest says where.
    """

    what: str
    allowed: str = ""
    read: str = ""
    field: str = ""
    path: str = ""
    line: int | None = None

    exit_code = 2

    @property
    def sentence(self) -> str:
        """What is wrong and what would be right, for who sees where."""
        text = self.what
        if self.read:
            text += f" (read: {self.read})"
        if self.allowed:
            text += f"; {self.allowed}"
        return f"{text}."

    def __str__(self) -> str:
        where = self.path
        if self.line is not None:
            where = f"{where}:{self.line}" if where else f"line {self.line}"
        head = ": ".join(p for p in (where, self.field) if p)
        text = self.sentence.removesuffix(".")
        return f"{head}: {text}" if head else text


class UnitError(JobError):
    """A number without a usable unit, or a unit of the wrong kind."""


class NoDateError(JobError):
    """A clock in a file that does not say of which day."""


@dataclass(eq=False)
class PhysicsError(SweatlineError, ValueError):
    """The question has no answer in the physics at hand."""

    what: str
    exit_code = 3

    def __str__(self) -> str:
        return self.what


@dataclass(eq=False)
class OutOfRange(PhysicsError):
    """A value lies outside the range of a table or correlation."""

    name: str = ""
    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    unit: str = ""

    def __str__(self) -> str:
        if not self.name:
            return self.what
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"{self.what}: {self.name} = {self.value:.6g}{unit}, "
            f"allowed {self.low:.6g} to {self.high:.6g}{unit}"
        )


def check_between(
    what: str, name: str, value: float, low: float, high: float, unit: str = ""
) -> None:
    """Refuse a value outside `low` to `high`; both ends are allowed.

    Raises
    ------
    OutOfRange
        `what` says what cannot be answered, the rest which value stands in the way.
    """
    if not low <= value <= high:
        raise OutOfRange(what, name, value, low, high, unit)


def check_positive(what: str, name: str, value: float, unit: str = "") -> None:
    """Refuse a value that is not above zero and finite.

    Raises
    ------
    OutOfRange
        As :func:`check_between`.
    """
    if not 0.0 < value < math.inf:
        raise OutOfRange(what, name, value, 0.0, math.inf, unit)


class NoSuchState(PhysicsError):
    """The properties asked for never occur together."""


@dataclass(eq=False)
class SolveError(SweatlineError, RuntimeError):
    """A machine has no balance, or none was found.

    `condition` is the physical condition that failed, in the trade's words; `residuals` holds each
    residual of the best iterate in its own unit, `tried` what was attempted, in order.
    """

    condition: str
    residuals: Mapping[str, float] = field(default_factory=dict)
    best: Mapping[str, float] = field(default_factory=dict)
    tried: tuple[str, ...] = ()

    exit_code = 4

    def __str__(self) -> str:
        text = self.condition
        if self.residuals:
            text += "; left over: " + ", ".join(f"{k} {v:.3g}" for k, v in self.residuals.items())
        if self.tried:
            text += "; tried: " + ", ".join(self.tried)
        return text


@dataclass(eq=False)
class StoreError(SweatlineError, OSError):
    """A file or record could not be read or written."""

    what: str
    path: str = ""
    exit_code = 5

    def __str__(self) -> str:
        return f"{self.path}: {self.what}" if self.path else self.what


@dataclass(eq=False)
class MissingExtra(SweatlineError, ImportError):
    """An optional package is needed for this and is not installed."""

    package: str
    extra: str
    exit_code = 6

    def __str__(self) -> str:
        return f"this needs {self.package}; install it with: pip install 'sweatline[{self.extra}]'"
