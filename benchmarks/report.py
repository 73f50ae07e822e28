"""Build docs/speed.md from one run of all benchmarks.

Every benchmark also runs by itself, printing its figures. ``--write`` runs them all in this process
and writes the page; it takes some minutes, and wants a machine with nothing else to do.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from types import ModuleType

from timing import HEADS, ROOT, Row, machine, show

PAGE = ROOT / "docs" / "speed.md"

HEAD = """\
# Speed

Made by `benchmarks/report.py --write`; do not edit.

Figures of one run on one machine. Ratios are of processor times, with both sides timed in turn:
*median* is the median of the rounds, *best* the fastest round of one against the fastest of the
other. Durations are by the clock, which is what a person waits for, with the median of the
processor time beside them; on a machine that does other things the clock runs ahead of it. A
verdict compares the median with the aim.
"""


def modules() -> list[ModuleType]:
    """The benchmarks in the order of the page."""
    import advice
    import commands
    import diagnosis
    import example_job
    import lookup
    import machine as machines
    import page
    import property_calls
    import reference_machine
    import season

    return [
        lookup,
        machines,
        reference_machine,
        property_calls,
        example_job,
        advice,
        diagnosis,
        commands,
        season,
        page,
    ]


def cell(text: str) -> str:
    """Text that does not break a table."""
    return text.replace("|", "\\|")


def section(title: str, story: str, rows: Sequence[Row]) -> list[str]:
    """Lines of one benchmark: what it does, then its figures."""
    lines = [f"## {title}", ""]
    # The first paragraph of the module is its name in other words.
    _name, _gap, rest = story.strip().partition("\n\n")
    lines += [rest, "", "| " + " | ".join(HEADS) + " |", "|---" * len(HEADS) + "|"]
    for row in rows:
        cells = [cell(text) for text in row.cells()]
        if row.verdict == "not met":
            cells[HEADS.index("verdict")] = "**not met**"
        lines.append("| " + " | ".join(cells) + " |")
    return [*lines, ""]


def page(found: Sequence[tuple[str, str, Sequence[Row]]], before: str, after: str) -> str:
    """The whole page."""
    rows = [row for _title, _story, mine in found for row in mine]
    aimed = [row for row in rows if row.aim is not None]
    met = sum(row.verdict == "met" for row in aimed)
    lines = [HEAD, f"{met} of {len(aimed)} aims are met.", ""]
    lines += [f"- At the start: {before}.", f"- At the end: {after}.", ""]
    for title, story, mine in found:
        lines += section(title, story, mine)
    return "\n".join(lines).rstrip() + "\n"


def main() -> int:
    """Run everything and write the page."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="run all benchmarks, write the page")
    if not parser.parse_args().write:
        print("benchmarks/report.py --write runs all benchmarks and writes docs/speed.md")
        return 0
    before = machine()
    found = []
    for module in modules():
        rows = module.rows()
        show(module.TITLE, rows)
        found.append((module.TITLE, module.__doc__ or "", rows))
    PAGE.write_text(page(found, before, machine()), encoding="utf-8")
    print(f"\n{PAGE.relative_to(ROOT)} written")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
