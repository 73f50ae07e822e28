"""How long a motor stands before it may be started again, and whether it may be by now.

Two times count, and the longer is told: until both sides are equal, as calculated for this machine,
and what makers let such a motor stand. The calculated one alone would be too bold: nobody knows how
warm the condenser stays, and a motor that stalls heats a PTC and opens a protector for an hour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Q, Range, range_of
from sweatline.bench.start_gear.equalising import GasTube, Sides, equalising_times
from sweatline.bench.start_gear.gear import Relay, Torque
from sweatline.bench.start_gear.motor import Judged
from sweatline.safety.start_gear import EQUAL_ENOUGH, start_verdict

_LONG: Final = 0.95  # chance that the sides are equal, beyond which gauges should agree


@dataclass(frozen=True, slots=True, kw_only=True)
class RestRule:
    """A rest that makers print."""

    least: float  # s
    of: str
    status: str
    source: str


# A motor that starts against equal sides only, whatever switches it. Two trade texts and the
# controls of refrigerators ask for three to five minutes.
LOW_TORQUE_REST: Final = RestRule(
    least=180.0,
    of="a motor that starts against equal sides only",
    status="PUBLISHED",
    source="restart delay of dehumidifiers and room units, 180 s: compressor maker's guide",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest(Answer):
    """Time from a stop to the next start."""

    time: Annotated[float, Q("time", "stand still", "At the least; the longer of both.")]
    calculated: Annotated[
        Range | None, Q("time", doc="Until the sides are equal; null where nothing tells.")
    ]
    printed: Annotated[float, Q("time", doc="That makers let such a motor stand.")]
    decides: Literal["calculated", "printed"]
    of: str
    """Whose rest the printed one is."""
    status: str
    """Of the printed one."""
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Equalising(Answer):
    """How long after a stop the sides are equal."""

    sides: Sides
    tube: GasTube
    equal_enough: Annotated[float, Q("pressure difference")]
    time: Annotated[Range, Q("time", "equal after", digits=2)]
    off_time: Annotated[float | None, Q("time")]
    chance_equal: float | None
    """After that off time."""
    chance_start: float | None
    """That a sound motor of low torque starts then; null for others, and while a device
    that nobody named might be hot."""
    verdict: Judged
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(Answer):
    """Both gauges of the machine as it stands."""

    head: Annotated[float, Q("pressure")]
    suction: Annotated[float, Q("pressure")]
    equal_enough: Annotated[float, Q("pressure difference")]
    off_time: Annotated[float | None, Q("time")]
    verdict: Judged
    sentence: str


def rest_before_start(relay: Relay, calculated: Range | None) -> Rest | None:
    """How long a motor stands before it is started again; None for one of high torque.

    Parameters
    ----------
    relay : Relay
        Start device and torque.
    calculated : Range or None
        Until the sides are equal. [s]
    """
    if relay.starting_torque == "high":
        return None
    rule = LOW_TORQUE_REST
    if relay.wait > rule.least:
        rule = RestRule(
            least=relay.wait,
            of="a PTC, which must cool" if relay.device == "ptc" else "a start device not known",
            status=relay.status,
            source=relay.source,
        )
    longest = calculated.high if calculated is not None else 0.0
    return Rest(
        time=max(rule.least, longest),
        calculated=calculated,
        printed=rule.least,
        decides="calculated" if longest > rule.least else "printed",
        of=rule.of,
        status=rule.status,
        source=rule.source,
    )


def equalising(
    tube: GasTube, sides: Sides, relay: Relay, off_time: float | None, notes: list[str]
) -> tuple[Equalising, Rest | None]:
    """When the sides are equal, how long to wait, and what a start would do after an off time. [s]

    Raises
    ------
    OutOfRange
        A pressure, a volume or a size that is not positive.
    """
    times = equalising_times(tube, sides, left=EQUAL_ENOUGH)
    time = range_of(times)
    rest = rest_before_start(relay, time)
    notes.append(
        "the time to equalise is an estimate with wide bounds: nobody knows what a cold coil "
        "swallows and how fast the condenser cools; two gauges that agree decide"
    )
    equal = start = None
    verdict: Judged
    if off_time is None:
        # Judged as at the moment of the stop.
        judged = start_verdict(
            starting_torque=relay.starting_torque,
            difference=sides.high_pressure - sides.low_pressure,
        )
        verdict, sentence = judged.verdict, judged.sentence
    else:
        equal = float((times <= off_time).mean())
        cooled, known = off_time >= relay.wait, relay.device != "unknown"
        if relay.starting_torque == "low" and (known or cooled):
            start = equal if cooled else 0.0
        verdict, sentence = _after(relay, equal, cooled)
        if verdict == "ok" and rest is not None and off_time < rest.time:
            verdict = "marginal"
            sentence = "the sides should be equal, but makers let such a motor stand longer"
    found = Equalising(
        sides=sides,
        tube=tube,
        equal_enough=EQUAL_ENOUGH,
        time=time,
        off_time=off_time,
        chance_equal=equal,
        chance_start=start,
        verdict=verdict,
        sentence=sentence,
    )
    return found, rest


def standing(head: float, suction: float, relay: Relay, off_time: float | None) -> Standing:
    """What two gauges say decides, whatever was calculated.

    Parameters
    ----------
    head, suction : float
        [Pa]
    off_time : float or None
        [s]
    """
    equal = abs(head - suction) <= EQUAL_ENOUGH
    cooled = off_time is None or off_time >= relay.wait
    verdict, sentence = _after(relay, 1.0 if equal else 0.0, cooled)
    if equal and verdict == "ok" and relay.starting_torque != "high":
        sentence = "the gauges agree: the sides are equal, so it may start"
    return Standing(
        head=head,
        suction=suction,
        equal_enough=EQUAL_ENOUGH,
        off_time=off_time,
        verdict=verdict,
        sentence=sentence,
    )


def gauges_disagree(stands: Standing | None, calculated: Equalising | None) -> bool:
    """Whether gauges still differ where the sides should be equal by now."""
    if stands is None or calculated is None or calculated.chance_equal is None:
        return False
    apart = abs(stands.head - stands.suction) > stands.equal_enough
    return apart and calculated.chance_equal > _LONG


def _after(relay: Relay, equal: float, cooled: bool) -> tuple[Judged, str]:
    """Verdict on a start, by the chance that the sides are equal."""
    torque: Torque = relay.starting_torque
    if torque == "high":
        return (
            "ok",
            "a high-torque motor may start against what is left, given its start capacitor",
        )
    if not cooled and relay.device != "unknown":
        return "wrong", "the start device is still hot: it passes nothing to the start winding"
    low = "a low-torque motor" if torque == "low" else "a motor of unknown torque"
    if equal <= 1.0 - _LONG:
        return "wrong", (
            f"the sides are not equal yet, let it stand: {low} hums until the protector opens"
        )
    if not cooled:
        return "marginal", "if a PTC starts it, that is still hot: give it five minutes"
    if equal >= _LONG:
        return "ok", "the sides are equal by then"
    return "marginal", f"the sides may not be equal yet: {low} may hum until the protector opens"
