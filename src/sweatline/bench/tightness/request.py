"""What may be asked about tightness, and what its answers share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from sweatline.log.extract import NO_LOG, Account

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sweatline.assembly.inside_volume import CircuitPiece
    from sweatline.bench.leak_channel import LeakGas
    from sweatline.bench.permanent_gas import PermanentGas
    from sweatline.bench.tightness.pressure_hold import HoldInstruments, HoldReading
    from sweatline.job.model import Job
    from sweatline.refrigerant.refrigerant import Refrigerant
    from sweatline.units import System

    FloatArray = NDArray[np.float64]

__all__ = [
    "DRAWS",
    "SETTLES",
    "Asked",
    "History",
    "PressureLimit",
    "TestGas",
    "at_rest",
    "gas_before",
    "job_limits",
]

TestGas = Literal["nitrogen", "helium"]

DRAWS: Final = 128  # shapes of a leak
# Gas that was just let in takes so long to come to the wall's temperature (common practice).
SETTLES: Final = 900.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLimit:
    """What one part stands, absolute."""

    part: str
    pressure: float  # Pa


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What the person remembers of the machine."""

    refrigerant: str
    held: float  # kg
    held_sd: float  # kg
    after: float  # s
    after_sd: float  # s
    left_share: float | None  # None: empty


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Everything one tightness question may hold; what is None was not asked."""

    gas: TestGas
    refrigerant: str | None
    rest_temperature: float  # K
    atmosphere: float  # Pa
    volume: float | None  # m3
    volume_sd: float  # m3
    readings: Sequence[HoldReading]
    instruments: HoldInstruments
    pressure: float | None  # Pa absolute, of a hold to come, or under which a rate was measured
    measured: float | None  # Pa*m3/s of the test gas, read by another instrument
    see: float  # kg/s of refrigerant
    limits: Sequence[PressureLimit]
    history: History | None
    unit_system: System = "SI"  # in which a refusal is told
    pieces: Sequence[CircuitPiece] = ()
    account: Account = NO_LOG
    job: Job | None = None


def job_limits(job: Job) -> list[PressureLimit]:
    """Limits of a job for a hold of the whole circuit."""
    found = []
    for side, limit in (
        ("low side", job.limits.low_side_pressure),
        ("high side", job.limits.high_side_pressure),
    ):
        if limit is not None:
            why = limit.note or "as written in the job"
            found.append(PressureLimit(part=f"{side} ({why})", pressure=limit.value))
    return found


def gas_before(gas: PermanentGas, pressure: float, temperature: float) -> LeakGas:
    """Test gas before a leak."""
    from sweatline.bench.leak_channel import permanent

    return permanent(gas, pressure=pressure, temperature=temperature)


def at_rest(fluid: Refrigerant, temperature: float) -> tuple[float, LeakGas]:
    """Pressure of a machine at rest that holds liquid, and its vapour."""
    from sweatline.bench.leak_channel import vapour

    pressure = fluid.saturation_pressure_dew(temperature)
    return pressure, vapour(fluid, pressure=pressure, temperature=temperature)
