"""The same source on the reference library.

Our own kernels, uncompiled, in a process of their own in which every property kernel answers from
the reference library's low-level objects (with its fitted saturation lines). Equations, guesses,
steps and stopping rules are then the same to the letter on both sides; what differs is who knows
the properties, and that one side is compiled. That is the machine somebody would have who wrote
the same model plainly in Python. Both sides must find the same pressures and flows before their
times are compared. The library has lately got fitted saturation lines (superancillary equations),
which answer some twenty-five times faster than its iteration; it is timed with them, and once
without.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from property_calls import KERNELS, REFRIGERANT, STRING, warm_solve
from timing import ROOT, Row, Timing, duration, measure, ratio, show

TITLE = "The same source on the reference library"
ROUNDS = 5
COPIES = 400  # of a flow through a tube, for ours
AGREEMENT = 1e-4  # relative
# Bore and length [m], pressures [Pa] and subcooling [K] of tubes of small machines.
TUBES = (
    (1.10e-3, 0.95, 8.87e5, 3.50e5, 5.0),
    (0.80e-3, 2.50, 13.18e5, 2.01e5, 8.0),
    (0.65e-3, 3.00, 10.17e5, 1.33e5, 3.0),
)

Answer = Callable[..., Any]


class Reference:
    """Property kernels of one pure fluid, answered by the reference library."""

    def __init__(self) -> None:
        import CoolProp.CoolProp as CP

        self.cp = CP
        self.liquid = CP.AbstractState("HEOS", STRING)
        self.vapour = CP.AbstractState("HEOS", STRING)
        self.cold = CP.AbstractState("HEOS", STRING)
        self.cold.specify_phase(CP.iphase_liquid)
        self.gas = CP.AbstractState("HEOS", STRING)
        self.gas.specify_phase(CP.iphase_gas)
        self.h_zero = 0.0  # ours less the library's [J/kg]
        self.s_zero = 0.0  # [J/(kg*K)]

    def align(self, p: float, hl: float, sl: float) -> None:
        """Adopt the zeros of enthalpy and entropy of our tables."""
        self.liquid.update(self.cp.PQ_INPUTS, p, 0.0)
        self.h_zero = hl - self.liquid.hmass()
        self.s_zero = sl - self.liquid.smass()

    def _both(self, p: float) -> tuple[Any, Any]:
        self.liquid.update(self.cp.PQ_INPUTS, p, 0.0)
        self.vapour.update(self.cp.PQ_INPUTS, p, 1.0)
        return self.liquid, self.vapour

    def saturation(self, t: Any, p: float) -> tuple[float, ...]:
        p = min(max(p, t.p_min), t.p_max)
        f, g = self._both(p)
        h, s = self.h_zero, self.s_zero
        return (
            *(f.T(), g.T(), f.hmass() + h, g.hmass() + h),
            *(1.0 / f.rhomass(), 1.0 / g.rhomass(), f.smass() + s, g.smass() + s),
        )

    def saturation_transport(self, t: Any, p: float) -> tuple[float, ...]:
        p = min(max(p, t.p_min), t.p_max)
        f, g = self._both(p)
        return (
            *(f.viscosity(), g.viscosity(), f.conductivity(), g.conductivity()),
            *(f.cpmass(), g.cpmass(), f.surface_tension()),
        )

    def saturation_capillary(self, t: Any, p: float) -> tuple[float, ...]:
        p = min(max(p, t.p_min), t.p_max)
        f, g = self._both(p)
        cp = self.cp
        vl, vg = 1.0 / f.rhomass(), 1.0 / g.rhomass()
        return (
            *(f.hmass() + self.h_zero, g.hmass() + self.h_zero, vl, vg),
            *(f.viscosity(), g.viscosity()),
            f.first_saturation_deriv(cp.iHmass, cp.iP),
            g.first_saturation_deriv(cp.iHmass, cp.iP),
            -vl * vl * f.first_saturation_deriv(cp.iDmass, cp.iP),
            -vg * vg * g.first_saturation_deriv(cp.iDmass, cp.iP),
        )

    def _single(self, p: float, h: float) -> tuple[Any, float, Any, Any]:
        """State of one phase (None between the phases), quality, and both saturated states."""
        f, g = self._both(p)
        hl, hg = f.hmass() + self.h_zero, g.hmass() + self.h_zero
        quality = (h - hl) / (hg - hl)
        if 0.0 <= quality <= 1.0:
            return None, quality, f, g
        state = self.cold if quality < 0.0 else self.gas
        state.update(self.cp.HmassP_INPUTS, h - self.h_zero, p)
        return state, quality, f, g

    def state(self, t: Any, p: float, h: float) -> tuple[float, ...]:
        p = min(max(p, t.p_min), t.p_max)
        one, x, f, g = self._single(p, h)
        if one is not None:
            return one.T(), 1.0 / one.rhomass(), one.smass() + self.s_zero, x
        v = (1.0 - x) / f.rhomass() + x / g.rhomass()
        s = (1.0 - x) * f.smass() + x * g.smass() + self.s_zero
        return f.T(), v, s, x

    def full_state(self, t: Any, p: float, h: float) -> tuple[float, ...]:
        p = min(max(p, t.p_min), t.p_max)
        one, x, f, g = self._single(p, h)
        if one is not None:
            return (
                *(one.T(), 1.0 / one.rhomass(), one.smass() + self.s_zero, one.cpmass()),
                *(one.viscosity(), one.conductivity(), x),
            )
        w = 1.0 - x
        return (
            *(f.T(), w / f.rhomass() + x / g.rhomass(), w * f.smass() + x * g.smass()),
            *(w * f.cpmass() + x * g.cpmass(), w * f.viscosity() + x * g.viscosity()),
            *(w * f.conductivity() + x * g.conductivity(), x),
        )

    def enthalpy_vapour(self, t: Any, p: float, temperature: float) -> float:
        p = min(max(p, t.p_min), t.p_max)
        self.vapour.update(self.cp.PQ_INPUTS, p, 1.0)
        if temperature <= self.vapour.T():
            return float(self.vapour.hmass()) + self.h_zero
        self.gas.update(self.cp.PT_INPUTS, p, temperature)
        return float(self.gas.hmass()) + self.h_zero

    def enthalpy_liquid(self, t: Any, p: float, temperature: float) -> float:
        p = min(max(p, t.p_min), t.p_max)
        self.liquid.update(self.cp.PQ_INPUTS, p, 0.0)
        if temperature >= self.liquid.T():
            return float(self.liquid.hmass()) + self.h_zero
        self.cold.update(self.cp.PT_INPUTS, p, temperature)
        return float(self.cold.hmass()) + self.h_zero

    def enthalpy_from_entropy(self, t: Any, p: float, s: float) -> float:
        p = min(max(p, t.p_min), t.p_max)
        f, g = self._both(p)
        sl, sg = f.smass() + self.s_zero, g.smass() + self.s_zero
        if sl <= s <= sg:
            x = (s - sl) / (sg - sl)
            return float((1.0 - x) * f.hmass() + x * g.hmass()) + self.h_zero
        one = self.cold if s < sl else self.gas
        one.update(self.cp.PSmass_INPUTS, p, s - self.s_zero)
        return float(one.hmass()) + self.h_zero

    def bubble_pressure(self, t: Any, temperature: float) -> float:
        self.liquid.update(self.cp.QT_INPUTS, 0.0, temperature)
        return min(max(float(self.liquid.p()), t.p_min), t.p_max)

    def dew_pressure(self, t: Any, temperature: float) -> float:
        self.vapour.update(self.cp.QT_INPUTS, 1.0, temperature)
        return min(max(float(self.vapour.p()), t.p_min), t.p_max)


ANSWERED = tuple(name for name in vars(Reference) if not name.startswith("_") and name != "align")


def on_the_library() -> None:
    """Let the library answer every property kernel; only before any of them is imported."""
    import sweatline.compiled

    plain = sweatline.compiled.kernel
    reference = Reference()

    def answered(function: Answer) -> Answer:
        if function.__module__ in KERNELS and function.__name__ in ANSWERED:
            if function.__name__ == "saturation":
                from sweatline.refrigerant import refrigerant, spline  # noqa: F401

                reference.own_saturation = function  # type: ignore[attr-defined]
            method: Answer = getattr(reference, function.__name__)
            return lambda *arguments: method(*arguments)
        return plain(function)

    vars(sweatline.compiled)["kernel"] = answered
    from sweatline.refrigerant.refrigerant import load

    table = load(REFRIGERANT).table
    p = 4e5
    own = reference.own_saturation(table, p)  # type: ignore[attr-defined]
    reference.align(p, own[2], own[6])


def balance_and_flows() -> tuple[Callable[[], Any], Callable[[], list[float]]]:
    """A warm balance, and flows through tubes, with whatever answers the properties."""
    from sweatline.parts.capillary import CapillaryParameters, capillary_mass_flow
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.table import enthalpy_liquid, saturation

    table = load(REFRIGERANT).table
    solve, _span = warm_solve()

    def flows() -> list[float]:
        found = []
        for bore, length, high, low, subcooling in TUBES:
            tube = CapillaryParameters(bore, length, 0.75e-6, 1.0, 0.0)
            h = enthalpy_liquid(table, high, saturation(table, high)[0] - subcooling)
            found.append(float(capillary_mass_flow(table, tube, high, h, low)[0]))
        return found

    return solve, flows


def compiled_flows() -> Callable[[], None]:
    """The same flows from a compiled loop, many times over."""
    from sweatline.parts.capillary import CapillaryParameters, capillary_mass_flow
    from sweatline.refrigerant.refrigerant import load
    from sweatline.refrigerant.table import Table, enthalpy_liquid, saturation

    table = load(REFRIGERANT).table
    tubes = np.array(
        [
            (bore, length, high, low, enthalpy_liquid(table, high, saturation(table, high)[0] - k))
            for bore, length, high, low, k in TUBES
        ]
    )

    @njit(nogil=True)
    def many(table: Table, tubes: NDArray[np.float64], copies: int) -> float:
        total = 0.0
        for _ in range(copies):
            for i in range(tubes.shape[0]):
                tube = CapillaryParameters(tubes[i, 0], tubes[i, 1], 0.75e-6, 1.0, 0.0)
                total += capillary_mass_flow(table, tube, tubes[i, 2], tubes[i, 4], tubes[i, 3])[0]
        return total

    return lambda: many(table, tubes, COPIES)


def _found(balance: Any, flows: list[float]) -> list[float]:
    return [balance.evaporating_pressure, balance.discharge_pressure, balance.flow, *flows]


def report_of_the_child(fitted_lines: bool) -> dict[str, Any]:
    """What the uncompiled process finds, and how long each round of it took."""
    import CoolProp.CoolProp as CP

    CP.set_config_bool(CP.ENABLE_SUPERANCILLARIES, fitted_lines)
    on_the_library()
    solve, flows = balance_and_flows()
    times: dict[str, list[list[float]]] = {"balance": [], "flows": []}
    for _ in range(ROUNDS if fitted_lines else 1):
        for name, task in (("balance", solve), ("flows", flows)):
            wall, cpu = time.perf_counter(), time.process_time()
            task()
            times[name].append([time.perf_counter() - wall, time.process_time() - cpu])
    return {"found": _found(solve(), flows()), "times": times}


def _timing(pairs: list[list[float]]) -> Timing:
    pairs = pairs * (ROUNDS // len(pairs))  # the slow way is timed once
    return Timing(wall=tuple(p[0] for p in pairs), cpu=tuple(p[1] for p in pairs))


def _child(way: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, str(Path(__file__).resolve()), way],
        cwd=ROOT / "benchmarks",
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        stdout=subprocess.PIPE,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def rows() -> list[Row]:
    """All figures of this benchmark."""
    theirs = _child("--fitted")
    iterated = _child("--iterated")
    solve, flows = balance_and_flows()
    found = _found(solve(), flows())
    pairs = [*zip(found, theirs["found"], strict=True), *zip(found, iterated["found"], strict=True)]
    deviation = max(abs(a / b - 1.0) for a, b in pairs)
    if not deviation < AGREEMENT:
        raise RuntimeError(f"the two sides differ by {deviation:.1e}: nothing to compare")
    ours = measure(solve, ROUNDS)
    tubes = measure(compiled_flows(), ROUNDS)
    tubes = tubes.shared_by(COPIES * len(TUBES))
    slow = _timing(theirs["times"]["balance"])
    slower = _timing(iterated["times"]["balance"])
    slow_tubes = _timing(theirs["times"]["flows"]).shared_by(len(TUBES))
    slower_tubes = _timing(iterated["times"]["flows"]).shared_by(len(TUBES))
    note = f"pressures and flows agree within {deviation:.0e}"
    without = "the same without fitted saturation lines"
    return [
        ratio("one warm balance", slow, ours, aim=400.0, note=note),
        ratio(f"one warm balance, {without}", slower, ours),
        ratio("one flow through a capillary", slow_tubes, tubes, aim=500.0, note=note),
        ratio(f"one flow through a capillary, {without}", slower_tubes, tubes),
        duration("warm balance, compiled on our tables", ours, "ms"),
        duration("warm balance, interpreted on the library", slow, "ms"),
        duration("flow through a capillary, compiled on our tables", tubes, "µs"),
        duration("flow through a capillary, interpreted on the library", slow_tubes, "ms"),
    ]


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(report_of_the_child(sys.argv[1] == "--fitted")))
    else:
        show(TITLE, rows())
