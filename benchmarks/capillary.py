"""Flow through a capillary tube.

Mass flow of a tube of given length, four to six secant steps each with a flash point, a choking
point and a quadrature along the Fanno line. Ours is `capillary_mass_flow` called from a compiled
loop. Against it stand the same equations, first guess, points and stopping rules written plainly
in Python on the reference library's low-level objects: saturated states from pressure and quality,
their slopes with pressure from its exact derivatives, and nothing asked for that is not used. The
flows of both must agree before their times are compared. The library knows the saturation lines
of pure fluids as fitted functions (superancillary equations), and is timed with them; beside it
stands what it takes when it solves for saturation instead.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import CoolProp.CoolProp as CP
import numpy as np
from numba import njit
from numpy.typing import NDArray

from sweatline.parts.capillary import CapillaryNumbers, capillary_mass_flow
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import Table, enthalpy_liquid, saturation
from timing import ROOT, Row, duration, in_turn, ratio, show

FloatArray = NDArray[np.float64]

TITLE = "Capillary flow"
ROUNDS = 9
COPIES = 200
AGREEMENT = 1e-4  # relative; the tables leave some 1e-6, the slopes of the library some more
ROUGHNESS = 0.75e-6  # m
ENTRANCE_LOSS = 0.5

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(14)
POINTS = tuple((0.5 * (_POINTS + 1.0)).tolist())
WEIGHTS = tuple((0.5 * _WEIGHTS).tolist())


class Case(NamedTuple):
    """A tube between two pressures."""

    refrigerant: str
    string: str  # of the reference library
    bore: float  # m
    length: float  # m
    condensing: float  # K
    subcooling: float  # K
    evaporating: float  # K


CASES = (
    Case("R-134a", "R134a", 1.10e-3, 0.95, 308.15, 5.0, 278.15),
    Case("R-134a", "R134a", 0.80e-3, 2.50, 323.15, 8.0, 263.15),
    Case("R-290", "R290", 1.10e-3, 0.80, 313.15, 4.0, 263.15),
    Case("R-290", "R290", 0.70e-3, 3.00, 313.15, 6.0, 268.15),
)


class Tube(NamedTuple):
    """A case in the units of the kernels; each library has its own enthalpy zero."""

    bore: float
    length: float
    inlet_pressure: float
    inlet_enthalpy: float  # of the reference library
    own_enthalpy: float
    outlet_pressure: float


class Library:
    """Saturated states of one fluid from the reference library."""

    def __init__(self, backend: str, string: str) -> None:
        self.liquid = CP.AbstractState(backend, string)
        self.vapour = CP.AbstractState(backend, string)

    def at_liquid(self, p: float) -> tuple[float, float]:
        """Enthalpy and volume of boiling liquid."""
        self.liquid.update(CP.PQ_INPUTS, p, 0.0)
        return self.liquid.hmass(), 1.0 / self.liquid.rhomass()

    def at_both(self, p: float) -> tuple[float, float, float, float]:
        """Enthalpy of liquid and vapour, volume of both."""
        self.vapour.update(CP.PQ_INPUTS, p, 1.0)
        hl, vl = self.at_liquid(p)
        return hl, self.vapour.hmass(), vl, 1.0 / self.vapour.rhomass()

    def slope_of(self, state: Any, v: float) -> tuple[float, float]:
        """Slopes with pressure of enthalpy and volume of the saturated state last asked for."""
        by_density = state.first_saturation_deriv(CP.iDmass, CP.iP)
        return state.first_saturation_deriv(CP.iHmass, CP.iP), -v * v * by_density


def friction(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor, Churchill 1977."""
    a = (-2.457 * math.log((7.0 / reynolds) ** 0.9 + 0.27 * relative_roughness)) ** 16
    b = (37530.0 / reynolds) ** 16
    f: float = 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
    return f


def fanno(library: Library, p: float, total: float, g2: float) -> tuple[float, float, float]:
    """Quality, volume and slope of the volume along the Fanno line."""
    hl, hg, vl, vg = library.at_both(p)
    dhl, dvl = library.slope_of(library.liquid, vl)
    dhg, dvg = library.slope_of(library.vapour, vg)
    hlg, vlg = hg - hl, vg - vl
    a = 0.5 * g2 * vlg * vlg
    b = hlg + g2 * vl * vlg
    c = hl + 0.5 * g2 * vl * vl - total
    root = b * b - 4.0 * a * c
    x = max(-2.0 * c / (b + math.sqrt(root)) if root > 0.0 else -c / b, 0.0)
    v = vl + x * vlg
    v_p = dvl + x * (dvg - dvl)
    h_p = dhl + x * (dhg - dhl)
    return x, v, (v_p - vlg / hlg * h_p) / (1.0 + g2 * v * vlg / hlg)


