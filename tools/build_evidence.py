"""Build docs/evidence.md: every published value the models are held against, and how they do.

Runs the tests in tests/published with SWEATLINE_EVIDENCE set, reads the lines they leave and
writes the page. ``--check`` compares with the page that is there instead of writing it.
"""

import argparse
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "evidence.md"

COLUMNS = (
    "source",
    "status",
    "quantity",
    "printed",
    "ours",
    "deviation",
    "tolerance",
    "verdict",
    "reason",
)

HEAD = """\
# Evidence

Made by `tools/build_evidence.py` from the tests in `tests/published`; do not edit.

Each row holds one value from print against ours. *Status* says how sure the printed value is:
**PUBLISHED** was read in the source named or in a public copy of it, **MEMORY 0.9** was recalled
with that confidence, **common practice** is what the trade goes by, and **COMPUTED** came out of
another program or an earlier run of this one: it guards against change and says nothing about
nature. A row marked *aim* is recorded without failing the tests.
"""


def collect(arguments: list[str]) -> tuple[list[dict[str, Any]], int]:
    """Run the published tests and return what they recorded, and pytest's exit code."""
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "evidence.jsonl"
        environment = os.environ | {"SWEATLINE_EVIDENCE": str(record)}
        command = [sys.executable, "-m", "pytest", "tests/published", "-p", "no:cacheprovider"]
        code = subprocess.run(
            command + arguments, cwd=ROOT, env=environment, check=False
        ).returncode
        text = record.read_text(encoding="utf-8") if record.exists() else ""
    entries = [json.loads(line) for line in text.splitlines()]
    return [entry for entry in entries if "section" not in entry], code


def number(value: float, digits: int = 5) -> str:
    """A number as the page prints it: few enough digits to be the same on every machine."""
    return f"{value:.{digits}g}"


def width(value: float, kind: str, unit: str, sign: bool = False) -> str:
    """A deviation or tolerance: in percent, or in the unit of the quantity."""
    form = "+.2g" if sign else ".3g"
    if kind == "relative":
        percent = 100.0 * value
        if sign and abs(percent) < 0.001:
            return "0 %"
        return f"{percent:{form}} %"
    if sign and abs(value) < 1e-9:
        value = 0.0
    return f"{value:{form}} {unit}".strip()


def cell(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|").replace("\n", " ")


def summary(rows: list[dict[str, Any]]) -> str:
    """One sentence on a model."""
    parts = []
    against = [r for r in rows if r["status"] != "COMPUTED"]
    computed = [r for r in rows if r["status"] == "COMPUTED"]
    if against:
        met = sum(r["met"] for r in against)
        parts.append(f"{met} of {len(against)} values from print or practice met")
    if computed:
        met = sum(r["met"] for r in computed)
        parts.append(f"{met} of {len(computed)} computed values reproduced")
    relative = [abs(r["deviation"]) for r in against if r["kind"] == "relative"]
    if relative:
        parts.append(f"largest relative deviation from print {100 * max(relative):.2g} %")
    sentence = "; ".join(parts)
    return sentence[:1].upper() + sentence[1:] + "."


def page(entries: list[dict[str, Any]]) -> str:
    """The whole page."""
    models: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
    for entry in entries:
        models[entry["model"]].append(entry)
    against = [e for e in entries if e["status"] != "COMPUTED"]
    statuses = Counter(e["status"].split()[0] for e in entries)
    counts = ", ".join(f"{statuses[name]} {name}" for name in sorted(statuses))
    lines = [HEAD]
    lines.append(
        f"In all {len(entries)} values ({counts}) for {len(models)} models; of the {len(against)} "
        f"that are not COMPUTED, {sum(e['met'] for e in against)} are met.\n"
    )
    for model in sorted(models):
        rows = sorted(
            models[model],
            key=lambda r: (r["source"], r["quantity"], r["printed"], r["test"]),
        )
        lines.append(f"## {model}\n")
        lines.append(summary(rows) + "\n")
        lines.append("| " + " | ".join(COLUMNS) + " |")
        lines.append("|---" * len(COLUMNS) + "|")
        for row in rows:
            unit = row["unit"]
            verdict = "met" if row["met"] else "**not met**"
            if row["aim_only"]:
                verdict += " (aim)"
            cells = [
                cell(row["source"]),
                row["status"],
                cell(row["quantity"]),
                f"{number(row['printed'], 7)} {unit}".strip(),
                f"{number(row['ours'])} {unit}".strip(),
                width(row["deviation"], row["kind"], unit, sign=True),
                width(row["tolerance"], row["kind"], unit),
                verdict,
                cell(row["reason"]),
            ]
            lines.append("| " + " | ".join(cells) + " |")
        lines.append("")
    return "\n".join(lines)


NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
# Another processor rounds differently, and deviations are small differences of large numbers.
RELATIVE, ABSOLUTE = 0.02, 0.02


def same_page(old: str, new: str) -> bool:
    """Whether two pages say the same: words to the letter, numbers but for rounding."""
    if NUMBER.sub("#", old) != NUMBER.sub("#", new):
        return False
    pairs = zip(NUMBER.findall(old), NUMBER.findall(new), strict=True)
    return all(
        math.isclose(float(a), float(b), rel_tol=RELATIVE, abs_tol=ABSOLUTE) for a, b in pairs
    )


def main() -> int:
    """Build the page, or check it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the page, write nothing")
    parser.add_argument("pytest", nargs="*", help="further arguments for pytest")
    options = parser.parse_args()
    entries, code = collect(options.pytest)
    if code != 0 or not entries:
        print(
            "the published tests did not pass; docs/evidence.md is left as it was", file=sys.stderr
        )
        return code or 1
    text = page(entries)
    if options.check:
        current = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
        if not same_page(current, text):
            print("docs/evidence.md is out of date: run tools/build_evidence.py", file=sys.stderr)
            return 1
        return 0
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(text, encoding="utf-8")
    print(f"docs/evidence.md: {len(entries)} values")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
