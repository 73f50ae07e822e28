"""A pressure test read as a count of molecules: what leaks, and how little could be seen.

Between two readings pressure, temperature and barometer all move; what a leak takes is moles. Each
reading gives moles per volume from the gas's equation of state, its errors are carried with
their correlation in time, and a straight line is fitted by generalised least squares.
Below: the same test as a log has it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from sweatline.air.permanent_gas import GasName, PermanentGas
from sweatline.answers import Answer, Hidden, Q, Range, ask, need
from sweatline.bench.answer import check_later
from sweatline.constants import GAS_CONSTANT, NINE_TENTHS, STANDARD_ATMOSPHERE
from sweatline.errors import JobError, OutOfRange
from sweatline.log.entries import Entry
from sweatline.log.extract import (
    CHANGES,
    Book,
    Found,
    Logged,
    clock,
    evenly,
    last_reading,
    nearest,
    numbers,
    of_kind,
    repeats_of,
    scale_of,
    stretch,
)
from sweatline.units import parse

FloatArray = NDArray[np.float64]
TestGas = Literal["nitrogen", "helium"]

# Smallest change that a test finds in 95 of 100 tries with 5 false alarms in 100: Currie, Anal.
# Chem. 40, 586 (1968), L_D = 3.29 standard deviations (MEMORY 0.95).
DETECTION: Final = 3.29
_ALARM: Final = 1.645
_NEVER: Final = 4.0  # standard deviations by which nothing grows between two looks

# Gas that was just let in takes so long to come to the wall's temperature (common practice).
SETTLES: Final = 900.0  # s
_SHORTEST, _LONGEST = 60.0, 60.0 * 86400.0  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldReading:
    """One look at gauge and thermometer."""

    time: float = need("Since the first.", "time", 0.0, 3.2e7)  # s
    # Pa absolute: the gauge's plus the barometer's, or the assumed atmosphere's
    pressure: float = need("At the gauge.", "pressure")
    # K of the gas, or of what stands for it
    temperature: float = need("Of the gas.", "temperature", 243.15, 333.15)
    barometer: float | None = ask("If read.", "absolute pressure", 4e4, 1.1e5, zero=True)  # Pa

    def check(self, before: HoldReading | None) -> None:
        """Refuse a reading that cannot follow the one before it."""
        if before is None:
            return
        check_later(self.time, before.time)
        jump = abs(self.pressure - before.pressure)
        if (
            abs(jump - STANDARD_ATMOSPHERE) < 0.04 * STANDARD_ATMOSPHERE
            and jump > 0.05 * before.pressure
        ):
            raise JobError(
                what="one atmosphere away from the reading before it: was one gauge and the other "
                "absolute?"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldInstruments:
    """Errors of the readings, as standard deviations; defaults are judged from common practice.

    A calibration error of gauge or thermometer is the same in every reading and cancels; what
    remains is how well each repeats. `unseen` is the share of a temperature change that the gas
    makes and the thermometer does not show, or the other way round.
    """

    gauge_repeats: float = ask(
        "How well the gauge repeats, reading included; one standard deviation.",
        "pressure difference", 1.0, 1e6, usual="2 kPa", metavar="DP",
        option="gauge-error", taken="gauge's error",
    )  # fmt: skip
    # Relative, the same in all readings.
    gauge_scale: float = ask(
        "Its calibration error.", "ratio", 0.0, 0.2, usual="1 %", metavar="X",
        taken="gauge's scale",
    )  # fmt: skip
    thermometer: float = ask(
        "Likewise.", "temperature difference", 1e-3, 20.0, usual="0.2 K", metavar="DT",
        option="thermometer-error", taken="thermometer's error",
    )  # fmt: skip
    unseen: float = 0.1
    # An unread barometer wanders as exp(-t/1 day) with this spread; 0 when it was read or when the
    # gauge is sealed. 7 hPa: ordinary weather in middle latitudes (MEMORY 0.65).
    barometer: float = 700.0  # Pa
    barometer_memory: float = 86400.0  # s

    def covariance(
        self, times: FloatArray, pressures: FloatArray, temperatures: FloatArray, atmosphere: float
    ) -> tuple[FloatArray, FloatArray]:
        """Covariance of the pressures and of the temperatures. [Pa2], [K2]

        Parameters
        ----------
        times, pressures, temperatures : (n,) array
            [s], [Pa], [K]
        atmosphere : float
            [Pa]
        """
        n = times.size
        apart = np.abs(times[:, None] - times[None, :])
        gain = self.gauge_scale * (pressures - atmosphere)
        p = (
            self.gauge_repeats**2 * np.eye(n)
            + np.outer(gain, gain)
            + self.barometer**2 * np.exp(-apart / self.barometer_memory)
        )
        moved = self.unseen * (temperatures - temperatures[0])
        t = self.thermometer**2 * np.eye(n) + np.outer(moved, moved)
        return np.asarray(p), np.asarray(t)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLook(Answer):
    """One look at a pressure test, beside what a tight circuit would have shown."""

    time: Annotated[float, Q("time", "after", "Since the first look.")]
    pressure: Annotated[float, Q("pressure", "it showed", digits=4)]
    temperature: Annotated[float, Q("temperature", "gas at")]
    tight: Annotated[
        Range, Q("pressure", "tight, it would show", "By the errors of the instruments.", digits=4)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold(Answer):
    """A pressure test, read."""

    gas: GasName
    pressure: Annotated[float, Q("pressure", doc="Mean, absolute.")]
    temperature: Annotated[float, Q("temperature", doc="Mean.")]
    duration: Annotated[float, Q("time", "duration")]
    expected_last_pressure: Annotated[
        float, Q("pressure", "tight, it would show", "At the last temperature.", digits=4)
    ]
    last_pressure: Annotated[float, Q("pressure", "it showed", digits=4)]
    lost_share: Annotated[
        float, Q("ratio", doc="Of the gas, 0 to 1; negative when it seemed to grow.")
    ]
    rate: Annotated[
        float,
        Q(
            "gas throughput",
            "loss of test gas",
            "Of the test gas at the mean temperature and pressure; positive outward.",
            digits=2,
        ),
    ]
    rate_sd: Annotated[float, Q("gas throughput", doc="Of readings and volume.")]
    blank_sd: Annotated[float, Hidden()]  # Pa*m3/s, what a tight machine would have shown
    found: bool
    """Above what five tight machines in a hundred would show."""
    rose: bool
    """The gas seemed to grow by more than the errors allow, over all or between two looks."""
    settling: bool
    """The loss slows down by more than the errors allow; false with fewer than four readings."""
    smallest_seen: Annotated[
        float,
        Q(
            "gas throughput",
            "smallest loss it shows",
            "Seen in 95 of 100 such tests, with 5 false alarms.",
            digits=2,
        ),
    ]
    looks: tuple[HoldLook, ...]


def expected_pressure(
    gas: PermanentGas, *, pressure: float, temperature: float, later: float
) -> float:
    """Pressure that a tight volume shows at another temperature. [Pa]

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    temperature, later : float
        [K]
    """
    return gas.pressure(gas.amount_density(pressure, temperature), later)


def _slopes(gas: PermanentGas, p: float, t: float) -> tuple[float, float]:
    """Change of the moles per volume with pressure and with temperature."""
    dp, dt = 1e-4 * p, 0.05
    by_p = (gas.amount_density(p + dp, t) - gas.amount_density(p - dp, t)) / (2.0 * dp)
    by_t = (gas.amount_density(p, t + dt) - gas.amount_density(p, t - dt)) / (2.0 * dt)
    return by_p, by_t


def leak_rate(
    gas: PermanentGas,
    readings: Sequence[HoldReading],
    *,
    volume: float,
    volume_sd: float = 0.0,
    instruments: HoldInstruments,
    atmosphere: float,
) -> Hold:
    """Leak rate of a pressure test with its error, from two readings or more.

    Parameters
    ----------
    gas : PermanentGas
        Nitrogen or helium.
    readings : sequence of HoldReading
        In the order of time.
    volume, volume_sd : float
        Inside volume and its standard deviation. [m3]
    instruments : HoldInstruments
        Errors of the readings.
    atmosphere : float
        [Pa]

    Raises
    ------
    OutOfRange
        Fewer than two readings, readings out of order, or a volume that is not positive.
    """
    times = np.array([r.time for r in readings], float)
    if times.size < 2 or np.any(np.diff(times) <= 0.0):
        raise OutOfRange(
            "a pressure test needs two readings or more, each later than the one before"
        )
    if not volume > 0.0:
        raise OutOfRange("the inside volume must be known", "volume", volume, 0.0, math.inf, "m3")
    p = np.array([r.pressure for r in readings], float)
    t = np.array([r.temperature for r in readings], float)
    rho = np.array([gas.amount_density(a, b) for a, b in zip(p, t, strict=True)])
    by_p, by_t = np.array([_slopes(gas, a, b) for a, b in zip(p, t, strict=True)]).T
    cov_p, cov_t = instruments.covariance(times, p, t, atmosphere)
    cov = np.outer(by_p, by_p) * cov_p + np.outer(by_t, by_t) * cov_t

    own = np.diag(cov)
    apart = np.sqrt(own[1:] + own[:-1] - 2.0 * np.diag(cov, 1))  # of two looks in a row
    slope, slope_sd = _line(times, rho, cov, 1)
    mean_t = float(t.mean())
    scale = GAS_CONSTANT * mean_t * volume
    rate, blank = -slope * scale, slope_sd * scale
    settling = False
    if times.size >= 4:
        bend, bend_sd = _line(times, rho, cov, 2)
        settling = bend > 2.0 * bend_sd
    return Hold(
        gas=gas.name,
        rate=rate,
        rate_sd=math.hypot(blank, rate * volume_sd / volume),
        blank_sd=blank,
        smallest_seen=DETECTION * blank,
        found=rate > _ALARM * blank,
        rose=rate < -_ALARM * blank or bool(np.any(np.diff(rho) > _NEVER * apart)),
        settling=settling,
        lost_share=float(-slope * (times[-1] - times[0]) / rho[0]),
        temperature=mean_t,
        pressure=float(p.mean()),
        duration=float(times[-1] - times[0]),
        last_pressure=float(p[-1]),
        expected_last_pressure=expected_pressure(
            gas, pressure=float(p[0]), temperature=float(t[0]), later=float(t[-1])
        ),
        looks=_beside_tight(gas, readings, by_t / by_p, cov_p, cov_t),
    )


def _beside_tight(
    gas: PermanentGas,
    readings: Sequence[HoldReading],
    by_warmth: FloatArray,
    cov_p: FloatArray,
    cov_t: FloatArray,
) -> tuple[HoldLook, ...]:
    """Each look with the range, 9 in 10, of what a tight circuit would have shown after the first.

    Parameters
    ----------
    by_warmth : (n,) array
        Change of the pressure with temperature in a tight circuit, less than zero. [Pa/K]
    cov_p, cov_t : (n, n) array
        Covariance of the readings. [Pa2], [K2]
    """
    first = readings[0]
    looks = []
    for i, look in enumerate(readings):
        apart = cov_p[i, i] + cov_p[0, 0] - 2.0 * cov_p[0, i]
        warm = cov_t[i, i] + cov_t[0, 0] - 2.0 * cov_t[0, i]
        reach = NINE_TENTHS * math.sqrt(max(apart + by_warmth[i] ** 2 * warm, 0.0))
        middle = expected_pressure(
            gas, pressure=first.pressure, temperature=first.temperature, later=look.temperature
        )
        looks.append(
            HoldLook(
                time=look.time - first.time,
                pressure=look.pressure,
                temperature=look.temperature,
                tight=Range(low=middle - reach, middle=middle, high=middle + reach),
            )
        )
    return tuple(looks)


def _line(
    times: FloatArray, values: FloatArray, cov: FloatArray, power: int
) -> tuple[float, float]:
    """Coefficient of the highest power of a polynomial and its standard deviation."""
    span = times[-1] - times[0]
    x = np.vander((times - times[0]) / span, power + 1, increasing=True)
    scale = float(np.mean(np.diag(cov)))
    # The noise all readings share is far larger than what separates them; the constant takes it.
    c = cov / scale
    weighted = np.linalg.solve(c, x)
    inverse = np.linalg.inv(x.T @ weighted)
    found = inverse @ (weighted.T @ (values - values[0]))
    per = span**power
    return float(found[power] / per), float(math.sqrt(scale * inverse[power, power]) / per)


def smallest_rate(
    gas: PermanentGas,
    *,
    pressure: float,
    temperature: float,
    volume: float,
    duration: float,
    instruments: HoldInstruments,
    readings: int = 2,
    atmosphere: float = 101325.0,
) -> float:
    """Smallest leak that 95 of 100 such tests would see, with 5 false alarms. [Pa*m3/s]

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    temperature : float
        [K]
    volume : float
        [m3]
    duration : float
        [s]
    instruments : HoldInstruments
        Errors of the readings.
    readings : int
        Spread evenly over the test.
    atmosphere : float
        [Pa]
    """
    times = np.linspace(0.0, duration, readings)
    p = np.full(times.size, pressure)
    t = np.full(times.size, temperature)
    by_p, by_t = _slopes(gas, pressure, temperature)
    cov_p, cov_t = instruments.covariance(times, p, t, atmosphere)
    _, sd = _line(times, np.zeros(times.size), by_p**2 * cov_p + by_t**2 * cov_t, 1)
    return DETECTION * sd * GAS_CONSTANT * temperature * volume


def hold_time(
    gas: PermanentGas,
    rate: float,
    *,
    pressure: float,
    temperature: float,
    volume: float,
    instruments: HoldInstruments,
    readings: int = 2,
    atmosphere: float = 101325.0,
) -> float | None:
    """How long to test so that a leak of a rate is seen; None beyond sixty days. [s]

    Parameters
    ----------
    rate : float
        Throughput of the test gas. [Pa*m3/s]
    pressure : float
        Absolute. [Pa]
    temperature : float
        [K]
    volume : float
        [m3]
    instruments : HoldInstruments
        Errors of the readings.
    readings : int
        Spread evenly over the test.
    atmosphere : float
        [Pa]
    """

    def seen(duration: float) -> bool:
        least = smallest_rate(
            gas,
            pressure=pressure,
            temperature=temperature,
            volume=volume,
            duration=duration,
            instruments=instruments,
            readings=readings,
            atmosphere=atmosphere,
        )
        return least <= rate

    if not seen(_LONGEST):
        return None
    low, high = math.log(_SHORTEST), math.log(_LONGEST)
    if seen(_SHORTEST):
        return _SHORTEST
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if seen(math.exp(middle)) else (middle, high)
    return math.exp(high)


# Looks of a gauge that sends by itself, evenly picked: more say no more and take long.
_MOST_LOOKS: Final = 120
_GAUGES: Final = ("suction gauge", "head gauge")
# What tells the temperature of the gas in a machine at rest, best first.
_THERMOMETERS: Final = ("circuit", "coil", "shell", "air in")
_NEAR: Final = 1800.0  # s between a look at the gauge and one at the thermometer
_SAME_WEATHER: Final = 3.0 * 3600.0  # s between a look at the gauge and one at the barometer


def hold_in(book: Book) -> Logged:
    """The last pressure test of a log: readings, gas and errors of the instruments.

    Raises
    ------
    JobError
        The log has none, or not enough of it; the sentence says what to read.
    """
    found = stretch(book.held, "pressurised", ends=CHANGES - {"isolated"})
    if found is None:
        raise JobError(
            what="the log does not say that the circuit was pressurised",
            allowed="record it, as `sweatline log event LOG pressurised nitrogen`, or give the "
            "readings",
            path=book.path,
        )
    began, after = found
    gauge = _most_read(after, _GAUGES)
    looks = [e for e in after if e.channel == gauge]
    if len(looks) < 2:
        raise JobError(
            what="a pressure test needs two looks at the gauge or more, and since "
            f"{clock(began)} the log has {len(looks) or 'none'}",
            allowed="read suction-gauge and circuit (the temperature) again later",
            path=book.path,
        )
    readings, used, notes = _paired(book, evenly(looks, _MOST_LOOKS), after)
    thermometers = [e for e in used if e.quantity == "temperature"]
    gauges = [e for e in used if e.channel == gauge]
    return Logged(
        {
            "readings": Found(
                value=tuple(readings),
                text=f"{len(readings)} looks at the {gauge} and the {thermometers[0].channel}",
                entries=numbers(used),
            ),
            "gas": _gas(book, began),
            "gauge_repeats": repeats_of(book, gauges),
            "gauge_scale": scale_of(book, gauges),
            "thermometer": repeats_of(book, thermometers),
        },
        notes,
    )


def hold_begun(book: Book) -> Logged | None:
    """The pressure of a test in a log that cannot be read yet; None before gas was let in."""
    found = stretch(book.held, "pressurised", ends=CHANGES - {"isolated"})
    if found is None:
        return None
    began, after = found
    gauge = last_reading(after, _most_read(after, _GAUGES))
    return None if gauge is None else Logged({"pressure": gauge, "gas": _gas(book, began)})


def _gas(book: Book, began: Entry) -> Found[TestGas] | None:
    words = began.text.casefold()
    if "oxygen" in words or "compressed air" in words:
        raise JobError(
            what="oxygen and compressed air burn with oil: a circuit is never pressurised with "
            "them, and no test with them is read",
            read=began.text,
            allowed="let it out in the open, away from flame, and use dry nitrogen or helium",
            path=book.path,
        )
    at = {"nitrogen": words.find("nitrogen"), "helium": words.find("helium")}
    if at["nitrogen"] < 0 and "n2" in words.split():
        at["nitrogen"] = words.find("n2")
    named = sorted((place, gas) for gas, place in at.items() if place >= 0)
    if not named:
        return None
    # Of a mixture the gas named first is its main part; a tenth of another in it hardly matters.
    gas: TestGas = "helium" if named[0][1] == "helium" else "nitrogen"
    text = began.text if len(named) == 1 else f"{began.text}: a mixture, read as {gas}"
    return Found(value=gas, text=text, entries=(began.id,))


def _most_read(entries: Sequence[Entry], channels: Sequence[str]) -> str:
    """The channel that was read most; of two alike the first."""
    counts = [sum(e.channel == c for e in entries if e.kind == "reading") for c in channels]
    return channels[counts.index(max(counts))]


def _paired(
    book: Book, looks: Sequence[Entry], after: Sequence[Entry]
) -> tuple[list[HoldReading], list[Entry], list[str]]:
    """Looks at the gauge with the temperature and the barometer of their time."""

    warm: list[Entry] = []
    for channel in _THERMOMETERS:
        warm = of_kind(after, "reading", channel)
        if any(nearest(warm, look, _NEAR) is not None for look in looks):
            break
    paired = [(e, nearest(warm, e, _NEAR)) for e in looks]
    kept = [(e, t) for e, t in paired if t is not None]
    if len(kept) < 2:
        raise JobError(
            what="a pressure test says nothing without the temperature at each look at the gauge, "
            f"and the log has one within half an hour for {len(kept) or 'none'} of {len(looks)}",
            allowed='read it with the gauge, as `sweatline log read LOG circuit "21 C"`',
            path=book.path,
        )
    notes = []
    if len(kept) < len(looks):
        left = len(looks) - len(kept)
        notes.append(
            f"{left} {'look' if left == 1 else 'looks'} at the gauge left out: no temperature was "
            "read within half an hour of it"
        )
    barometers = of_kind(after, "reading", "barometer")
    weather = [nearest(barometers, e, _SAME_WEATHER) for e, _ in kept]
    if any(b is None for b in weather):
        weather = [None] * len(kept)
    readings: list[HoldReading] = []
    used: list[Entry] = []
    for (e, t), b in zip(kept, weather, strict=True):
        barometer, pressure = None, e.value
        if b is not None:
            barometer = b.number
            pressure = parse(e.text, "pressure", atmosphere=barometer).value
            used.append(b)
        one = HoldReading(
            time=e.happened_at - kept[0][0].happened_at,
            pressure=float(pressure or 0.0),
            temperature=t.number,
            barometer=barometer,
        )
        if readings and one.time <= readings[-1].time:  # read twice at once: the later word holds
            readings[-1] = one
        else:
            readings.append(one)
        used += [e, t]
    unique = {e.id: e for e in used}
    return readings, [unique[i] for i in sorted(unique)], notes
