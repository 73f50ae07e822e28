"""Build docs/robustness.md from the records of the two surveys in build/survey.

Run by `make survey`, after tools/survey_machines.py and tools/survey_jumps.py.
"""

import argparse
import json
import statistics
import sys
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "robustness.md"
RECORDS = ROOT / "build" / "survey"

HEAD = """\
# Robustness

Made by `make survey` from `tests/random_machines.py`; do not edit. This is the program's check on
itself: whether a machine gets an answer, whether energy, mass and charge close, whether the answer
changes smoothly. It compares nothing with measurements; for that see [evidence.md](evidence.md).

Each machine comes from a seed: any of the 18 refrigerants, either kind of compressor, coils of 1 to
5 rows, a capillary that more or less suits the rest (one in twelve suits nothing), rooms of 2 to
43 °C and 15 to 95 %RH, series or separate air, charges from a fifth to twice what fills it. It is
solved from nothing, and the steady state is added up again in plain Python (`tests/closure.py`):
energy of refrigerant and air in every cell of both coils, the compressor's equations, the length of
capillary that passes the flow, the charge part by part.
"""

OUTCOMES = (
    ("solved", "steady state found, every residual below 1e-6 of its scale"),
    ("named", "no steady state; a physical reason given"),
    ("residual", "steady state returned whose residuals exceed 1e-6"),
    ("unnamed", "no steady state found and no reason"),
    ("exception", "the program failed"),
)


# What is asked of the solver, in words.
AIMS = {
    "design": "superheat and subcooling (design)",
    "filled": "target superheat",
    "share of the filling": "charge as a share of that at target superheat",
    "share of the volume": "charge as a share of the volume",
}


