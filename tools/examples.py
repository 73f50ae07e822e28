"""Commands that the documentation shows, run on the example jobs as a person would run them.

README.md keeps the output of one between two marks (`tools/build_readme_example.py`); the pages of
the site include the others, which `tools/build_site.py` runs anew for every build.
"""

import hashlib
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
SHELF = "examples/seed-store.toml"
SHED = "examples/boat-shed.toml"
TIMBER = "examples/timber-store.toml"
STUDY = "examples/studies/shelf-study.toml"
TYPED = "examples/seed-store-charging.txt"
# A log that is begun anew for each example that names it.
LOG = "shelf.log"
# The job that the quick start writes, and the same with a mistake in it.
QUICK_START = ROOT / "docs" / "quick-start.md"
MINE, WRONG = "my-machine.toml", "my-machine-wrong.toml"
ROWS = "rows"
CUT = "[...]"

# The parts that the example's ranking puts first.
FOR = ("--compressor", "drinks cooler", "--refrigerant", "R-513A")
WITH = (*FOR, "--capillary", "1.4 on the reel")
STORE = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")


@dataclass(frozen=True, kw_only=True)
class Example:
    """A command, how many lines of its answer are shown, and what comes before it unseen.

    With `begin` the lines shown begin at the first that starts so, and with `then` some further
    ones at a later line; `pictures` are drawn by the command and kept in docs/pictures.
    """

    command: tuple[str, ...]
    lines: int = 30
    begin: str = ""
    then: tuple[str, int] | None = None
    before: tuple[tuple[str, ...], ...] = ()
    pictures: tuple[str, ...] = ()
    fails: bool = False


def first_job() -> str:
    """The job file of the quick start, as its page prints it."""
    return QUICK_START.read_text(encoding="utf-8").split("```toml\n", 1)[1].split("```", 1)[0]


NEW_LOG = ("log", "new", LOG, "--refrigerant", "R-513A", "--altitude", "640 m")
FED = (NEW_LOG, ("charge", SHELF, LOG, TYPED, *WITH))

EXAMPLES = {
    "quick-mistake": Example(command=("check", WRONG), lines=8, fails=True),
    "quick-check": Example(command=("check", MINE), lines=20),
    "quick-match": Example(command=("match", MINE), lines=8, then=("Ranked", 16)),
    "check": Example(command=("check", SHELF), lines=34),
    "match": Example(command=("match", SHELF, "--top", "2"), lines=7, then=("Ranked", 9)),
    "balance": Example(
        command=("balance", SHED, "--refrigerant", "R-134a", "--capillary", "reel"), lines=26
    ),
    "pictures": Example(
        command=("balance", SHELF, *WITH),
        lines=0,
        pictures=("seed-store-state-diagram.png", "seed-store-air-path.png"),
    ),
    "metering": Example(command=("metering", SHELF, *FOR), lines=30),
    "charge-curve": Example(
        command=("charge-curve", SHELF, *WITH), lines=24, pictures=("seed-store-charge-curve.png",)
    ),
    "room-map": Example(
        command=("room-map", SHELF, *WITH), lines=24, pictures=("seed-store-room-map.png",)
    ),
    "year": Example(
        command=("year", TIMBER, *STORE),
        lines=36,
        pictures=("timber-store-year.png", "timber-store-control.png"),
    ),
    "worth": Example(command=("worth", TIMBER, *STORE), lines=18),
    "sweep": Example(command=("sweep", STUDY, "--into", ROWS, "--top", "4"), lines=14),
    "frost": Example(
        command=("frost", SHELF, *WITH, "--room-temperature", "4 C", "--room-humidity", "80 %RH"),
        lines=20,
    ),
    "capillary": Example(
        command=(
            *("capillary", "--refrigerant", "R-134a", "--bore", "0.042 in", "--length", "60 in"),
            *("--inlet-pressure", "110 psig", "--subcooling", "8 °F"),
            *("--outlet-pressure", "25 psig"),
        ),
        lines=16,
    ),
    "prove": Example(
        command=(
            *("prove", SHELF, *WITH, "--water", "1.1 L in 2 h", "--watts", "284 W"),
            *("--air-in", "15.2 C", "--room-humidity", "74 %RH", "--air-out", "20.5 C"),
            *("--suction-gauge", "2.45 bar(g)", "--head-gauge", "6.6 bar(g)"),
            *("--suction-gas", "9 C", "--liquid-line", "20.5 C", "--stood-still", "30 min"),
        ),
        lines=30,
    ),
    "tightness-plan": Example(
        command=("tightness", SHELF, *FOR, "--pressure", "10 bar(g)", "--see", "5 g/yr"), lines=24
    ),
    "tightness-hold": Example(
        command=(
            *("tightness", SHELF, *FOR),
            *("--reading", "0 h, 10.00 bar(g), 21.0 C", "--reading", "14 h, 9.84 bar(g), 19.0 C"),
            *("--reading", "24 h, 9.96 bar(g), 22.5 C"),
        ),
        lines=24,
    ),
    "evacuation": Example(
        command=(
            *("evacuation", SHELF, *FOR[:2], "--pump", "2 cfm", "--water", "1 g"),
            *("--low-hose", "4.8 mm, 1.5 m", "--high-hose", "4.8 mm, 1.5 m"),
        ),
        lines=24,
    ),
    "evacuation-rise": Example(
        command=(
            *("evacuation", SHELF, *FOR, "--rise", "0 min, 300 micron"),
            *("--rise", "5 min, 640 micron", "--rise", "10 min, 820 micron"),
            *("--rise", "20 min, 1010 micron"),
        ),
        lines=24,
    ),
    "hose-want": Example(
        command=(
            *("hose", SHELF, "--refrigerant", "R-513A", "--want", "242 g"),
            *("--hose", "4.8 mm, 0.9 m, pulled back, 2 bar(g)"),
        ),
        lines=20,
    ),
    "hose-cylinder": Example(
        command=(
            *("hose", "--refrigerant", "R-290", "--cylinder-pressure", "7.6 bar(g)"),
            *("--temperature", "21 C", "--fuel"),
        ),
        lines=24,
    ),
    "start-gear": Example(command=("start-gear", SHELF, *WITH), lines=30),
    "start-gear-fit": Example(
        command=(
            *("start-gear", "--motor-kind", "csir", "--motor", "1/4 hp", "--plate-volts", "115 V"),
            *("--plate-amps", "3.1 A", "--units", "US"),
        ),
        lines=22,
    ),
    "start-gear-capacitor": Example(
        command=(
            *("start-gear", "--capacitor", "15 uF, 370 V", "--reads", "12.1 uF"),
            *("--frequency", "60 Hz", "--cord", "15 m, 14 AWG", "--amps", "6.5 A"),
            *("--volts", "115 V"),
        ),
        lines=24,
    ),
    "charge": Example(
        command=("charge", SHELF, LOG, TYPED, *WITH),
        lines=9,
        begin="2026-03-14 09:15",
        before=(NEW_LOG,),
    ),
    "diagnose": Example(
        command=(
            *("diagnose", SHELF, "examples/seed-store-ill.txt", "--compressor", "1"),
            *("--refrigerant", "R-134a", "--capillary", "1"),
        ),
        lines=44,
    ),
    "log-show": Example(command=("log", "show", LOG), lines=20, before=FED),
    "practice": Example(command=("practice", SHELF, *WITH, "--by", "advice"), lines=40),
    "calibrate": Example(command=("calibrate", TIMBER), lines=34),
}


