"""Renew what README.md and the pages quote: the worked example, and lines of docs/evidence.md.

Between ``<!-- show: NAME -->`` and ``<!-- end -->`` stands what this tool puts there: a command of
`tools/examples.py` with the beginning of its answer, or a passage of the evidence page. Pictures
go to docs/pictures. ``--check`` compares instead of writing; numbers may move in the last digit
with the packages, so no test asks for it. ``--evidence`` renews only what quotes the evidence,
which a test holds to it.
"""

import argparse
import re
import sys
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# Run as a script, Python sees only the folder of the script.
sys.path.insert(0, str(ROOT))

from tools.examples import EXAMPLES, shown  # noqa: E402 - needs the line above

EVIDENCE = ROOT / "docs" / "evidence.md"
PAGES = (ROOT / "README.md", ROOT / "docs" / "trust.md")
BLOCK = re.compile(r"(<!-- show: (?P<name>[\w-]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def evidence_total() -> str:
    """The sentences of the evidence page on all values."""
    text = EVIDENCE.read_text(encoding="utf-8")
    return next(line for line in text.splitlines() if " from measurement, print" in line) + "\n"


def evidence_six() -> str:
    """The six lines of the evidence page, and what is said beneath them."""
    text = EVIDENCE.read_text(encoding="utf-8")
    return text.split("## In six lines\n\n", 1)[1].split("\n## ", 1)[0].strip() + "\n"


# Blocks that quote the evidence page.
QUOTES: dict[str, Callable[[], str]] = {
    "evidence-total": evidence_total,
    "evidence-six": evidence_six,
}


def main() -> int:
    """Renew the blocks, or check them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare, write no page")
    parser.add_argument("--evidence", action="store_true", help="renew what quotes the evidence")
    options = parser.parse_args()

    def renewed(found: re.Match[str]) -> str:
        name = found["name"]
        if name in QUOTES:
            return f"{found[1]}{QUOTES[name]()}{found[3]}"
        if name not in EXAMPLES:
            raise SystemExit(f"nothing is known of {name}")
        return found[0] if options.evidence else f"{found[1]}{shown(EXAMPLES[name])}{found[3]}"

    if not (options.evidence or options.check):
        for example in EXAMPLES.values():
            if example.pictures:
                shown(example, draw=True)
    changed = []
    for page in PAGES:
        before = page.read_text(encoding="utf-8")
        after = BLOCK.sub(renewed, before)
        if after != before:
            changed.append(str(page.relative_to(ROOT)))
            if not options.check:
                page.write_text(after, encoding="utf-8")
    verb = "out of date" if options.check else "renewed"
    print(f"{verb}: {', '.join(changed)}" if changed else "nothing changed")
    return 1 if options.check and changed else 0


if __name__ == "__main__":
    raise SystemExit(main())
