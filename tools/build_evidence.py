"""Build the evidence page: every published value the models are held against, and how they do.

Runs the tests in tests/published with SWEATLINE_EVIDENCE set, reads the lines they leave and
writes docs/evidence.md, docs/evidence.html and the pictures in docs/pictures/evidence. With
``--check`` it compares instead of writing:

- the Markdown, words to the letter and numbers but for rounding, because another processor rounds
  differently;
- each picture by the numbers that it carries in its description, not by its drawing, because
  another release of the plotting library or of its type moves lines by a hair;
- the HTML likewise, built anew around the pictures that are there.

On one machine two runs give the same bytes.
"""

import argparse
import html
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
# Run as a script, Python sees only the folder of the script.
sys.path.insert(0, str(ROOT))

from tools.evidence import markdown, marks, parity, strips, web  # noqa: E402 - needs the line above
from tools.evidence.values import PLAIN, Record, read  # noqa: E402

DOCS = ROOT / "docs"
PAGE = DOCS / "evidence.md"
WEB_PAGE = DOCS / "evidence.html"
PICTURES = DOCS / markdown.PICTURES


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
    return [json.loads(line) for line in text.splitlines()], code


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


DESCRIPTION = re.compile(r"<dc:description>(.*?)</dc:description>", re.DOTALL)


def stale(record: Record, page: str, web_page: str, pictures: Mapping[str, str]) -> list[str]:
    """What of the page and its pictures does not say what the record says."""
    found = []
    if not same_page(page, markdown.page(record)):
        found.append("docs/evidence.md")
    shown = markdown.shown(record)
    for stem in sorted(shown.keys() | pictures.keys()):
        described = DESCRIPTION.search(pictures.get(stem, ""))
        told = html.unescape(described[1]) if described else ""
        if stem not in shown or not same_page(told, shown[stem]):
            found.append(f"docs/{markdown.PICTURES}/{stem}.svg")
    if shown.keys() <= pictures.keys() and not same_page(web_page, web.page(record, pictures)):
        found.append("docs/evidence.html")
    return found


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.exists() else ""


def main() -> int:
    """Build the page, or check it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the page, write nothing")
    parser.add_argument("pytest", nargs="*", help="further arguments for pytest")
    options = parser.parse_args()
    entries, code = collect(options.pytest)
    if code != 0 or not entries:
        print("the published tests did not pass; the page is left as it was", file=sys.stderr)
        return code or 1
    record = read(entries)
    kept = {path.stem: _text(path) for path in PICTURES.glob("*.svg")}
    if options.check:
        old = stale(record, _text(PAGE), _text(WEB_PAGE), kept)
        if old:
            print(f"out of date: {', '.join(old)}: run make evidence", file=sys.stderr)
        return 1 if old else 0
    pictures = draw(record)
    PICTURES.mkdir(parents=True, exist_ok=True)
    for stem in kept.keys() - pictures.keys():
        (PICTURES / f"{stem}.svg").unlink()
    for stem, drawing in pictures.items():
        (PICTURES / f"{stem}.svg").write_text(drawing, encoding="utf-8")
    PAGE.write_text(markdown.page(record), encoding="utf-8")
    WEB_PAGE.write_text(web.page(record, pictures), encoding="utf-8")
    for model in record.models.keys() - PLAIN.keys():
        print(f"no plain words for {model!r} in tools/evidence/values.py", file=sys.stderr)
    count = f"{len(record.values)} values, {len(pictures)} pictures"
    print(f"docs/evidence.md, docs/evidence.html: {count}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