def _run(command: tuple[str, ...], place: Path, fails: bool = False) -> str:
    """Output of a command at the width of a page, or its sentence when it is to fail."""
    placed = (str(place / a) if a in (LOG, MINE, WRONG, ROWS) else a for a in command)
    done = subprocess.run(
        [sys.executable, "-m", "sweatline", *placed],
        cwd=ROOT,
        env=os.environ | {"COLUMNS": "80"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if (done.returncode != 0) != fails:
        raise SystemExit(f"sweatline {shlex.join(command)}: {done.stderr.strip()}")
    return (done.stderr if fails else done.stdout).replace(f"{place}/", "")


def shown(example: Example, *, draw: bool = False) -> str:
    """A command with the lines of its answer that are shown, as a block of code.

    With `draw` its pictures in docs/pictures are made anew.
    """
    print(f"sweatline {shlex.join(example.command)}", file=sys.stderr, flush=True)
    drawing = ("--figures", "pictures") if example.pictures else ()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        job = first_job()
        (place / MINE).write_text(job, encoding="utf-8")
        (place / WRONG).write_text(job.replace('"62 °F"', '"62"'), encoding="utf-8")
        for command in example.before:
            _run(command, place)
        asked = ("--figures", str(place)) if draw and example.pictures else ()
        lines = _run((*example.command, *asked), place, example.fails).strip("\n").split("\n")
        for name in example.pictures if draw else ():
            PICTURES.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(place / name, PICTURES / name)
    kept = []
    after = 0
    for begin, count in (
        (example.begin, example.lines),
        *((example.then,) if example.then else ()),
    ):
        first = next(
            (i for i in range(after, len(lines)) if lines[i].startswith(begin)),
            after,
        )
        kept += [CUT] * (first > after) + lines[first : first + count]
        after = first + count
        while kept and not kept[-1].strip():
            kept.pop()
    kept += [CUT] * (after < len(lines))
    text = "\n".join([f"$ {shlex.join(['sweatline', *example.command, *drawing])}", *kept])
    return f"```text\n{text}\n```\n"


def fingerprint() -> str:
    """What the answers depend on: the sources, the example jobs, and this file."""
    digest = hashlib.sha256(Path(__file__).read_bytes() + first_job().encode())
    for folder in ("src", "examples"):
        for path in sorted((ROOT / folder).rglob("*.*")):
            if path.is_file() and "__pycache__" not in path.parts:
                digest.update(path.read_bytes())
    return digest.hexdigest()


def snippets(folder: Path) -> None:
    """Every example as a file of its own, made anew only when something changed."""
    asked = {name: e for name, e in EXAMPLES.items() if not e.pictures or e.lines}
    mark = folder / "fingerprint"
    wanted = fingerprint()
    done = {path.stem for path in folder.glob("*.md")}
    if mark.exists() and mark.read_text() == wanted and done == asked.keys():
        return
    folder.mkdir(parents=True, exist_ok=True)
    with ThreadPoolExecutor(os.cpu_count()) as threads:  # each waits for a process of its own
        for name, text in zip(asked, threads.map(shown, asked.values()), strict=True):
            (folder / f"{name}.md").write_text(text, encoding="utf-8")
    for name in done - asked.keys():
        (folder / f"{name}.md").unlink()
    mark.write_text(wanted)
