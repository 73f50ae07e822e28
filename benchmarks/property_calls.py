"""Properties that one machine balance asks for.

A machine on the reference library's properties would be the fair opponent of a balance, but nobody
would wait for it. Instead the outermost calls into the property kernels are counted during one warm
balance (charge up by two per cent), in a process of its own where the kernels run uncompiled.
Each count is multiplied by what the same answer costs from the reference library, the fastest way
known for it; the sum is what the properties alone would take there. It is an estimate: arithmetic,
correlations and the interpreter around them are left out, in its favour.
"""

from __future__ import annotations

import functools
import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from timing import ROOT, Row, Timing, duration, in_turn, ratio, show

TITLE = "Properties in a balance"
ROUNDS = 9
POINTS = 60
JOB = ROOT / "examples" / "seed-store.toml"
REFRIGERANT, STRING = "R-134a", "R134a"
CHANGE = 1.02  # of the charge
KERNELS = ("sweatline.refrigerant.table",)

Solve = Callable[[], Any]


def warm_solve() -> tuple[Solve, tuple[float, float]]:
    """A balance two per cent above another, and the pressures between which it lies."""
    from sweatline.assembly.build import build_for
    from sweatline.job.reading import read_job
    from sweatline.machine.balance import filled, fixed_charge

    build = build_for(read_job(JOB), compressor=0, refrigerant=REFRIGERANT, capillary=0)
    full = build.solve(filled(superheat=build.job.targets.superheat))
    less = build.solve(fixed_charge(full.charge / CHANGE), near=full)
    near = build.solve(fixed_charge(full.charge), near=less)
    more = fixed_charge(full.charge * CHANGE)
    span = (near.evaporating_pressure, near.discharge_pressure)
    return lambda: build.solve(more, near=near), span


def count() -> Counter[str]:
    """Outermost calls into the property kernels; only in a process that has imported none yet."""
    import sweatline.compiled

    plain = sweatline.compiled.kernel
    counts: Counter[str] = Counter()
    inside = False

    def counting(function: Callable[..., Any]) -> Callable[..., Any]:
        made: Callable[..., Any] = plain(function)
        if function.__module__ not in KERNELS:
            return made

        @functools.wraps(function)
        def counted(*arguments: Any) -> Any:
            nonlocal inside
            if inside:
                return made(*arguments)
            inside = True
            counts[function.__name__] += 1
            try:
                return made(*arguments)
            finally:
                inside = False

        return counted

    vars(sweatline.compiled)["kernel"] = counting
    solve, _span = warm_solve()
    counts.clear()
    solve()
    return counts


def counted_elsewhere() -> Counter[str]:
    """The counts, from a process whose kernels run uncompiled."""
    child = subprocess.run(
        [sys.executable, str(Path(__file__).resolve()), "--count"],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        stdout=subprocess.PIPE,
        check=True,
    )
    return Counter(json.loads(child.stdout))


def from_the_library(span: tuple[float, float]) -> dict[str, Callable[[], None]]:
    """For each property kernel, the same answers from the reference library at many pressures."""
    import CoolProp.CoolProp as CP
    import numpy as np

    liquid = CP.AbstractState("HEOS", STRING)
    vapour = CP.AbstractState("HEOS", STRING)
    gas = CP.AbstractState("HEOS", STRING)
    gas.specify_phase(CP.iphase_gas)
    pressures = np.geomspace(*span, POINTS).tolist()
    states = []
    for p in pressures:
        vapour.update(CP.PQ_INPUTS, p, 1.0)
        vapour.update(CP.PT_INPUTS, p, vapour.T() + 10.0)
        states.append((p, vapour.hmass(), vapour.smass(), vapour.T()))

    def both(p: float) -> None:
        liquid.update(CP.PQ_INPUTS, p, 0.0)
        vapour.update(CP.PQ_INPUTS, p, 1.0)

    def saturation() -> None:
        for p in pressures:
            both(p)
            for s in (liquid, vapour):
                s.T(), s.hmass(), s.rhomass(), s.smass()

    def saturation_transport() -> None:
        for p in pressures:
            both(p)
            for s in (liquid, vapour):
                s.viscosity(), s.conductivity(), s.cpmass()
            liquid.surface_tension()

    def saturation_capillary() -> None:
        for p in pressures:
            both(p)
            for s in (liquid, vapour):
                s.hmass(), s.rhomass(), s.viscosity()
                s.first_saturation_deriv(CP.iHmass, CP.iP)
                s.first_saturation_deriv(CP.iDmass, CP.iP)

    def state() -> None:
        for p, h, _s, _t in states:
            gas.update(CP.HmassP_INPUTS, h, p)
            gas.T(), gas.rhomass(), gas.smass()

    def full_state() -> None:
        for p, h, _s, _t in states:
            gas.update(CP.HmassP_INPUTS, h, p)
            gas.T(), gas.rhomass(), gas.smass()
            gas.cpmass(), gas.viscosity(), gas.conductivity()

    def enthalpy_from_entropy() -> None:
        for p, _h, s, _t in states:
            gas.update(CP.PSmass_INPUTS, p, s)
            gas.hmass()

    def enthalpy_vapour() -> None:
        for p, _h, _s, t in states:
            gas.update(CP.PT_INPUTS, p, t)
            gas.hmass()

    def bubble_pressure() -> None:
        for _p, _h, _s, t in states:
            liquid.update(CP.QT_INPUTS, 0.0, t)
            liquid.p()

    ways = (
        *(saturation, saturation_transport, saturation_capillary, state, full_state),
        *(enthalpy_from_entropy, enthalpy_vapour, bubble_pressure),
    )
    return {way.__name__: way for way in ways}


def rows() -> list[Row]:
    """All figures of this benchmark."""
    counts = counted_elsewhere()
    solve, span = warm_solve()
    library = from_the_library(span)
    unknown = counts.keys() - library.keys()
    if unknown:
        raise RuntimeError(f"no cost is known of {', '.join(sorted(unknown))}")
    timings = in_turn({"ours": solve, **library}, ROUNDS)
    names = sorted(counts)

    def total(clock: str) -> tuple[float, ...]:
        return tuple(
            sum(counts[name] * getattr(timings[name], clock)[k] / POINTS for name in names)
            for k in range(ROUNDS)
        )

    theirs = Timing(wall=total("wall"), cpu=total("cpu"))
    most = ", ".join(f"{n} {name}" for name, n in counts.most_common(4))
    return [
        ratio(
            "properties alone from the equation of state, against our whole balance",
            theirs,
            timings["ours"],
            note=f"{counts.total()} look-ups: {most} and others",
        ),
        duration("our whole balance, warm", timings["ours"], "ms"),
        duration("its properties from the equation of state", theirs, "ms", note="estimate"),
    ]


if __name__ == "__main__":
    if sys.argv[1:] == ["--count"]:
        print(json.dumps(count()))
    else:
        show(TITLE, rows())
