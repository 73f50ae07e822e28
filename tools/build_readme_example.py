"""Renew what README.md and docs/trust.md show of the program: real output, pictures, evidence.

Between ``<!-- show: NAME -->`` and ``<!-- end -->`` stands what this tool puts there. Commands are
run on the example jobs and their output is cut to the passages named below; pictures go to
docs/pictures. ``--check`` compares instead of writing; numbers may move in the last digit with the
packages, so no test asks for it. ``--only NAME``, as often as you like, renews these blocks
and leaves the others; ``--evidence`` renews those that quote docs/evidence.md, which a test holds
to it.
"""

import argparse
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
EVIDENCE = ROOT / "docs" / "evidence.md"
JOB = "examples/seed-store.toml"
TRADE_JOB = "examples/boat-shed.toml"
MATCH = ("match", JOB, "--top", "4")
# A log that is begun anew for a command that names it, and the lines that are fed to it.
LOG = "shelf.log"
BEGUN = ("--refrigerant", "R-513A", "--altitude", "640 m")
LINES = "examples/seed-store-charging.txt"
CUT = "[...]"

PAGES = (ROOT / "README.md", ROOT / "docs" / "trust.md")
BLOCK = re.compile(r"(<!-- show: (?P<name>[\w-]+) -->\n).*?(<!-- end -->)", re.DOTALL)


@dataclass(frozen=True)
class Passage:
    """Lines of an output from the first that begins with `start` to before `stop`.

    Both are patterns; `most` keeps only that many lines that are not empty.
    """

    start: str
    stop: str | None = None
    most: int | None = None


@dataclass(frozen=True)
class Example:
    """A command, the passages of its output that are shown, and the pictures it draws."""

    command: tuple[str, ...]
    passages: tuple[Passage, ...]
    pictures: tuple[str, ...] = ()


def run(example: Example) -> str:
    """Output of a command at the width of a page; its pictures are put in place."""
    shown = shlex.join(("sweatline", *example.command))
    print(shown, file=sys.stderr, flush=True)
    arguments = list(example.command)
    with tempfile.TemporaryDirectory() as folder:
        if example.pictures:
            arguments += ["--figures", folder]
        log = str(Path(folder) / LOG)
        done = None
        for each in ([["log", "new", log, *BEGUN]] if LOG in arguments else []) + [arguments]:
            done = subprocess.run(
                [
                    sys.executable,
                    "-m",
                    "sweatline.cli.main",
                    *(log if a == LOG else a for a in each),
                ],
                cwd=ROOT,
                env=os.environ | {"COLUMNS": "80"},
                capture_output=True,
                text=True,
                encoding="utf-8",
                check=False,
            )
            if done.returncode != 0:
                raise SystemExit(f"{shown}: {done.stderr.strip()}")
        assert done is not None
        PICTURES.mkdir(parents=True, exist_ok=True)
        for name in example.pictures:
            shutil.copyfile(Path(folder) / name, PICTURES / name)
    return done.stdout


def cut(output: str, passages: tuple[Passage, ...]) -> list[str]:
    """The passages, with a mark wherever something is left out between or after them."""
    lines = output.strip("\n").split("\n")
    kept: list[str] = []
    place = 0
    for passage in passages:
        begin = next(
            (i for i in range(place, len(lines)) if re.match(passage.start, lines[i].strip())),
            None,
        )
        if begin is None:
            print(f"the output has no line that begins with {passage.start!r}", file=sys.stderr)
            continue
        if any(line.strip() for line in lines[place:begin]):
            kept.append(CUT)
        count = 0
        place = begin
        for line in lines[begin:]:
            if passage.stop is not None and re.match(passage.stop, line.strip()):
                break
            if passage.most is not None and count == passage.most:
                break
            count += bool(line.strip())
            kept.append(line)
            place += 1
        while kept and not kept[-1].strip():
            kept.pop()
    if any(line.strip() for line in lines[place:]):
        kept.append(CUT)
    return kept


def block(example: Example, output: str) -> str:
    """A command with what it printed, as a block of code."""
    command = list(example.command)
    if example.pictures:
        command += ["--figures", "pictures"]
    text = "\n".join([f"$ {shlex.join(['sweatline', *command])}", *cut(output, example.passages)])
    return f"```text\n{text}\n```\n"


def evidence_total() -> str:
    """The sentence of the evidence page on all values."""
    text = EVIDENCE.read_text(encoding="utf-8")
    return next(line for line in text.splitlines() if " from measurement, print" in line) + "\n"


# Blocks that quote the evidence page.
QUOTES: dict[str, Callable[[], str]] = {"evidence-total": evidence_total}


