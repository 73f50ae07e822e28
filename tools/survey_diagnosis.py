"""Diagnose simulated machines, and write how often the diagnosis is right and its ranges hold.

    python tools/survey_diagnosis.py --write

Machines are drawn from what the job of the example leaves open, solved in full with their fault,
and read with instruments that err. The first table has ten kinds of fault of at least 15 %, wrong
and swapped instruments, and machines in order, equally many of each; the second has machines as
frequent in their faults as the diagnosis takes them to be. Its model is the diagnosis' own: the
counts say whether the reasoning is honest, not that the model is right.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "diagnosing.md"
JOB = ROOT / "examples" / "seed-store.toml"
SEED: Final = 83_000
_OF_MACHINE: Final = (
    "short", "over", "restriction", "dirty condenser", "dirty evaporator", "little air",
    "weak valves", "foreign gas", "compressor too small", "compressor too large",
)  # fmt: skip
FAULTS: Final = ("nothing", *_OF_MACHINE, "wrong instrument", "swapped")


class Tally:
    """Counts of one way to read machines."""

    def __init__(self) -> None:
        self.sure: list[float] = []
        self.first: list[bool] = []
        self.third: list[bool] = []
        self.missed: list[float] = []  # of severe ones, the chance with which they are in order
        self.called: Counter[tuple[str, str]] = Counter()

    def add(self, case: Any, weighed: Any) -> None:
        """One machine, diagnosed."""
        present = list(weighed.present().items())
        truths = case.causes or ("nothing",)
        (key, about), chance = present[0]
        self.sure.append(chance)
        self.first.append(key in truths and set(about) <= set(case.channels))
        among = {key for (key, _about), _chance in present[:3]}
        self.third.append(set(truths) <= among)
        self.called[truths[0], key] += 1
        if case.severe:
            self.missed.append(chance if key == "nothing" else 0.0)

    def row(self, name: str) -> str:
        """Of the table of ways."""
        called = sum(chance > 0.0 for chance in self.missed)
        return (
            f"| {name} | {len(self.first)} | {np.mean(self.first):.0%} | {np.mean(self.sure):.0%} "
            f"| {np.mean(self.third):.0%} | {called} of {len(self.missed)} "
            f"| {100.0 * max(self.missed):.0f} in 100 |"
        )


class Bench:
    """The machine of the example, and what draws from it."""

    def __init__(self) -> None:
        from sweatline.assembly.build import build_for
        from sweatline.diagnosis.atlas import atlas_of
        from sweatline.diagnosis.weighing import Weighing
        from sweatline.job.reading import read_job
        from sweatline.machine.balance import filled

        self.build = build_for(read_job(JOB), compressor=0, refrigerant="R-134a", capillary=0)
        target = filled(superheat=self.build.job.targets.superheat)
        self.full = self.build.solve(target, near=self.build.designed)
        self.atlas = atlas_of(self.build)
        self.weighing = Weighing(self.atlas)

    def cases(self, count: int, kinds: Sequence[tuple[str, ...]], *, off: bool) -> list[Any]:
        """So many machines of each kind."""
        from sweatline.diagnosis.trials import case
        from sweatline.errors import SolveError

        found = []
        for k, kind in enumerate(kinds):
            for n in range(count):
                chance = np.random.default_rng([SEED, k, n, len(kinds), off])
                causes = [c for c in kind if c != "nothing"]
                try:
                    found.append(case(self.build, self.full, chance, causes, off_model=off))
                except SolveError:
                    continue
        return found

    def asked_again(self, one: Any, times: int) -> Any:
        """Weighed once more with so many readings that were asked for."""
        from sweatline.diagnosis.next_reading import next_readings
        from sweatline.diagnosis.trials import ROUND

        channels = list(ROUND)
        weighed = self.weighing.weigh(one.of(channels))
        for _ in range(times):
            asked = next_readings(self.weighing, weighed, one.of(channels))
            if not asked:
                break
            channels.append(asked[0].channel)
            weighed = self.weighing.weigh(one.of(channels))
        return weighed

    def when_well(self, one: Any, n: int) -> Any:
        """Weighed with a round from when it ran well."""
        from sweatline.diagnosis.narrowing import narrowed
        from sweatline.diagnosis.trials import ROUND, read
        from sweatline.diagnosis.weighing import Weighing

        then = read(ROUND[:-4], one.well, np.random.default_rng([SEED, n, 5]))
        return Weighing(narrowed(self.atlas, then)).weigh(one.of(ROUND))


def ways(bench: Bench, count: int) -> dict[str, Tally]:
    """How often the cause is named, by what is read."""
    from itertools import combinations

    from sweatline.diagnosis.trials import READ_WITH, ROUND

    found: dict[str, Tally] = {}

    def add(name: str, one: Any, weighed: Any) -> None:
        found.setdefault(name, Tally()).add(one, weighed)

    single = [(f,) for f in FAULTS]
    for n, one in enumerate(bench.cases(count, single, off=False)):
        add("a round of ten readings", one, bench.weighing.weigh(one.of(ROUND)))
        add("and two that were asked for", one, bench.asked_again(one, 2))
        add("and four that were asked for", one, bench.asked_again(one, 4))
        add("ten, and a round from when it ran well", one, bench.when_well(one, n))
    full = list(READ_WITH.values())[-1]
    for one in bench.cases(count, single, off=True):
        add("model off as well, ten readings", one, bench.weighing.weigh(one.of(ROUND)))
        add("model off as well, fourteen readings", one, bench.weighing.weigh(one.of(full)))
    clash = ({"short", "over"}, {"compressor too small", "compressor too large"})
    two = [p for p in combinations(_OF_MACHINE, 2) if set(p) not in clash]
    for one in bench.cases(max(count // 10, 1), two, off=False):
        add("two faults at once, ten readings", one, bench.weighing.weigh(one.of(ROUND)))
    return found


def ranked(bench: Bench, count: int) -> dict[str, dict[str, list[float]]]:
    """Ranks of the truth, by what is read and what they are of."""
    from sweatline.diagnosis.trials import READ_WITH, case_by_prior, ranks
    from sweatline.errors import SolveError

    found: dict[str, dict[str, list[float]]] = {}
    for name, channels in READ_WITH.items():
        of: dict[str, list[float]] = {}
        for n in range(count):
            chance = np.random.default_rng([SEED, n, len(channels)])
            try:
                one = case_by_prior(bench.build, bench.full, bench.weighing, chance, channels)
            except SolveError:
                continue
            for key, values in ranks(bench.weighing.weigh(one.readings), one).items():
                of.setdefault(key, []).extend(values)
        found[name] = of
    return found


def inside(values: Sequence[float]) -> str:
    """Share inside a 90 % range."""
    return f"{np.mean([0.05 <= v <= 0.95 for v in values]):.0%}"


def _title(cause: str) -> str:
    from sweatline.diagnosis.causes import CAUSES

    about = "two instruments" if cause == "swapped" else "instrument"
    return CAUSES[cause].name.format(about).removesuffix(" that these readings could show")


def page(found: dict[str, Tally], ranks: dict[str, dict[str, list[float]]]) -> str:
    """The page."""
    story = (__doc__ or "").split("\n\n")[2].replace("\n", " ").strip()
    lines = [
        "# How often a diagnosis is right",
        "",
        "Made by `tools/survey_diagnosis.py --write`; do not edit.",
        "",
        story,
        "",
        "| read | machines | named first | it had said | among the first three "
        "| severe, nothing wrong first | at most |",
        "|---|---|---|---|---|---|---|",
        *(tally.row(name) for name, tally in found.items()),
        "",
        "*It had said* is the mean chance that it gave to what it named. Where that agrees with "
        "how often it was right, the readings hold no more: only further readings, or a round from "
        "when the machine ran well, name more. With two faults *first* counts either. *Severe* is "
        "a fault of the machine or its charge that takes or adds three tenths or more, *at most* "
        "the greatest chance with which one of these was said to have nothing wrong.",
        "",
        "## What is taken for what",
        "",
        "Ten readings. Of each kind the share that was named first, and what was named instead.",
        "",
        "| what is wrong | named | else |",
        "|---|---|---|",
    ]
    ten = found["a round of ten readings"].called
    for truth in FAULTS:
        named = {called: n for (t, called), n in ten.items() if t == truth}
        others = sorted(((n, c) for c, n in named.items() if c != truth), reverse=True)
        words = ", ".join(f"{_title(c)} {n}" for n, c in others)
        count = f"{named.get(truth, 0)} of {sum(named.values())}"
        lines.append(f"| {_title(truth)} | {count} | {words or '-'} |")
    names = list(ranks)
    rows = list(dict.fromkeys(key for of in ranks.values() for key in of))
    machines = len(next(iter(ranks[names[0]].values())))
    error = 100.0 * (0.09 / machines) ** 0.5
    lines += [
        "",
        "## How often its ranges hold the truth",
        "",
        f"Ranges of 90 %, {machines} machines for each way to read: a column errs by "
        f"{error:.1f} hundredths (one standard deviation), *all* by {error / len(names) ** 0.5:.1f}"
        ". The last column is the share of the truths in each fifth of what was held possible: 20 "
        "each, were it exact.",
        "",
        "| of | " + " | ".join(names) + " | all | fifths |",
        "|---" * (len(names) + 3) + "|",
    ]
    for key in rows:
        every = [v for name in names for v in ranks[name].get(key, [])]
        fifths = np.histogram(every, np.linspace(0.0, 1.0, 6))[0] / len(every)
        each = " | ".join(inside(ranks[n][key]) for n in names)
        spread = " ".join(f"{100.0 * f:.0f}" for f in fifths)
        lines.append(f"| {key} | {each} | {inside(every)} | {spread} |")
    return "\n".join([*lines, ""])


def main() -> int:
    """Run and write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--machines", type=int, default=30, help="of each kind of fault")
    parser.add_argument("--ranked", type=int, default=200, help="for each way to read")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    bench = Bench()
    text = page(ways(bench, asked.machines), ranked(bench, asked.ranked))
    if asked.write:
        PAGE.write_text(text, encoding="utf-8")
    else:
        print(text)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