def read(name: str) -> list[dict[str, Any]]:
    """Rows of a record, the last of each kind for every seed."""
    path = RECORDS / name
    if not path.exists():
        return []
    return [json.loads(text) for text in path.read_text(encoding="utf-8").splitlines() if text]


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A Markdown table, the first column text, the rest numbers."""
    lines = ["| " + " | ".join(head) + " |", "|---|" + "---:|" * (len(head) - 1)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def share(part: int, whole: int) -> str:
    """A share in per cent, never rounded up to all."""
    if part == whole:
        return "100 %"
    return f"{100.0 * part / max(whole, 1):.2f} %"


def outcomes(rows: list[dict[str, Any]]) -> str:
    """How many machines ended how."""
    counts = Counter(row["outcome"] for row in rows)
    answered = counts["solved"] + counts["named"]
    body = table(
        ("outcome", "machines", "share"),
        [(words, str(counts[name]), share(counts[name], len(rows))) for name, words in OUTCOMES],
    )
    return (
        f"## Outcomes of {len(rows)} machines\n\n{body}\n\n"
        f"A steady state or a physical reason: {answered} of {len(rows)}, "
        f"{share(answered, len(rows))} (aim 99.9 %)."
    )


def by_aim(rows: list[dict[str, Any]]) -> str:
    """The same by what was asked for."""
    groups: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        groups[row.get("aim", "?")].append(row)
    return table(
        ("asked for", "machines", "solved", "reason given", "neither"),
        [
            (
                AIMS.get(aim, aim),
                str(len(group)),
                str(sum(row["outcome"] == "solved" for row in group)),
                str(sum(row["outcome"] == "named" for row in group)),
                str(sum(row["outcome"] not in ("solved", "named") for row in group)),
            )
            for aim, group in sorted(groups.items())
        ],
    )


def reasons(rows: list[dict[str, Any]]) -> str:
    """Why machines have no steady state."""
    named = [row for row in rows if row["outcome"] == "named"]
    counts = Counter(row["why"] for row in named)
    refuted = sum(bool(row.get("refuted")) for row in named)
    body = table(("reason", "machines"), [(why, str(count)) for why, count in counts.most_common()])
    return (
        "## Reasons given\n\n"
        "A reason is the end of a curve of steady states that was followed from a solved one, or "
        "of a bracket on a coil. Against each, 24 Newton searches were begun at random in the "
        f"table; in {refuted} of {len(named)} one found a steady state after all.\n\n{body}"
    )


def fresh(rows: list[dict[str, Any]]) -> str:
    """How machines ended that served no choice."""
    if not rows:
        return ""
    answered = [row for row in rows if row["outcome"] in ("solved", "named")]
    rest = ", ".join(
        f"{row['seed']} ({row['name']} {row['worst']:.0e})" if "worst" in row else str(row["seed"])
        for row in rows
        if row not in answered
    )
    first, last = rows[0]["seed"], rows[-1]["seed"]
    return (
        f"A fresh sample, seeds {first} to {last}, used for no choice: {len(answered)} of "
        f"{len(rows)}, {share(len(answered), len(rows))}, have a steady state that closes or a "
        f"reason." + (f" The rest: {rest}." if rest else "")
    )


def residuals(rows: list[dict[str, Any]]) -> str:
    """The worst residuals of the steady states."""
    solved = [row for row in rows if row["outcome"] in ("solved", "residual")]
    lines = []
    for name in ("energy", "mass", "charge"):
        values = sorted(row[name] for row in solved)
        lines.append(
            (
                name,
                f"{statistics.median(values):.1e}",
                f"{values[int(0.99 * (len(values) - 1))]:.1e}",
                f"{values[-1]:.1e}",
            )
        )
    unsettled = sum(bool(row.get("unsettled")) for row in solved)
    body = table(("residual, share of scale", "median", "99 of 100 below", "worst"), lines)
    return (
        f"## Residuals of {len(solved)} steady states\n\n{body}\n\n"
        "Scales: heat of the condenser, flow of refrigerant (moisture: humidity of the entering "
        f"air), charge. Coils whose rows did not settle: {unsettled}."
    )


def agreement(rows: list[dict[str, Any]], bracketed: list[dict[str, Any]]) -> str:
    """Whether different ways lead to the same state."""
    pairs = [row for row in rows if "apart" in row]
    apart = [row for row in pairs if row["apart"] > 1e-5]
    lost = sum(row["apart"] == float("inf") for row in apart)
    worst = max((row["apart"] for row in pairs if row["apart"] <= 1e-5), default=0.0)
    text = (
        "## Different ways to a state\n\n"
        f"{len(pairs)} machines of given charge were solved from nothing and from their state at "
        f"the target superheat: {len(pairs) - len(apart)} times the same (pressures and flow "
        f"within {worst:.0e}), {len(apart) - lost} times another one, {lost} times none from there."
    )
    if apart:
        text += " Seeds: " + ", ".join(str(row["seed"]) for row in apart[:12]) + "."
    noted = sum(bool(row.get("other")) for row in rows)
    text += f" {noted} steady states carry the note that the machine has another steady state."
    closed = [row for row in bracketed if row["brackets"] == "closed"]
    if closed:
        near = sum(row["apart"] <= 1e-5 for row in closed)
        open_ = [row for row in bracketed if row["brackets"] == "not closed"]
        wet = sum(bool(row["wet"]) for row in open_)
        text += (
            f"\n\nNewton's method against nested brackets: {near} of {len(closed)} within 1e-5 "
            f"(largest difference {max(row['apart'] for row in closed):.0e}). On "
            f"{len(open_)} more the brackets found no root, {wet} of them with liquid in the "
            "suction, where one head pressure belongs to several charges."
        )
    return text


def times(rows: list[dict[str, Any]]) -> str:
    """How long it takes."""
    timed = sorted((row["seconds"], row["seed"]) for row in rows if "seconds" in row)
    values = [seconds for seconds, _ in timed]
    total = sum(values)
    slow = sum(value for value in values if value > 0.1)
    worst = ", ".join(f"{seed} ({seconds:.1f} s)" for seconds, seed in reversed(timed[-5:]))
    return (
        "## Time\n\n"
        f"Processor time for a machine from nothing: median {1e3 * statistics.median(values):.0f} "
        f"ms, mean {1e3 * total / len(values):.0f} ms. "
        f"{100.0 * sum(value > 0.1 for value in values) / len(values):.0f} % of the machines take "
        f"more than 100 ms and {100.0 * slow / total:.0f} % of the time. Slowest seeds: {worst}."
    )


def smoothness(rows: list[dict[str, Any]]) -> str:
    """Jumps found along fine sweeps."""
    if not rows:
        return ""
    seeds = {row["seed"] for row in rows if row.get("points")}
    sweeps = {(row["seed"], row["sweep"]): row.get("points", 0) for row in rows}
    found = [row for row in rows if "quantity" in row]
    solved_for = [
        row for row in found if not row["quantity"].endswith(("share", "coil_temperature"))
    ]
    text = (
        "## Jumps\n\n"
        f"{len(seeds)} machines, {len(sweeps)} sweeps of charge, room temperature, room humidity, "
        f"length and bore of the capillary, {sum(sweeps.values())} steady states. A step that "
        "stands out from its neighbours is halved 14 times; what does not shrink is a jump. "
    )
    groups: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in found:
        groups[row["quantity"]].append(row)
    if not found:
        return text + "None was found."
    text += (
        f"In what the solver solves for and adds up: {len(solved_for)} jumps in "
        f"{len({(row['seed'], row['sweep']) for row in solved_for})} sweeps. Shares of a coil that "
        "are wet or frosted count cells and change in steps: no verdict may be solved for on "
        "them.\n\n"
    )
    lines = []
    for name, group in sorted(groups.items()):
        sizes = [row["size"] for row in group]
        lines.append(
            (
                name.replace("_", " "),
                str(len(group)),
                f"{statistics.median(sizes):.1e}",
                f"{max(sizes):.1e}",
                ", ".join(sorted({str(row["seed"]) for row in group})[:6]),
            )
        )
    return (
        text
        + table(("quantity", "jumps", "median", "largest", "seeds"), lines)
        + (
            "\n\nSizes: K for temperatures, whole numbers for shares and qualities, else shares of "
            "the largest value along the sweep."
        )
    )


def by_seed(name: str) -> list[dict[str, Any]]:
    """The last row of every seed of a record, in the order of the seeds."""
    found = {row["seed"]: row for row in read(name)}
    return sorted(found.values(), key=lambda row: int(row["seed"]))


def page() -> str:
    """The whole page."""
    rows = by_seed("machines.jsonl")
    parts = [
        HEAD.rstrip(),
        outcomes(rows) + "\n\n" + by_aim(rows),
        fresh(by_seed("fresh.jsonl")),
        reasons(rows),
        residuals(rows),
        agreement(rows, read("brackets.jsonl")),
        smoothness(read("jumps.jsonl")),
        times(rows),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def main() -> int:
    """Command line."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
