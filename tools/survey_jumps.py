"""Look for jumps: charge, room, capillary and its inlet, moved in fine steps on random machines.

    python tools/survey_jumps.py --count 60

A step that stands out from its neighbours is halved again and again between its two ends. What
shrinks with the step was a kink or a steep stretch; what keeps its size is a jump and is written to
the record, one line for each, with what changed there.
"""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

QUANTITIES = (
    "evaporating_pressure",
    "discharge_pressure",
    "flow",
    "compressor_power",
    "cooling",
    "water",
    "charge",
    "suction_quality",
    "liquid_quality",
    "discharge_temperature",
    "coil_temperature",
    "wet_share",
    "frost_share",
)
MASKS = ("wet_share", "frost_share")  # count cells: they step by their nature
HALVINGS = 14
STANDS_OUT = 6.0


def suspicious(values: np.ndarray, scale: float) -> list[int]:
    """Steps much larger than both neighbours. (n,) -> indices of their first ends."""
    steps = np.abs(np.diff(values))
    found = []
    for i in range(1, len(steps) - 1):
        around = max(steps[i - 1], steps[i + 1])
        if steps[i] > STANDS_OUT * around + 1e-6 * scale:
            found.append(i)
    return found


def scale_of(name: str, values: np.ndarray) -> float:
    """What a difference of a quantity is measured by."""
    if name.endswith("temperature"):
        return 1.0
    if name.endswith(("share", "quality")):
        return 1.0
    least = 1e-6 if name == "water" else 1e-12  # kg/s: a dry coil's water is rounding
    return max(float(np.abs(values).max()), least)


def sweep(
    at: Callable[[float, Any], Any], xs: np.ndarray, near: Any
) -> tuple[list[float], list[Any]]:
    """Balances along one parameter, each from the one before; ends where there is none."""
    from sweatline.errors import SolveError

    kept, found = [], []
    for x in xs:
        try:
            near = at(float(x), near)
        except SolveError:
            break
        kept.append(float(x))
        found.append(near)
    return kept, found


def jumps(
    at: Callable[[float, Any], Any], xs: list[float], found: list[Any]
) -> list[dict[str, Any]]:
    """Jumps along a sweep: quantity, place, size, and the masks on both sides."""
    from sweatline.errors import SolveError

    rows = []
    for name in QUANTITIES:
        values = np.array([getattr(b, name) for b in found])
        scale = scale_of(name, values)
        for i in suspicious(values, scale):
            low, high = found[i], found[i + 1]
            a, b = xs[i], xs[i + 1]
            first = abs(values[i + 1] - values[i])
            try:
                for _ in range(HALVINGS):
                    middle = at(0.5 * (a + b), low)
                    left = abs(getattr(middle, name) - getattr(low, name))
                    right = abs(getattr(high, name) - getattr(middle, name))
                    if left >= right:
                        b, high = 0.5 * (a + b), middle
                    else:
                        a, low = 0.5 * (a + b), middle
            except SolveError:
                continue
            size = abs(getattr(high, name) - getattr(low, name))
            if size > 0.3 * first and size > 1e-6 * scale:
                rows.append(
                    {
                        "quantity": name,
                        "x": 0.5 * (a + b),
                        "size": size / scale,
                        "wet": [low.wet_share, high.wet_share],
                        "frost": [low.frost_share, high.frost_share],
                        "suction_quality": [low.suction_quality, high.suction_quality],
                        "liquid_quality": [low.liquid_quality, high.liquid_quality],
                        "choked": [low.choked, high.choked],
                    }
                )
    return rows


def survey(seed: int) -> list[dict[str, Any]]:
    """Jumps of the machine of one seed along every sweep; a line for each sweep without any."""
    from tests.random_machines import random_machine

    from sweatline.air.moist import humidity_ratio
    from sweatline.errors import SolveError
    from sweatline.machine.balance import filled, fixed_charge, solve
    from sweatline.machine.room_map import in_room

    made = random_machine(seed)
    table, line, machine = made.table, made.line, made.machine
    try:
        full = solve(table, line, machine, filled(superheat=5.0))
    except SolveError as error:
        return [{"seed": seed, "sweep": "none", "why": error.condition}]
    air = machine.air
    rh = air.humidity / humidity_ratio(air.temperature, 1.0, line.p)
    kept = fixed_charge(full.charge)

    def charge(x: float, near: Any) -> Any:
        return solve(table, line, machine, fixed_charge(x * full.charge), near=near)

    def room(x: float, near: Any) -> Any:
        moved = in_room(machine, air.temperature + x, min(rh, 0.99), line.p)
        return solve(table, line, moved, kept, near=near)

    def humidity(x: float, near: Any) -> Any:
        return solve(table, line, in_room(machine, air.temperature, x, line.p), kept, near=near)

    def length(x: float, near: Any) -> Any:
        tube = machine.expansion._replace(length=x * machine.expansion.length)
        return solve(table, line, machine._replace(expansion=tube), kept, near=near)

    def bore(x: float, near: Any) -> Any:
        tube = machine.expansion._replace(bore=x * machine.expansion.bore)
        return solve(table, line, machine._replace(expansion=tube), kept, near=near)

    here = min(max(rh, 0.1), 0.95)
    sweeps = {
        "less charge": (charge, np.linspace(1.0, 0.3, 176)),
        "more charge": (charge, np.linspace(1.0, 1.7, 176)),
        "warmer room": (room, np.linspace(0.0, 8.0, 81)),
        "colder room": (room, np.linspace(0.0, -8.0, 81)),
        "damper room": (humidity, np.linspace(here, 0.97, 61)),
        "drier room": (humidity, np.linspace(here, 0.08, 61)),
        "longer capillary": (length, np.geomspace(1.0, 2.5, 81)),
        "shorter capillary": (length, np.geomspace(1.0, 0.4, 81)),
        "wider capillary": (bore, np.geomspace(1.0, 1.3, 61)),
        "narrower capillary": (bore, np.geomspace(1.0, 0.77, 61)),
    }
    rows: list[dict[str, Any]] = []
    for name, (at, xs) in sweeps.items():
        start = full
        got, found = sweep(at, xs, start)
        row = {"seed": seed, "sweep": name, "points": len(found)}
        rows += [row | j for j in jumps(at, got, found)] or [row]
    return rows


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--record", type=Path, default=ROOT / "build" / "survey" / "jumps.jsonl")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=60)
    options = parser.parse_args()
    options.record.parent.mkdir(parents=True, exist_ok=True)
    done = set()
    if options.record.exists():
        done = {json.loads(t)["seed"] for t in options.record.read_text("utf-8").splitlines() if t}
    with options.record.open("a", encoding="utf-8") as file:
        for seed in range(options.first, options.first + options.count):
            if seed not in done:
                for row in survey(seed):
                    file.write(json.dumps(row) + "\n")
                file.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
