r"""How long after a stop the two sides of a capillary machine take to come equal.

First the liquid that stands before the tube runs through it, then gas follows. The gas stage is
steady isothermal flow with friction at every moment (textbook),

    G^2 (f L/D + 2 ln(p1/p2)) = (p1^2 - p2^2)/(p v),

p2 no lower than G sqrt(p v), where the flow chokes, between two volumes at one temperature. The
entrance is left out: beside the friction of a capillary it is nothing. So is heat: vapour
condenses on a cold coil and holds its pressure down, and liquid left in a warm condenser boils and
holds it up. Nobody knows both; `equalising_times` samples them between their bounds, so that
the answer is a range. Below: how a machine ran last and how it rests, taken out of a log.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from sweatline.answers import Answer, Hidden, Q, need
from sweatline.assembly.assemble import circuit_pieces, side_volume
from sweatline.assembly.build import Build
from sweatline.compiled import kernel
from sweatline.errors import JobError, check_positive
from sweatline.flow.inside_tube import darcy_friction_churchill
from sweatline.log.channels import EMPTIED
from sweatline.log.entries import Entry
from sweatline.log.extract import Book, Found, Logged, clock, last_reading, scale_of
from sweatline.log.logbook import start_refused
from sweatline.machine.balance import SteadyState
from sweatline.parts.capillary_flow import flow_through
from sweatline.refrigerant.refrigerant import Refrigerant
from sweatline.units.kinds import HOUR

FloatArray = NDArray[np.float64]

_INTERVALS = 64
_FLOW_SD = 0.10  # of the gas flow: friction, entrance, coil of the tube
_SEED = 7
_LIQUID_SD: Final = 0.3  # of the liquid before the tube, relative
_BORE_SD: Final = 0.02e-3  # m, of a tube whose bore nobody vouches for
_VOLUME_SD: Final = 0.1  # relative


@dataclass(frozen=True, slots=True, kw_only=True)
class GasTube(Answer):
    """A capillary and the gas that goes through it."""

    bore: Annotated[float, Q("bore")]
    bore_sd: Annotated[float, Hidden()]  # m
    length: Annotated[float, Q("length")]
    roughness: Annotated[float, Hidden()]  # m
    elasticity: Annotated[float, Hidden()]  # J/kg, pressure times specific volume of the gas
    viscosity: Annotated[float, Hidden()]  # Pa*s


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides(Answer):
    """Both sides at the moment of the stop."""

    high_pressure: Annotated[float, Q("pressure")]
    rest_pressure: Annotated[float, Hidden()]  # Pa, of the room: a cooling condenser falls to it
    low_pressure: Annotated[float, Q("pressure")]
    high_volume: Annotated[float, Q("volume", doc="Of gas.")]
    low_volume: Annotated[float, Q("volume", doc="Of gas.")]
    volume_sd: Annotated[float, Hidden()]  # of both, relative
    liquid: Annotated[float, Q("mass", doc="Before the tube.")]
    liquid_sd: Annotated[float, Hidden()]  # kg
    liquid_flow: Annotated[float, Hidden()]  # kg/s that the tube passes at the stop


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillarySize:
    """A capillary that no job describes."""

    bore: float = need("Inside.", "bore", 0.2e-3, 5e-3)  # m
    length: float = need("Of the tube.", "length", 0.05, 50.0)  # m


@kernel
def choking_share(drag: float) -> float:
    """Pressure at a choked end over that before the tube: f L/D = 1/r^2 - 1 + 2 ln r. [-]

    Parameters
    ----------
    drag : float
        Friction factor times length over bore, above 0. [-]
    """
    low, high = 0.0, 1.0
    for _ in range(50):
        r = 0.5 * (low + high)
        if 1.0 / (r * r) - 1.0 + 2.0 * math.log(r) > drag:
            low = r
        else:
            high = r
    return 0.5 * (low + high)


@kernel
def gas_flow(
    p1: float,
    p2: float,
    elasticity: float,
    viscosity: float,
    bore: float,
    length: float,
    roughness: float,
) -> float:
    """Mass flow of gas through a tube, isothermal, with friction, choked where it must be. [kg/s]

    Parameters
    ----------
    p1, p2 : float
        Before and behind the tube; no flow unless p1 > p2. [Pa]
    elasticity : float
        Pressure times specific volume. [J/kg]
    viscosity : float
        [Pa*s]
    bore, length, roughness : float
        [m]
    """
    if p1 <= p2:
        return 0.0
    g = math.sqrt((p1 * p1 - p2 * p2) / (elasticity * (0.03 * length / bore + 1.5)))
    for _ in range(60):
        drag = darcy_friction_churchill(g * bore / viscosity, roughness / bore) * length / bore
        end = max(p2, choking_share(drag) * p1)
        new = math.sqrt((p1 * p1 - end * end) / (elasticity * (drag + 2.0 * math.log(p1 / end))))
        # Half a step in the logarithm: the laminar side would swing otherwise.
        new = math.sqrt(new * g)
        done = abs(new - g) < 1e-10 * g
        g = new
        if done:
            break
    return g * 0.25 * math.pi * bore * bore


@kernel
def gas_time(
    high: float,
    low: float,
    high_volume: float,
    low_volume: float,
    elasticity: float,
    viscosity: float,
    bore: float,
    length: float,
    roughness: float,
    left: float,
) -> float:
    """Time until two volumes of gas differ by no more than `left`. [s]

    Mass that leaves one volume enters the other, so the lower pressure follows from the higher
    and the time is one integral, taken over the root of the difference.

    Parameters
    ----------
    high, low : float
        Pressures at the start. [Pa]
    high_volume, low_volume : float
        [m3]
    elasticity : float
        Pressure times specific volume. [J/kg]
    viscosity : float
        [Pa*s]
    bore, length, roughness : float
        [m]
    left : float
        Difference that counts as none, above 0. [Pa]
    """
    start = high - low
    if start <= left:
        return 0.0
    ratio = high_volume / low_volume
    x0, x1 = math.sqrt(left), math.sqrt(start)
    step = (x1 - x0) / _INTERVALS
    total = 0.0
    for i in range(_INTERVALS + 1):
        x = x0 + i * step
        p1 = high - (start - x * x) / (1.0 + ratio)
        flow = gas_flow(p1, p1 - x * x, elasticity, viscosity, bore, length, roughness)
        weight = 1.0 if i in (0, _INTERVALS) else (4.0 if i % 2 else 2.0)
        total += weight * 2.0 * x / ((1.0 + ratio) * flow)
    return high_volume / elasticity * total * step / 3.0


def equalising_times(tube: GasTube, sides: Sides, *, left: float, draws: int = 256) -> FloatArray:
    """Times from the stop until the sides differ by no more than `left`, rising. [s]

    Sampled: bore, gas flow, volumes, liquid, the mean flow of the liquid (half to all of that at
    the stop, since the difference falls), the pressure to which the condenser has cooled when
    the gas stage begins, and how much a cold evaporator swallows (its volume counted once to ten
    times).

    Parameters
    ----------
    left : float
        Difference that counts as none. [Pa]

    Raises
    ------
    OutOfRange
        A pressure, a volume or a size that is not positive.
    """
    for name, value, unit in (
        ("bore", tube.bore, "m"),
        ("length", tube.length, "m"),
        ("gas volume of the high side", sides.high_volume, "m3"),
        ("gas volume of the low side", sides.low_volume, "m3"),
        ("low pressure", sides.low_pressure, "Pa"),
        ("difference that counts as none", left, "Pa"),
    ):
        check_positive("the time to equalise cannot be calculated", name, value, unit)
    exponent = max(math.ceil(math.log2(draws)), 3)
    u = qmc.Sobol(8, scramble=True, rng=np.random.default_rng(_SEED)).random_base2(exponent)
    z = ndtri(np.clip(u[:, :5], 1e-6, 1.0 - 1e-6))
    bore = np.maximum(tube.bore + tube.bore_sd * z[:, 0], 0.5 * tube.bore)
    gas = np.exp(_FLOW_SD * z[:, 1])
    high_volume = sides.high_volume * np.exp(sides.volume_sd * z[:, 2])
    low_volume = sides.low_volume * np.exp(sides.volume_sd * z[:, 3]) * 10.0 ** u[:, 7]
    liquid = np.maximum(sides.liquid + sides.liquid_sd * z[:, 4], 0.0)
    cooled = min(max(sides.rest_pressure, sides.low_pressure), sides.high_pressure)
    begin = sides.high_pressure * (cooled / sides.high_pressure) ** u[:, 6]
    times = np.zeros(bore.size)
    if sides.liquid_flow > 0.0:
        # A wider bore passes more, about as bore to the power 2.5.
        flow = sides.liquid_flow * (bore / tube.bore) ** 2.5 * (0.5 + 0.5 * u[:, 5])
        times += liquid / flow
    for i in range(bore.size):
        times[i] += (
            gas_time(
                float(begin[i]),
                sides.low_pressure,
                float(high_volume[i]),
                float(low_volume[i]),
                tube.elasticity,
                tube.viscosity,
                float(bore[i]),
                tube.length,
                tube.roughness,
                left,
            )
            / gas[i]
        )
    return np.sort(times)


def sides_at_stop(build: Build, balance: SteadyState) -> tuple[GasTube, Sides]:
    """Tube and both sides at the moment a settled machine stops."""
    pieces = circuit_pieces(build.job, build.compressor)
    high, high_sd = side_volume(pieces, "high")
    low, low_sd = side_volume(pieces, "low")
    fluid = build.refrigerant
    places = balance.charge_by_place
    high_mass = places.condenser + places.liquid_line + places.drier + places.discharge_line
    low_mass = places.evaporator + places.suction_line
    if build.compressor.kind == "rotary":
        high_mass += places.shell_gas
    else:
        low_mass += places.shell_gas
    liquid, high_gas = _split(fluid, balance.liquid_pressure, high, high_mass)
    _wet, low_gas = _split(fluid, balance.suction_pressure, low, low_mass)
    room = build.job.room.temperature.value
    rest = fluid.saturation_pressure_dew(room)
    return gas_tube(
        fluid,
        room=room,
        between=(rest, balance.suction_pressure),
        bore=build.capillary.bore.value,
        bore_sd=build.capillary.bore.sd,
        length=build.length,
        roughness=build.capillary.roughness.value,
    ), Sides(
        high_pressure=balance.liquid_pressure,
        rest_pressure=rest,
        low_pressure=balance.suction_pressure,
        high_volume=high_gas,
        low_volume=low_gas,
        volume_sd=max(high_sd / high, low_sd / low),
        liquid=liquid,
        liquid_sd=_LIQUID_SD * liquid,
        liquid_flow=balance.flow,
    )


def gas_tube(
    fluid: Refrigerant,
    *,
    room: float,
    between: tuple[float, float],
    bore: float,
    bore_sd: float,
    length: float,
    roughness: float = 0.75e-6,
) -> GasTube:
    """A capillary with the vapour of a refrigerant at the room's temperature.

    Parameters
    ----------
    room : float
        [K]
    between : (float, float)
        Pressures of both sides; the gas is taken at their geometric mean. [Pa]
    bore, bore_sd, length, roughness : float
        [m]
    """
    dew = fluid.saturation_pressure_dew(room)
    p = min(math.sqrt(between[0] * between[1]), 0.95 * dew)
    gas = fluid.state(p=p, T=room)
    return GasTube(
        bore=bore,
        bore_sd=bore_sd,
        length=length,
        roughness=roughness,
        elasticity=p * gas.volume,
        viscosity=gas.viscosity,
    )


def _split(fluid: Refrigerant, p: float, volume: float, mass: float) -> tuple[float, float]:
    """Liquid [kg] and gas space [m3] of a mass in a volume at saturation."""
    wet = fluid.state(p=p, quality=0.0).volume
    dry = fluid.state(p=p, quality=1.0).volume
    liquid = min(max((mass - volume / dry) / (1.0 - wet / dry), 0.0), 0.9 * volume / wet)
    return liquid, volume - liquid * wet


def rest_by_hand(
    fluid: Refrigerant,
    size: CapillarySize,
    *,
    head: float | None,
    suction: float | None,
    high_volume: float | None,
    low_volume: float | None,
    liquid: float = 0.0,
    room: float = 293.15,
) -> tuple[GasTube, Sides]:
    """Tube and both sides of a machine that no job describes, at the stop.

    Parameters
    ----------
    size : CapillarySize
        Of the tube.
    head, suction : float or None
        [Pa]
    high_volume, low_volume : float or None
        Of the sides. [m3]
    liquid : float
        Before the tube. [kg]
    room : float
        [K]

    Raises
    ------
    JobError
        A pressure or a volume is missing, or so much liquid does not go in.
    """
    known = {
        "head": head,
        "suction": suction,
        "high_volume": high_volume,
        "low_volume": low_volume,
    }
    for name, value in known.items():
        if value is None:
            raise JobError(
                what="how long the sides take depends on it",
                allowed="give pressures and volumes of both sides, or a job file",
                field=name,
            )
    p_high, p_low, high, low = (float(value or 0.0) for value in known.values())
    flow = 0.0
    if liquid > 0.0:
        flow = flow_through(
            fluid.table,
            bore=size.bore,
            length=size.length,
            inlet_pressure=p_high,
            inlet_enthalpy=fluid.state(p=p_high, quality=0.0).enthalpy,
            outlet_pressure=p_low,
        ).mass_flow
    wet = fluid.state(p=p_high, quality=0.0).volume * liquid
    if wet >= 0.95 * high:
        raise JobError(what="so much liquid does not go into the high side", field="liquid")
    tube = gas_tube(
        fluid,
        room=room,
        between=(p_high, p_low),
        bore=size.bore,
        bore_sd=_BORE_SD,
        length=size.length,
    )
    return tube, Sides(
        high_pressure=p_high,
        rest_pressure=fluid.saturation_pressure_dew(room),
        low_pressure=p_low,
        high_volume=high - wet,
        low_volume=low,
        volume_sd=_VOLUME_SD,
        liquid=liquid,
        liquid_sd=_LIQUID_SD * liquid,
        liquid_flow=flow,
    )


def rest_in(book: Book, *, now: float, typed: Collection[str] = ()) -> Logged:
    """How a machine ran last and how it rests, as a log has it.

    Parameters
    ----------
    now : float
        The moment of the question. [s since 1970]
    typed : collection of str
        Fields of the request that the person answered. One of two gauges says nothing alone.

    Raises
    ------
    JobError
        The log says nothing of a start or a stop.
    """
    rows = [e for e in book.held if e.happened_at <= now]
    turns = [
        n for n, e in enumerate(rows) if e.kind == "event" and e.channel in ("started", "stopped")
    ]
    barred = start_refused(rows)
    if not turns:
        if barred:
            return Logged({"running": _plain(False), "barred": _plain(barred)})
        raise JobError(
            what="the log does not say when the compressor was started or stopped",
            allowed="record it, as `sweatline log event LOG stopped`, or say how long it has stood",
            path=book.path,
        )
    last = rows[turns[-1]]
    running = last.channel == "started"
    begun = max((n for n in turns if rows[n].channel == "started"), default=None)
    ran = rows[begun : None if running else turns[-1]] if begun is not None else []
    rested = [] if running else rows[turns[-1] :]
    changed = max((n for n, e in enumerate(rested) if _disturbs(e)), default=-1)
    rested = rested[changed + 1 :]
    starts = [e for e in (rows[n] for n in turns) if e.channel == "started"]
    lately = [e for e in starts if now - e.happened_at <= HOUR]
    found: dict[str, Found[Any] | None] = {
        "running": _plain(running),
        "barred": _plain(barred),
        "starts": _plain(len(lately)) if lately else None,
        "volts": last_reading(ran, "volts"),
        "amps": last_reading(ran, "amps"),
        "watts": last_reading(ran, "watts"),
        "meter_error": _meter_error(book, ran),
        "head": last_reading(ran, "head gauge"),
        "suction": last_reading(ran, "suction gauge"),
        "standing_head": last_reading(rested, "head gauge"),
        "standing_suction": last_reading(rested, "suction gauge"),
    }
    if not running:
        since = now - last.happened_at
        found["off_time"] = Found(value=since, text=f"stopped at {clock(last)}", entries=(last.id,))
    for pair in (("head", "suction"), ("standing_head", "standing_suction")):
        if any(found[name] is None and name not in typed for name in pair):
            found |= dict.fromkeys(pair)
    return Logged(found)


def _plain(value: bool | int | str) -> Found[bool | int | str]:
    return Found(value=value, text="", entries=())


def _meter_error(book: Book, ran: Sequence[Entry]) -> Found[float] | None:
    """The larger error of clamp and watt-meter, where they are two."""
    found = [
        scale_of(book, [e for e in ran if e.channel == channel]) for channel in ("amps", "watts")
    ]
    return max((f for f in found if f is not None), key=lambda f: f.value, default=None)


def _disturbs(e: Entry) -> bool:
    return e.kind == "addition" or (e.kind == "event" and e.channel in (*EMPTIED, "vacuum broken"))
