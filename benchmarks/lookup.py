"""Seven properties from pressure and enthalpy.

Temperature, specific volume, entropy, isobaric heat capacity, viscosity, conductivity and quality
at states in one phase, at least five kelvin from saturation, in random order. Ours is
`full_state_array`, called once with all states. The reference library is asked in every way it
offers for all seven from Python: its low-level object in a loop, `update` and seven getters for
each state, with the phase left open or imposed; and its high-level function called once with all
states. The fastest of them is what counts, and the interpreter's share of the loop is told. The
tabular backend also evaluates arrays in compiled code, but five of the seven properties only,
without heat capacity and quality: that figure stands beside the aim. Ours on one state over and
over, with its pieces of the table in the nearest cache and no branch guessed wrong, is what the
arithmetic of the scheme costs: 17 values on a line and 6 on a surface are 164 products, a logarithm
and seven quotients, some 20 ns if nothing ever waited.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import CoolProp.CoolProp as CP
import numpy as np
from numpy.typing import NDArray

from sweatline.refrigerant.refrigerant import Refrigerant, load
from sweatline.refrigerant.table import full_state, full_state_array
from timing import ROOT, Row, Timing, duration, in_turn, ratio, show

FloatArray = NDArray[np.float64]

TITLE = "Property lookup"
FLUIDS = {"R-134a": "R134a", "R-290": "R290"}
ROUNDS = 11
COPIES = 50  # what is fast goes this often through the states: caches warm, clock fine enough
AWAY = 5.0  # K from saturation

PAIR = CP.HmassP_INPUTS
BATCH = np.array(
    [int(o) for o in (CP.iT, CP.iDmolar, CP.iSmolar, CP.iviscosity, CP.iconductivity)],
    dtype=np.int32,
)


class Grid(NamedTuple):
    """States away from saturation, in random order; each library has its own enthalpy zero."""

    pressure: FloatArray
    enthalpy: FloatArray  # of the reference library
    own_enthalpy: FloatArray
    liquid: NDArray[np.bool_]


def grid(fluid: Refrigerant, state: Any) -> Grid:
    """Sixteen pressures, liquid 5 to 25 K below and vapour 5 to 60 K above saturation."""
    rows = []
    low, high = 1e5, 0.75 * fluid.critical_pressure
    for p in np.geomspace(low, high, 16):
        saturated = fluid.saturation_temperature(p).dew
        for away in (*np.linspace(-25.0, -AWAY, 5), *np.linspace(AWAY, 60.0, 12)):
            temperature = float(saturated + away)
            own = fluid.state(p=p, T=temperature).enthalpy
            state.update(CP.PT_INPUTS, p, temperature)
            rows.append((p, state.hmass(), own, away < 0.0))
    table = np.random.default_rng(20).permutation(np.array(rows))
    p, h, own_h, below = np.ascontiguousarray(table.T)
    return Grid(p, h, own_h, below > 0.5)


def loop(state: Any, pressure: FloatArray, enthalpy: FloatArray) -> None:
    """Ask a low-level object for all seven properties of every state."""
    update = state.update
    t, rho, s, cp, mu, k, q = (
        state.T,
        state.rhomass,
        state.smass,
        state.cpmass,
        state.viscosity,
        state.conductivity,
        state.Q,
    )
    for p, h in zip(pressure.tolist(), enthalpy.tolist(), strict=True):
        update(PAIR, h, p)
        t(), rho(), s(), cp(), mu(), k(), q()


def answers(state: Any, g: Grid) -> FloatArray:
    """The first six properties of every state, for comparing."""
    out = np.empty((g.pressure.size, 6))
    for n, (p, h) in enumerate(zip(g.pressure.tolist(), g.enthalpy.tolist(), strict=True)):
        state.update(PAIR, h, p)
        density = state.rhomass()
        out[n] = state.T(), 1.0 / density, state.smass(), state.cpmass(), 0.0, 0.0
        out[n, 4:] = state.viscosity(), state.conductivity()
    return out


def deviation(own: FloatArray, reference: FloatArray) -> str:
    """Largest deviation over the states: temperature in K, then v, cp, mu and k relative.

    Entropy is left out, its zero being a convention of each library.
    """
    t = np.max(np.abs(own[:, 0] - reference[:, 0]))
    v, cp, mu, k = (np.max(np.abs(own[:, i] / reference[:, i] - 1.0)) for i in (1, 3, 4, 5))
    return f"T {t:.0e} K, v {v:.0e}, cp {cp:.0e}, viscosity {mu:.0e}, conductivity {k:.0e}"


def _fastest(timings: dict[str, Timing], among: tuple[str, ...]) -> str:
    return min(among, key=lambda name: min(timings[name].cpu))


def rows_of(name: str, string: str) -> list[Row]:
    """All figures of one fluid."""
    fluid = load(name)
    table = fluid.table
    free = CP.AbstractState("HEOS", string)
    imposed = {}
    for phase in (CP.iphase_liquid, CP.iphase_gas):
        imposed[phase] = CP.AbstractState("HEOS", string)
        imposed[phase].specify_phase(phase)
    tabular = CP.AbstractState("BICUBIC&HEOS", string)
    g = grid(fluid, free)
    count = g.pressure.size
    many_p, many_h = np.tile(g.pressure, COPIES), np.tile(g.own_enthalpy, COPIES)
    many_reference_h = np.tile(g.enthalpy, COPIES)
    many_molar_h = many_reference_h * free.molar_mass()
    same_p = np.full(many_p.size, g.pressure[0])
    same_h = np.full(many_p.size, g.own_enthalpy[0])
    out = np.empty((many_p.size, BATCH.size))
    status = np.empty(many_p.size, dtype=np.int32)
    five = getattr(tabular, "fast_evaluate", None)
    outputs = ["T", "D", "S", "C", "V", "L", "Q"]

    def loop_imposed() -> None:
        for phase, where in ((CP.iphase_liquid, g.liquid), (CP.iphase_gas, ~g.liquid)):
            loop(imposed[phase], g.pressure[where], g.enthalpy[where])

    def interpreter() -> None:
        # Eight calls a state that find their answer ready.
        ready = free.p
        for _ in range(count):
            ready(), ready(), ready(), ready(), ready(), ready(), ready(), ready()

    free.update(PAIR, float(g.enthalpy[0]), float(g.pressure[0]))
    tasks: dict[str, Callable[[], object]] = {
        "ours": lambda: full_state_array(table, many_p, many_h),
        "ours, one state": lambda: full_state_array(table, same_p, same_h),
        "ours, one by one": lambda: [
            full_state(table, p, h) for p, h in zip(many_p[:count], many_h[:count], strict=True)
        ],
        "loop": lambda: loop(free, g.pressure, g.enthalpy),
        "loop, phase imposed": loop_imposed,
        "high-level call": lambda: CP.PropsSI(outputs, "H", g.enthalpy, "P", g.pressure, string),
        "tabular loop": lambda: loop(tabular, many_p, many_reference_h),
        "interpreter": interpreter,
    }
    if five is not None:
        tasks["tabular array"] = lambda: five(
            CP.HmolarP_INPUTS, many_molar_h, many_p, BATCH, out, status
        )
    many = ("ours", "ours, one state", "tabular loop", "tabular array")
    timings = {
        key: timing.shared_by(count * (COPIES if key in many else 1))
        for key, timing in in_turn(tasks, ROUNDS).items()
    }
    ours = timings["ours"]
    best = _fastest(timings, ("loop", "loop, phase imposed", "high-level call"))
    reference = answers(free, g)
    own = full_state_array(table, g.pressure, g.own_enthalpy)
    rows = [
        ratio(
            f"{name}, against its equation of state",
            timings[best],
            ours,
            aim=400.0,
            note=f"fastest way there: {best}; ours deviates by {deviation(own, reference)}",
        ),
        ratio(
            f"{name}, against its bicubic tables",
            timings["tabular loop"],
            ours,
            aim=5.0,
            note=f"these deviate by {deviation(answers(tabular, g), reference)}",
        ),
    ]
    if "tabular array" in timings:
        rows.append(
            ratio(
                f"{name}, against its bicubic tables on arrays",
                timings["tabular array"],
                ours,
                note="five properties there, seven here",
            )
        )
    rows += [
        ratio(
            f"{name}, one state per call from Python",
            timings[best],
            timings["ours, one by one"],
            note="no arrays on either side",
        ),
        duration(f"{name}, one state of ours", ours, "µs"),
        duration(
            f"{name}, the same state of ours again and again",
            timings["ours, one state"],
            "µs",
            note="arithmetic of the scheme, nothing waited for",
        ),
        duration(f"{name}, one state of its equation of state", timings[best], "µs", note=best),
        duration(f"{name}, one state of its bicubic tables", timings["tabular loop"], "µs"),
        duration(
            f"{name}, interpreter's share of a loop",
            timings["interpreter"],
            "µs",
            note="eight calls that find their answer ready",
        ),
    ]
    return rows


def rows() -> list[Row]:
    """All figures of this benchmark."""
    tables = ROOT / "out" / "reference-tables"
    tables.mkdir(parents=True, exist_ok=True)
    CP.set_config_string(CP.ALTERNATIVE_TABLES_DIRECTORY, f"{tables}/")
    return [row for name, string in FLUIDS.items() for row in rows_of(name, string)]


if __name__ == "__main__":
    show(TITLE, rows())
