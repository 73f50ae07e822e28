"""The page of the commands: the help of every command, as the command prints it.

`tools/build_site.py` puts it into the site.
"""

import click

from sweatline.cli.main import commands

WIDTH = 90

HEAD = """\
# Commands

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