def flash_pressure(library: Library, p: float, total: float, g2: float) -> float:
    """Pressure at which liquid of this total enthalpy starts to boil."""
    for _ in range(30):
        hl, vl = library.at_liquid(p)
        dhl = library.liquid.first_saturation_deriv(CP.iHmass, CP.iP)
        step = min(max((hl + 0.5 * g2 * vl * vl - total) / (dhl * p), -0.7), 0.7)
        p *= math.exp(-step)
        if abs(step) < 1e-13:
            break
    return p


def choke_pressure(library: Library, start: float, end: float, total: float, g2: float) -> float:
    """Pressure where 1 + G2 dv/dp = 0, or `end` when the flow does not choke."""
    slope_end = fanno(library, end, total, g2)[2]
    if 1.0 + g2 * slope_end > 0.0:
        return end
    slope_start = fanno(library, start, total, g2)[2]
    if 1.0 + g2 * slope_start <= 0.0:
        return start
    target = -math.log(g2)
    low, high = math.log(end), math.log(start)
    f_low = math.log(-slope_end) - target
    f_high = math.log(max(-slope_start, 1e-300)) - target
    side = 0
    u = high
    for _ in range(60):
        if f_high < -20.0:
            u = 0.5 * (low + high)
        else:
            u = (low * f_high - high * f_low) / (f_high - f_low)
        slope = fanno(library, math.exp(u), total, g2)[2]
        f = math.log(max(-slope, 1e-300)) - target
        if abs(f) < 1e-12 or high - low < 1e-13:
            break
        if f > 0.0:
            low, f_low = u, f
            if side == 1:
                f_high *= 0.5
            side = 1
        else:
            high, f_high = u, f
            if side == -1:
                f_low *= 0.5
            side = -1
    return math.exp(u)


def tube_length(library: Library, tube: Tube, flux: float) -> float:
    """Length that passes a mass flux."""
    g2 = flux * flux
    bore, total = tube.bore, tube.inlet_enthalpy
    _hl, vl = library.at_liquid(tube.inlet_pressure)
    first = tube.inlet_pressure - 0.5 * (1.0 + ENTRANCE_LOSS) * g2 * vl
    if first <= tube.outlet_pressure:
        return 0.0
    flash = flash_pressure(library, tube.inlet_pressure, total, g2)
    _hl, vl = library.at_liquid(flash)
    factor = friction(flux * bore / library.liquid.viscosity(), ROUGHNESS / bore)
    stop = max(flash, tube.outlet_pressure)
    length = 0.0
    start = first
    if stop < first:
        length = (first - stop) * 2.0 * bore / (factor * g2 * vl)
        start = stop
    if start <= tube.outlet_pressure:
        return length
    end = choke_pressure(library, start, tube.outlet_pressure, total, g2)
    span = math.log(start / end)
    flashing = 0.0
    for s, weight in zip(POINTS, WEIGHTS, strict=True):
        p = start * math.exp(-span * s * s)
        x, v, slope = fanno(library, p, total, g2)
        share = min(x, 1.0)
        mu = 1.0 / (share / library.vapour.viscosity() + (1.0 - share) / library.liquid.viscosity())
        factor = friction(flux * bore / mu, ROUGHNESS / bore)
        flashing += weight * 2.0 * s * span * p * 2.0 * bore * (1.0 + g2 * slope) / factor / g2 / v
    return length + max(flashing, 0.0)


def first_flux(library: Library, tube: Tube) -> float:
    """Starting guess, inertia neglected."""
    flash = flash_pressure(library, tube.inlet_pressure, tube.inlet_enthalpy, 0.0)
    flash = min(flash, tube.inlet_pressure)
    hl, hg, vl, vg = library.at_both(flash)
    x = max((tube.inlet_enthalpy - hl) / (hg - hl), 0.0)
    v = vl + x * (vg - vl)
    k = min(1.63e5 * flash**-0.72, 20.0)
    head = (tube.inlet_pressure - flash) / v + flash / v * 0.7 / (1.0 + 0.4 * k)
    return 6.0 * 4.0 / math.pi * math.sqrt(tube.bore / tube.length * max(head, 1.0))


