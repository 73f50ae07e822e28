"""The tasks with hoses on, in a script: pressure test, evacuation, hoses and scale, start gear.

What these functions do not name is taken from the job, or from the request's own defaults; any
further field of the request may be given by its name, in SI.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal, Protocol

from sweatline.air.moist import standard_pressure
from sweatline.api.quantity import Written, maybe_si, si

if TYPE_CHECKING:
    from sweatline.bench.evacuation.evacuation import EvacuationAnswer
    from sweatline.bench.hoses.hoses import HoseAnswer
    from sweatline.bench.start_gear.start_gear import StartGearAnswer
    from sweatline.bench.tightness.tightness import TightnessAnswer
    from sweatline.job.model import Job as Bench
    from sweatline.parts.hose import HoseState


class HasBench(Protocol):
    """A job as :func:`sweatline.read_job` gives it."""

    @property
    def bench(self) -> Bench: ...


def _place(job: HasBench | None, altitude: Written | None) -> tuple[Bench | None, float]:
    """The job's content, and the zero of the gauges. [Pa]"""
    if altitude is not None:
        zero = standard_pressure(si(altitude, "altitude", "altitude"))
    else:
        zero = standard_pressure(0.0) if job is None else job.bench.place.atmospheric_pressure
    return (None if job is None else job.bench), zero


def tightness(
    job: HasBench | None = None,
    *,
    readings: Sequence[tuple[Written, Written, Written]] = (),
    pressure: Written | None = None,
    see: Written = "5 g/yr",
    refrigerant: str | None = None,
    gas: Literal["nitrogen", "helium"] = "nitrogen",
    volume: Written | None = None,
    altitude: Written | None = None,
    **further: Any,
) -> TightnessAnswer:
    """A pressure test read, or planned.

    Parameters
    ----------
    readings : sequence of (time, pressure, temperature)
        Looks at gauge and thermometer. [s], [Pa], [K]
    pressure : float or str
        Of a test to come. [Pa]
    see : float or str
        Leak that it should show. [kg/s of refrigerant]
    volume : float or str
        Inside volume; else from the job. [m3]
    further
        Other fields of :class:`sweatline.bench.tightness.tightness.TightnessRequest`, in SI.

    Raises
    ------
    JobError
        Something that the question needs is missing, or a pressure no part may see.
    """
    from sweatline.bench.tightness.pressure_hold import HoldReading
    from sweatline.bench.tightness.tightness import TightnessRequest
    from sweatline.bench.tightness.tightness import tightness as answer

    bench, zero = _place(job, altitude)
    looks = tuple(
        HoldReading(
            time=si(time, "time", "readings"),
            pressure=si(gauge, "pressure", "readings", atmosphere=zero),
            temperature=si(thermometer, "temperature", "readings"),
        )
        for time, gauge, thermometer in readings
    )
    return answer(
        TightnessRequest(
            job=bench,
            atmosphere=zero,
            gas=gas,
            refrigerant=refrigerant,
            volume=maybe_si(volume, "volume", "volume"),
            readings=looks,
            pressure=maybe_si(pressure, "pressure", "pressure", atmosphere=zero),
            see=si(see, "leak rate", "see"),
            **further,
        )
    )


def evacuation(
    job: HasBench | None = None,
    *,
    rise: Sequence[tuple[Written, Written]] = (),
    refrigerant: str | None = None,
    target: Written = "500 micron",
    altitude: Written | None = None,
    **further: Any,
) -> EvacuationAnswer:
    """A rise test read; with a pump and hoses, the pump-down too.

    Parameters
    ----------
    rise : sequence of (time, pressure)
        Looks at the vacuum gauge after the valve was shut. [s], [Pa absolute]
    target : float or str
        Vacuum wanted. [Pa absolute]
    further
        Other fields of :class:`sweatline.bench.evacuation.evacuation.EvacuationRequest`, in SI.
    """
    from sweatline.bench.evacuation.evacuation import EvacuationRequest
    from sweatline.bench.evacuation.evacuation import evacuation as answer
    from sweatline.bench.evacuation.rise_test import RiseReading

    bench, zero = _place(job, altitude)
    looks = tuple(
        RiseReading(time=si(time, "time", "rise"), pressure=si(gauge, "absolute pressure", "rise"))
        for time, gauge in rise
    )
    return answer(
        EvacuationRequest(
            job=bench,
            atmosphere=zero,
            refrigerant=refrigerant,
            rise=looks,
            target=si(target, "absolute pressure", "target"),
            **further,
        )
    )


def hose(
    refrigerant: str,
    job: HasBench | None = None,
    *,
    hoses: Sequence[tuple[Written, Written, HoseState]] = (),
    containers: Sequence[tuple[Written, Written]] = (),
    want: Written | None = None,
    temperature: Written = "20 degC",
    altitude: Written | None = None,
    **further: Any,
) -> HoseAnswer:
    """How much got in, or what the scale must show for a wanted charge.

    Parameters
    ----------
    hoses : sequence of (bore, length, state)
        At the end of the work; state ``liquid`` or ``gas``. [m], [m]
    containers : sequence of (before, after)
        Cylinders and cans on the scale. [kg]
    want : float or str
        Charge wanted. [kg]
    temperature : float or str
        Of hoses and containers. [K]
    further
        Other fields of :class:`sweatline.bench.hoses.hoses.HoseRequest`, in SI.
    """
    from sweatline.bench.hoses.hoses import HoseRequest
    from sweatline.bench.hoses.hoses import hose as answer
    from sweatline.parts.hose import Container, Hose

    bench, zero = _place(job, altitude)
    warm = si(temperature, "temperature", "temperature")
    return answer(
        HoseRequest(
            refrigerant=refrigerant,
            job=bench,
            atmosphere=zero,
            temperature=warm,
            hoses=tuple(
                Hose(
                    bore=si(bore, "bore", "hoses"),
                    length=si(length, "length", "hoses"),
                    state=state,
                    temperature=warm,
                )
                for bore, length, state in hoses
            ),
            containers=tuple(
                Container(before=si(a, "mass", "containers"), after=si(b, "mass", "containers"))
                for a, b in containers
            ),
            want=maybe_si(want, "mass", "want"),
            **further,
        )
    )


def start_gear(
    job: HasBench | None = None,
    *,
    compressor: str | None = None,
    refrigerant: str | None = None,
    capillary: str | None = None,
    off_time: Written | None = None,
    altitude: Written | None = None,
    **further: Any,
) -> StartGearAnswer:
    """Whether it starts, and what the motor carries.

    Parameters
    ----------
    compressor, capillary, refrigerant : str, optional
        Of the job, by name.
    off_time : float or str
        Since it stopped. [s]
    further
        Other fields of :class:`sweatline.bench.start_gear.start_gear.StartGearRequest`, in SI.
    """
    from sweatline.bench.start_gear.start_gear import StartGearRequest
    from sweatline.bench.start_gear.start_gear import start_gear as answer

    bench, zero = _place(job, altitude)
    return answer(
        StartGearRequest(
            job=bench,
            atmosphere=zero,
            compressor=compressor,
            refrigerant=refrigerant,
            capillary=capillary,
            off_time=maybe_si(off_time, "time", "off_time"),
            **further,
        )
    )