def best(ranking: str) -> tuple[str, str, str]:
    """Compressor, refrigerant and capillary of the first in a ranking."""
    found = re.search(r"^The best: (.+?) \+ (.+?) \+ (.+?), (?:cut to|of) ", ranking, re.MULTILINE)
    if found is None:
        raise SystemExit("the ranking names no best combination")
    return found[1], found[2], found[3]


def shows() -> dict[str, Callable[[], str]]:
    """How each block is made; the ranking decides the parts of those after it."""
    ranking: list[str] = []

    def ranked() -> str:
        if not ranking:
            ranking.append(run(Example(MATCH, ())))
        return ranking[0]

    def match() -> str:
        example = Example(
            MATCH,
            (
                Passage("Seed store", "Ranked by"),
                Passage("The best", "suction gas at"),
                Passage("charge", most=1),
                Passage("watts with", most=1),
                Passage("water ", most=1),
                Passage("Why the others", most=1),
                Passage(r"\d+ +8.4 rotary \+ R-290", most=3),
            ),
        )
        return block(example, ranked())

    def plain(command: tuple[str, ...], *passages: Passage) -> Callable[[], str]:
        def make() -> str:
            example = Example(command, passages)
            return block(example, run(example))

        return make

    def of_the_best(
        command: str,
        *passages: Passage,
        pictures: tuple[str, ...] = (),
        with_capillary: bool = True,
    ) -> Callable[[], str]:
        def make() -> str:
            compressor, refrigerant, capillary = best(ranked())
            parts = ["--compressor", compressor, "--refrigerant", refrigerant]
            if with_capillary:
                parts += ["--capillary", capillary]
            example = Example((command, JOB, *parts), passages, pictures)
            return block(example, run(example))

        return make

    return {
        "check": plain(
            ("check", JOB),
            Passage("Fan", "speed"),
            Passage("Not written", most=4),
        ),
        "match": match,
        "metering": of_the_best(
            "metering", Passage("Capillary for", "Is there"), with_capillary=False
        ),
        "charge-curve": of_the_best(
            "charge-curve",
            Passage("What happens", "Cautions"),
            pictures=("seed-store-charge-curve.png",),
        ),
        "room-map": of_the_best(
            "room-map",
            Passage("Frost line", most=5),
            pictures=("seed-store-room-map.png",),
        ),
        "balance": of_the_best(
            "balance",
            Passage("Where the charge", "liquid line"),
            Passage("Where the spread", "Cautions"),
            pictures=("seed-store-state-diagram.png", "seed-store-air-path.png"),
        ),
        "charging": plain(
            (
                *("charge", JOB, LOG, LINES, "--compressor", "drinks cooler"),
                *("--refrigerant", "R-513A", "--capillary", "1.4 on the reel"),
            ),
            Passage("2026-03-14 09:13", "read +settles"),
            Passage("2026-03-14 09:15", "Where it stands"),
        ),
        "trade-units": plain(
            ("balance", TRADE_JOB, "--refrigerant", "R-134a", "--capillary", "reel"),
            Passage("What it settles", "superheat"),
        ),
        **QUOTES,
    }


def main() -> int:
    """Renew the blocks, or check them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare, write no page")
    parser.add_argument("--evidence", action="store_true", help="renew what quotes the evidence")
    parser.add_argument("--only", metavar="NAME", action="append", help="renew this block")
    options = parser.parse_args()
    makers = shows()
    wanted = {found["name"] for page in PAGES for found in BLOCK.finditer(page.read_text("utf-8"))}
    # Commands run for minutes: all of them first, so that a page is read and written at once.
    named = {*(options.only or ()), *(QUOTES if options.evidence else ())}
    chosen = wanted & named if named else wanted
    made = {name: make() for name, make in makers.items() if name in chosen}

    def renewed(found: re.Match[str]) -> str:
        return f"{found[1]}{made[found['name']]}{found[3]}" if found["name"] in made else found[0]

    changed = []
    for page in PAGES:
        before = page.read_text(encoding="utf-8")
        after = BLOCK.sub(renewed, before)
        if after != before:
            changed.append(str(page.relative_to(ROOT)))
            if not options.check:
                page.write_text(after, encoding="utf-8")
    unknown = wanted - set(makers)
    if unknown:
        raise SystemExit(f"nothing is known of {', '.join(sorted(unknown))}")
    verb = "out of date" if options.check else "renewed"
    print(f"{verb}: {', '.join(changed)}" if changed else "nothing changed")
    return 1 if options.check and changed else 0


if __name__ == "__main__":
    raise SystemExit(main())
