"""Build the evidence: what the models do against every value from print.

Reads what the tests in tests/published put on record (`make test` leaves it in
build/evidence.jsonl; without `--record FILE` they are run for it) and writes docs/evidence.md, one
line for each model. ``--check`` compares instead of writing: words to the letter, numbers but for
rounding, because another processor rounds differently. The full table with its plots is one HTML
file that `tools/build_site.py` puts into the site.
"""

import argparse
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# Run as a script, Python sees only the folder of the script.
sys.path.insert(0, str(ROOT))

from tools.evidence import markdown, marks, parity, strips, web  # noqa: E402 - needs the line above
from tools.evidence.values import PLAIN, Record, read  # noqa: E402

PAGE = ROOT / "docs" / "evidence.md"


def collect(kept: Path | None) -> Record:
    """What the published tests recorded: in `kept`, or else by running them.

    Raises
    ------
    SystemExit
        The tests did not pass, or left nothing.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = kept or Path(folder) / "evidence.jsonl"
        if kept is None:
            environment = os.environ | {"SWEATLINE_EVIDENCE": str(path)}
            command = [sys.executable, "-m", "pytest", "tests/published", "-p", "no:cacheprovider"]
            if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode != 0:
                raise SystemExit("the tests against print did not pass; nothing was written")
        text = path.read_text(encoding="utf-8") if path.exists() else ""
    entries = [json.loads(line) for line in text.splitlines()]
    if not entries:
        raise SystemExit(f"{path} holds nothing: run make test")
    return read(entries)


def draw(record: Record) -> dict[str, str]:
    """Every picture of the page by its name."""
    drawn = {f"strip-{name}": strips.draw(record, name) for name in strips.STRIPS}
    drawn |= {panel.stem: parity.draw(panel) for panel in parity.panels(record)}
    drawn |= {marks.slug(s.title): strips.draw_section(s) for s in record.sections if s.series}
    return drawn


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


def web_page(record: Record) -> str:
    """The full table and its plots as one HTML file."""
    return web.page(record, draw(record))


def main() -> int:
    """Build the page, or check it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the page, write nothing")
    parser.add_argument("--record", type=Path, metavar="FILE", help="what the tests left behind")
    options = parser.parse_args()
    record = collect(options.record)
    page = markdown.page(record)
    for model in record.models.keys() - PLAIN.keys():
        print(f"no plain words for {model!r} in tools/evidence/values.py", file=sys.stderr)
    if options.check:
        same = PAGE.exists() and same_page(PAGE.read_text(encoding="utf-8"), page)
        if not same:
            print("out of date: docs/evidence.md: run make evidence", file=sys.stderr)
        return 0 if same else 1
    PAGE.write_text(page, encoding="utf-8")
    print(f"docs/evidence.md: {len(record.values)} values, {len(page.splitlines())} lines")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