def mass_flow(library: Library, tube: Tube) -> float:
    """Mass flow of a tube by secant steps in the logarithms. [kg/s]"""
    target = math.log(tube.length)
    u = math.log(first_flux(library, tube))
    low, high = -50.0, 50.0
    u_old, f_old = u, 0.0
    for _ in range(80):
        found = tube_length(library, tube, math.exp(u))
        if found <= 0.0:
            high = u
            u = u - 0.25 if low < -49.0 else 0.5 * (low + high)
            f_old = 0.0
            continue
        f = math.log(found) - target
        if f > 0.0:
            low = u
        else:
            high = u
        if abs(f) < 1e-11 or high - low < 1e-13:
            break
        step = f / 2.1
        if f_old != 0.0 and f != f_old:
            secant = -f * (u - u_old) / (f - f_old)
            if 0.1 < secant / step < 4.0:
                step = secant
        step = min(max(step, -0.6), 0.6)
        u_old, f_old = u, f
        u += step
        if u <= low or u >= high:
            u = 0.5 * (low + high)
            if low < -49.0 or high > 49.0:
                u = u_old + 0.5 * step
    return math.exp(u) * 0.25 * math.pi * tube.bore * tube.bore


@njit(nogil=True)
def _many(table: Table, tubes: FloatArray, copies: int, flows: FloatArray) -> None:
    """Flows of tubes given as rows of bore, length, pressure, enthalpy and outlet pressure."""
    for _ in range(copies):
        for i in range(tubes.shape[0]):
            numbers = CapillaryNumbers(tubes[i, 0], tubes[i, 1], ROUGHNESS, 1.0, 0.0)
            flows[i] = capillary_mass_flow(table, numbers, tubes[i, 2], tubes[i, 3], tubes[i, 4])[0]


def tube_of(case: Case) -> Tube:
    """A case in SI numbers."""
    table = load(case.refrigerant).table
    state = CP.AbstractState("HEOS", case.string)
    state.update(CP.QT_INPUTS, 0.0, case.condensing)
    high = state.p()
    state.update(CP.QT_INPUTS, 1.0, case.evaporating)
    low = state.p()
    own = enthalpy_liquid(table, high, case.condensing - case.subcooling)
    state.update(CP.PQ_INPUTS, high, 0.0)
    between_zeros = state.hmass() - saturation(table, high)[2]
    return Tube(case.bore, case.length, high, own + between_zeros, own, low)


def without_superancillaries(task: Callable[[], object]) -> Callable[[], object]:
    """The same task while the library solves for saturation by iteration."""

    def run() -> None:
        CP.set_config_bool(CP.ENABLE_SUPERANCILLARIES, False)
        try:
            task()
        finally:
            CP.set_config_bool(CP.ENABLE_SUPERANCILLARIES, True)

    return run


def rows_of(refrigerant: str, cases: list[Case]) -> list[Row]:
    """All figures of one refrigerant."""
    table = load(refrigerant).table
    tubes = [tube_of(case) for case in cases]
    exact = Library("HEOS", cases[0].string)
    tabular = Library("BICUBIC&HEOS", cases[0].string)
    columns = np.array(
        [(t.bore, t.length, t.inlet_pressure, t.own_enthalpy, t.outlet_pressure) for t in tubes]
    )
    flows = np.empty(len(tubes))
    _many(table, columns, 1, flows)
    deviation = max(
        abs(mass_flow(exact, tube) / own - 1.0) for tube, own in zip(tubes, flows, strict=True)
    )
    if not deviation < AGREEMENT:
        raise RuntimeError(f"the flows differ by {deviation:.1e}: there is nothing to compare")
    tasks: dict[str, Callable[[], object]] = {
        "ours": lambda: _many(table, columns, COPIES, flows),
        "exact": lambda: [mass_flow(exact, tube) for tube in tubes],
        "tabular": lambda: [mass_flow(tabular, tube) for tube in tubes],
    }
    tasks["iterated"] = without_superancillaries(tasks["exact"])
    timings = {
        key: timing.shared_by(len(tubes) * (COPIES if key == "ours" else 1))
        for key, timing in in_turn(tasks, ROUNDS).items()
    }
    ours = timings["ours"]
    return [
        ratio(
            f"{refrigerant}, against its equation of state",
            timings["exact"],
            ours,
            aim=300.0,
            note=f"flows agree within {deviation:.0e}",
        ),
        ratio(
            f"{refrigerant}, the same without fitted saturation lines", timings["iterated"], ours
        ),
        ratio(f"{refrigerant}, against its bicubic tables", timings["tabular"], ours),
        duration(f"{refrigerant}, one flow of ours", ours, "µs"),
        duration(f"{refrigerant}, one flow on its equation of state", timings["exact"], "ms"),
    ]


def rows() -> list[Row]:
    """All figures of this benchmark."""
    tables = ROOT / "out" / "reference-tables"
    tables.mkdir(parents=True, exist_ok=True)
    CP.set_config_string(CP.ALTERNATIVE_TABLES_DIRECTORY, f"{tables}/")
    by_refrigerant: dict[str, list[Case]] = {}
    for case in CASES:
        by_refrigerant.setdefault(case.refrigerant, []).append(case)
    return [row for name, cases in by_refrigerant.items() for row in rows_of(name, cases)]


if __name__ == "__main__":
    show(TITLE, rows())
