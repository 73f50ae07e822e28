"""From nothing to a steady state, or to the reason why there is none.

The design state (superheat and subcooling wanted; metering and charge free) lies within reach of a
guess for nearly every machine, and within brackets for the rest. From it Newton's method usually
reaches the wanted state at once. Where it does not, curves of steady states are followed: first
until the machine's own expansion device passes what its compressor pumps, then until the charge, or
the superheat, is the wanted one. A curve that ends before says why, in the trade's words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sweatline.errors import SolveError
from sweatline.machine.circuit import MachineParameters, inventory
from sweatline.machine.continuation import Stretch, follow
from sweatline.machine.first_guess import bracketed_start, design_start
from sweatline.machine.steady import (
    BY_CHARGE,
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    Attempt,
    SteadyMachine,
    Target,
    Warm,
    attempt,
    design,
    filled,
    residuals,
)
from sweatline.parts.compressor import compress
from sweatline.parts.expansion import word_for
from sweatline.refrigerant.table import Table, dew_pressure, saturation, state

FloatArray = NDArray[np.float64]

_SHORT = (
    "the head pressure rises towards the critical point: the condenser cannot shed the heat and "
    "give the wanted subcooling"
)
# What the end of a curve means for the residual that was to vanish: (end, below zero) -> words.
_TIGHT = "the {part} is too tight: head pressure rises towards the critical point before it "
_METERING = {
    ("turned", True): (
        "the {part} is too tight: it passes less than the compressor pumps in every steady state"
    ),
    ("turned", False): (
        "the {part} is too wide: it passes more than the compressor pumps in every steady state"
    ),
    ("head", True): _TIGHT + "passes what the compressor pumps",
    ("vacuum", True): (
        "the {part} is too tight: it passes less than the compressor pumps even when the "
        "suction has been pulled down to vacuum"
    ),
    ("pressures", False): (
        "the {part} is too wide: it passes more than the compressor pumps even when only gas "
        "reaches it and head and suction have nearly met"
    ),
    ("vacuum", False): (
        "the {part} is too wide: it passes more than the compressor pumps down to vacuum"
    ),
    ("head", False): (
        "the {part} is too wide: it passes more than the compressor pumps, up to a head "
        "pressure near the critical point"
    ),
}
_CHARGE = {
    ("turned", True): (
        "too much charge: liquid floods back to the compressor and the condenser empties again "
        "before the machine holds it"
    ),
    ("turned", False): "too little charge: no steady state of this machine holds so little",
    ("head", True): (
        "too much charge: liquid fills the condenser and the head pressure rises towards the "
        "critical point before the machine holds it"
    ),
    ("liquid", True): "too much charge: liquid fills the machine up to the compressor",
    ("pressures", True): "too much charge: liquid fills the machine and the pressures meet",
    ("vacuum", True): (
        "the charge is never reached: suction falls to vacuum with liquid held up elsewhere"
    ),
    ("vacuum", False): (
        "too little charge: before it has become so small the compressor pulls the suction into "
        "vacuum"
    ),
    ("pressures", False): (
        "too little charge: before it has become so small head and suction have met, and nothing "
        "is pumped"
    ),
    ("head", False): (
        "the condenser cannot shed the heat: with as little charge as this the head pressure "
        "still rises towards the critical point"
    ),
}
_FILLING = {
    ("turned", False): (
        "the evaporator is never filled: its outlet becomes dry again while it is still drier than "
        "wanted"
    ),
    ("turned", True): (
        "the evaporator floods at every charge: its outlet becomes wetter again before it is "
        "as dry as wanted"
    ),
    ("head", False): _TIGHT + "fills the evaporator",
    ("vacuum", False): (
        "the evaporator is never filled: the compressor pulls it into vacuum while its outlet is "
        "still drier than wanted"
    ),
    ("pressures", False): (
        "the evaporator is never filled: the pressures meet while its outlet is still drier than "
        "wanted"
    ),
    ("vacuum", True): (
        "the evaporator floods at every charge: its outlet stays wetter than wanted down to vacuum"
    ),
    ("pressures", True): (
        "the evaporator floods at every charge: its outlet stays wetter than wanted until the "
        "pressures meet"
    ),
    ("head", True): (
        "the evaporator floods at every charge: its outlet stays wetter than wanted up to a head "
        "pressure near the critical point"
    ),
}
_SUBCOOLING = {
    ("turned", True): _SHORT,
    ("turned", False): _TIGHT + "gives the wanted subcooling",
    ("head", True): _SHORT,
    ("head", False): _TIGHT + "gives the wanted subcooling",
    ("pressures", False): (
        "liquid never stands before the {part}: head and suction meet before it does"
    ),
    ("vacuum", False): (
        "liquid never stands before the {part}: the compressor pulls the suction into vacuum first"
    ),
}
_BEYOND = "the wanted superheat or subcooling is out of reach: past a point less of it comes back"
_MEET = (
    "head and suction meet before the evaporator shows the wanted superheat: the air at the "
    "condenser is too cold for this evaporator"
)
_PULLED = (
    "the compressor pulls the evaporator into vacuum before its outlet shows the wanted superheat"
)
_WANTED = {
    (end, below): words
    for end, words in (
        ("pressures", _MEET),
        ("turned", _BEYOND),
        ("head", _SHORT),
        ("vacuum", _PULLED),
    )
    for below in (True, False)
}
_LIMITS = {
    "suction at the end of the table": "vacuum",
    "no flow": "vacuum",
    "head at the end of the table": "head",
    "pressures meet": "pressures",
    "all liquid": "liquid",
    "turned back": "turned",
}
_SHEDS = (
    "the head pressure rises towards the critical point: the condenser cannot shed the heat, "
    "even with little refrigerant going round"
)
_NARROW = (
    "the tubes of the {coil} are too narrow for this compressor: more than a fifth of the "
    "pressure is lost in them, and no steady flow through them was found"
)
NOT_FOUND = "no steady balance was found"
_CLOSING = {BY_SUBCOOLING: _SUBCOOLING, BY_CHARGE: _CHARGE, BY_SUPERHEAT: _FILLING}
_SEED_TOLERANCE = 1e-6  # of a state that is only to begin from


_POINTS = 24
# Fractions of the golden ratio's four-dimensional kin fill a cube evenly (Roberts, R4 sequence).
_FRACTIONS = 1.0 / 1.1673039782614187 ** np.arange(1, 5)


@dataclass(slots=True)
class Search:
    """A search: calls, ways tried, the best point and, when it failed, the reason."""

    system: SteadyMachine
    tolerance: float
    calls: int = 0
    tried: list[str] = field(default_factory=list)
    best: Attempt | None = None
    why: str = NOT_FOUND
    kinks: list[FloatArray] = field(default_factory=list)  # at which a curve could not be followed

    def attempt(
        self,
        y: FloatArray,
        *,
        most: int,
        aim: Target | None = None,
        warm: Warm | None = None,
        keep: bool = False,
    ) -> Attempt:
        """One Newton search, for the wanted state or for another `aim`, and its calls counted.

        With `keep` it is remembered when it is the best so far.
        """
        system, tolerance = self.system, self.tolerance
        if aim is not None:
            system, tolerance = system._replace(target=aim), _SEED_TOLERANCE
        found = attempt(system, y, tolerance=tolerance, most=most, warm=warm)
        self.calls += found.calls
        if keep and (self.best is None or found.merit < self.best.merit):
            self.best = found
        return found

    def follow(self, aim: Target, start: Attempt, *, drop: int, upward: bool, most: int) -> Stretch:
        """Along the curve of states that close `aim` but for one residual; calls are counted."""
        stretch = follow(
            self.system._replace(target=aim),
            start.y,
            drop=drop,
            upward=upward,
            tolerance=self.tolerance,
            most=most,
            warm=start.warm,
        )
        self.calls += stretch.calls
        return stretch

    def below(self, aim: Target, start: Attempt, drop: int) -> bool:
        """Whether a residual of another aim is negative at a state."""
        return bool(residuals(self.system._replace(target=aim).begun(None), start.y)[drop] < 0.0)

    def cold_start(self) -> Attempt | None:
        """The wanted state without one near by, or None with the reason in `why`."""
        seed = self._seed()
        if seed is None:
            self.tried.append("free metering and charge, from guesses and from brackets")
            return self._scattered()
        found = self.attempt(seed.y, most=80, warm=seed.warm, keep=True)
        self.tried.append("from the machine with free metering and charge")
        if found.good:
            return found
        self.tried.append("along the curves of steady states from there")
        return self._along(seed) or self._scattered()

    def _scattered(self) -> Attempt | None:
        """Newton searches from points all over the table, before a reason is believed.

        The curve of steady states of a machine whose condenser is small may lie in pieces: one
        starved, with gas before the expansion device, and one flooded, both ended by the head
        pressure.
        """
        self.tried.append("from points all over the table")
        why = self.why
        for guess in _points_of(self.system.table, self.system.machine):
            found = self.attempt(guess, most=60)
            if found.good:
                return found
        reached = self._starved() or self._past_kinks()
        self.why = why
        return reached

    def _past_kinks(self) -> Attempt | None:
        """From where a curve could not be followed: the wanted state may lie just beyond."""
        for kink in self.kinks:
            found = self.attempt(kink, most=60)
            if found.good:
                return found
        return None

    def _starved(self) -> Attempt | None:
        """Along the starved piece of the curve, from a state whose condenser hardly condenses."""
        if not self.system.target.with_expansion:
            return None
        gas = 0.9
        for dry in (40.0, 20.0, 8.0):
            begun = self._from_brackets(dry, -gas)
            starved = Target(True, dry, BY_SUBCOOLING, 1.0, -gas)
            for aim, drop in ((starved, 1), (self.system.target, 3)):
                if begun is None:
                    break
                upward = self.below(aim, begun, drop)
                begun = self.follow(aim, begun, drop=drop, upward=upward, most=1000).found
            if begun is not None:
                return begun
        return None

    def _seed(self) -> Attempt | None:
        """Some state with free metering and charge, near the target's superheat if there is one."""
        table, _line, machine, target, _space = self.system
        superheat = max(min(target.superheat, 8.0), 1.0)
        subcooling = max(min(target.subcooling, 6.0), 1.0)
        aim = design(superheat=superheat, subcooling=subcooling)
        for lift in (14.0, 22.0):
            guess = design_start(table, machine, subcooling, lift=lift)
            found = self.attempt(guess, aim=aim, most=100)
            if found.good:
                return found
        # Less and less liquid, to a condenser that hardly any leaves; then a flooded evaporator.
        for dry, cold in (
            (superheat, subcooling),
            (superheat, 1.0),
            (20.0, 2.0),
            (superheat, -0.2),
            (30.0, -0.3),
            (superheat, -0.9),
            (40.0, -0.9),
            (-0.3, 2.0),
            (-0.3, -0.3),
            (-0.7, 2.0),
        ):
            reached = self._from_brackets(dry, cold)
            if reached is not None:
                return reached
        # Tubes so narrow that the drop in them sets the flow.
        for below in (3.0, 10.0, 25.0):
            inlet = dew_pressure(table, machine.air.temperature - below)
            for cold in (2.0, -0.2):
                reached = self._from_brackets(superheat, cold, inlet=inlet)
                if reached is not None:
                    return reached
        return None

    def _from_brackets(
        self, superheat: float, subcooling: float, *, inlet: float | None = None
    ) -> Attempt | None:
        """A design state from brackets on both coils, which may settle for another superheat."""
        table, line, machine, _target, _space = self.system
        start = bracketed_start(
            table, line, machine, superheat=superheat, subcooling=subcooling, inlet=inlet
        )
        aim = design(superheat=start.superheat, subcooling=subcooling)
        before = self.best
        found = self.attempt(start.y, aim=aim, most=60, keep=True)
        if found.good:
            self.best = before
            return found
        if start.condenser_short:
            self.why = _SHEDS
        elif start.evaporator_short:
            self.why = _PULLED
        elif start.evaporator_narrow and self.why == NOT_FOUND:
            self.why = _NARROW.replace("{coil}", "evaporator")
        return None

    def _to(
        self, aim: Target, start: Attempt, drop: int, words: dict[tuple[str, bool], str]
    ) -> Attempt | None:
        """Along a curve to where its dropped residual vanishes, or the reason in `words`."""
        below = self.below(aim, start, drop)
        why = NOT_FOUND
        for upward, most in ((below, 5000), (not below, 400)):
            stretch = self.follow(aim, start, drop=drop, upward=upward, most=most)
            if stretch.found is not None:
                return stretch.found
            if stretch.end == "stuck":
                self.kinks.append(stretch.last)
            if upward != below:
                continue
            why = words.get((_LIMITS.get(stretch.end, ""), stretch.value < 0.0), NOT_FOUND)
            if stretch.end in ("stuck", "too long"):
                coil = self._choked(stretch)
                why = _NARROW.replace("{coil}", coil) if coil else NOT_FOUND
        self.why = why
        return None

    def _along(self, seed: Attempt) -> Attempt | None:
        """From the design state along curves of steady states: to the part, then to the charge."""
        target = self.system.target
        superheat, subcooling, charge = self._shown(seed)
        if not target.with_expansion:
            half = self._to(target._replace(subcooling=subcooling), seed, 1, _WANTED)
            return self._to(target, half, 3, _WANTED) if half is not None else None
        # The tube is fitted at constant superheat, or charge, or subcooling.
        why = ""
        for aim in (
            filled(superheat=superheat),
            Target(True, superheat, BY_CHARGE, charge, subcooling),
            Target(True, superheat, BY_SUBCOOLING, 1.0, subcooling),
        ):
            fitted = self._to(aim, seed, 1, _METERING)
            if fitted is not None:
                return self._to(target, fitted, 3, _CLOSING[target.charged])
            if why in ("", NOT_FOUND):
                why = self.why
        self.why = why
        return None

    def _choked(self, stretch: Stretch) -> str:
        """Which coil loses so much pressure at a curve's end that its own state is not unique."""
        run = self.system.begun(None).passed(stretch.last)
        pe, pd = (float(v) for v in np.exp(stretch.last[:2]))
        if not run.suction_pressure > 0.8 * pe:
            return "evaporator"
        if not run.liquid_pressure > 0.8 * pd:
            return "condenser"
        return ""

    def _shown(self, seed: Attempt) -> tuple[float, float, float]:
        """Superheat or minus the wetness, subcooling or minus the flash gas, and charge of a state.

        [K], [K], [kg]
        """
        table, machine = self.system.table, self.system.machine
        run = self.system.begun(None).passed(seed.y)
        pd, flow = (float(v) for v in np.exp(seed.y[1:3]))
        t_dew = saturation(table, run.suction_pressure)[1]
        t_bubble = saturation(table, run.liquid_pressure)[0]
        t_out, _v, _s, dryness = state(table, run.suction_pressure, run.evaporator_outlet)
        t_liquid, _v, _s, quality = state(table, run.liquid_pressure, run.liquid_enthalpy)
        return (
            t_out - t_dew if dryness >= 1.0 else dryness - 1.0,
            -quality if quality > 0.0 else t_bubble - t_liquid,
            math.fsum(inventory(table, machine.vessels, run, pd, flow)),
        )

    def failure(self) -> SolveError:
        """The error to raise after this search failed."""
        target = self.system.target
        part = word_for(self.system.machine.expansion)
        flow_word = f"{part} flow (relative)" if target.with_expansion else "superheat (20 kJ/kg)"
        words = (
            "compressor flow (relative)",
            flow_word,
            "condenser outlet (20 kJ/kg)",
            ("subcooling (20 kJ/kg)", "charge (relative)", "superheat (20 kJ/kg)")[target.charged],
        )
        best = self.best
        left: dict[str, float] = {}
        at: dict[str, float] = {}
        if best is not None:
            r = residuals(self.system.begun(None), best.y)
            left = dict(zip(words, map(float, r), strict=True))
            pe, pd, flow = (float(v) for v in np.exp(best.y[:3]))
            at = {
                "evaporating_pressure_Pa": pe,
                "discharge_pressure_Pa": pd,
                "flow_kg_per_s": flow,
                "entering_enthalpy_J_per_kg": float(best.y[3]),
            }
        return SolveError(
            condition=self.why.format(part=part),
            residuals=left,
            best=at,
            tried=tuple(self.tried),
        )


def _points_of(table: Table, machine: MachineParameters) -> list[FloatArray]:
    """Unknowns spread evenly over the pressures and enthalpies of the table."""
    warmest = min(dew_pressure(table, machine.air.temperature), 0.5 * table.p_max)
    low = math.log(1.1 * table.p_min)
    found = []
    for k in range(_POINTS):
        a, b, c, d = (0.5 + (k + 1) * _FRACTIONS) % 1.0
        u_e = low + a * (math.log(warmest) - low)
        u_d = u_e + 0.1 + b * (math.log(0.98 * table.p_max) - u_e - 0.1)
        hl, hg = saturation(table, math.exp(u_d))[2:4]
        outlet = saturation(table, math.exp(u_e))[3] + 0.2 * d * (hg - hl)
        pumped = compress(table, machine.compressor, math.exp(u_e), outlet, math.exp(u_d))[0]
        entering = hl + (1.5 * c - 0.3) * (hg - hl)
        found.append(np.array([u_e, u_d, math.log(pumped), entering]))
    return found
