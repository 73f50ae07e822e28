"""Build docs/commands.md: the help of every command, as the command prints it.

``--check`` compares with the page that is there instead of writing it.
"""

import argparse
import sys
from pathlib import Path

import click

from sweatline.cli.main import commands

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "commands.md"
WIDTH = 90

HEAD = """\
# Commands

Made by `tools/build_command_page.py` from the commands' own help; do not edit.

Answers go to standard output, everything else to standard error. `--json` gives the same answer as
a record in SI units for other programs; `sweatline schema` prints what such a record holds.
`--figures FOLDER` draws the answer as SVG and PNG. Parts are chosen by name, by the beginning of a
name, or by number in the order of the job file. Quantities behind an option carry their unit, as in
the job file: `--charge "8 1/2 oz"`, `--room-temperature "12 C"`.
"""

TAIL = """\
## Exit codes

| code | meaning |
|---|---|
| 0 | answered |
| 2 | the command was asked wrongly, or the job file holds a mistake |
| 3 | the physics has no such state, or a value lies outside a table |
| 4 | no steady balance was found; the sentence says which condition cannot be met |
| 5 | a file or folder cannot be read or written |
| 6 | an optional package is missing |
| 70 | a fault of sweatline's own |
| 130 | interrupted |
| 141 | the program reading the output went away |

## Environment

| variable | meaning |
|---|---|
| `SWEATLINE_CACHE` | folder for compiled kernels and kept foreknowledge; else the user's own |
| `SWEATLINE_DEBUG` | 1 shows the traceback behind a sentence |
| `COLUMNS` | width of the output when it does not go to a terminal, 72 to 100 |
"""


def help_of(command: click.Command, name: str, parent: click.Context | None = None) -> str:
    """Help of a command at a fixed width."""
    context = click.Context(
        command,
        info_name=name,
        parent=parent,
        terminal_width=WIDTH,
        max_content_width=WIDTH,
        help_option_names=["-h", "--help"],
    )
    return command.get_help(context).rstrip()


def page() -> str:
    """The whole page."""
    top = click.Context(commands, info_name="sweatline", help_option_names=["-h", "--help"])
    parts = [HEAD, f"```text\n{help_of(commands, 'sweatline')}\n```\n"]
    for name in commands.list_commands(top):
        command = commands.get_command(top, name)
        assert command is not None
        parts.append(f"## sweatline {name}\n\n```text\n{help_of(command, name, top)}\n```\n")
    parts.append(TAIL)
    return "\n".join(parts)


def main() -> int:
    """Build the page, or check it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the page, write nothing")
    options = parser.parse_args()
    text = page()
    if options.check:
        current = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
        if current != text:
            print(
                "docs/commands.md is out of date: run tools/build_command_page.py", file=sys.stderr
            )
            return 1
        return 0
    PAGE.write_text(text, encoding="utf-8")
    print(f"docs/commands.md: {len(commands.commands)} commands")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
