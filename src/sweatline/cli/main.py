"""The command `sweatline`: its subcommands, and how mistakes end.

Every mistake a person can make ends in one sentence on standard error and an exit code that says
what kind of mistake it was; see :mod:`sweatline.errors`. SWEATLINE_DEBUG=1 shows the traceback.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Final

import click

import sweatline
from sweatline.cli.options import INTERRUPTED, Session
from sweatline.errors import JobError, OutOfRange, SolveError, SweatlineError

OWN_FAULT = 70
READER_GONE = 141
UNREADABLE = 5


# Every command: the module it stands in, and what it answers. A module is imported when its
# command is run, so that a look-up does not wait for what a ranking needs.
_COMMANDS: Final = {
    "page": ("page", "The whole job in a browser, on this machine or a phone."),
    "new": ("new", "Describe a machine: the job file, question by question."),
    "check": ("inspection", "What was read from a job file, and what is assumed."),
    "calibrate": ("calibration", "What readings of the machine as it ran say of the rebuild."),
    "match": ("ranking", "Will these parts work together? All combinations, ranked."),
    "balance": ("machines", "One combination: what it settles at, how sure that is."),
    "metering": ("tubes", "Capillary length for every bore on the shelf."),
    "charge-curve": ("sweeps", "Gauges and thermometers from empty to overfull."),
    "room-map": ("sweeps", "Water, watts and frost over many rooms."),
    "frost": ("frost", "Does the coil freeze up, how soon, and what keeps it open?"),
    "year": ("year", "A year in its room: damp hours, ice, starts, kWh, which control."),
    "worth": ("year", "Is the rebuild worth it, beside a new machine or airing?"),
    "sweep": ("sweep", "Many machines at once: a study of parts, rooms and draws."),
    "charge": ("charging", "While charging: wait, add so much, or stop."),
    "prove": ("prove", "Is it right now? Readings and water against what it should do."),
    "diagnose": ("diagnosis", "What is wrong, by a few readings, and what to measure next."),
    "practice": ("practice", "Charge a simulated machine."),
    "log": ("log", "Keep readings, additions and events of a machine."),
    "sheet": ("sheet", "Paper: the sheet that stays with the machine, a card, a label."),
    "tightness": ("tightness", "Pressure test: is it tight, how long to test, where to look."),
    "evacuation": ("evacuation", "Vacuum: how long, through which hoses, and what a rise means."),
    "hose": ("hose", "What is in the hoses, the machine and the cylinder."),
    "start-gear": ("start_gear", "Will it start, is the motor overloaded: capacitor, relay, cord."),
    "saturation": ("fluids", "Bubble and dew at a pressure or a temperature."),
    "refrigerants": ("fluids", "List them: class, boiling point, oils."),
    "capillary": ("tubes", "Flow of one capillary tube, or its length for a flow."),
    "schema": ("inspection", "JSON schema of an answer or of a job file."),
}


class _Commands(click.Group):
    """The commands in the order in which a person needs them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of a name, imported now."""
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"sweatline.cli.{_COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(module, cmd_name.replace("-", "_"))
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands in the help; none of them is imported for it."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_module, text) in _COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Command that was asked for; kept, so that a mistake is told by its options."""
        name, command, rest = super().resolve_command(ctx, args)
        if isinstance(ctx.obj, Session):
            ctx.obj.command = command
        return name, command, rest


@click.group(
    cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 90}
)
@click.version_option(sweatline.__version__, prog_name="sweatline")
def commands() -> None:
    """Can these refrigeration parts work together, which capillary, how much charge?

    Works from a job file that says what is on the bench. Start with `sweatline check JOB`, then
    `sweatline match JOB`.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code and never lets a traceback out."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal without the letters for ° or µ gets a question mark, not a failure.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    session = Session()
    if arguments is None:
        _spare_the_compiler(sys.argv[1:])
    try:
        done = commands.main(
            args=list(arguments) if arguments is not None else None,
            prog_name="sweatline",
            standalone_mode=False,
            obj=session,
        )
        sys.stdout.flush()
        return done if isinstance(done, int) else 0
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return error.exit_code
    except click.ClickException as error:
        _complain(_asked_wrongly(error))
        return error.exit_code
    except click.Abort:
        _complain("Interrupted.")
        return INTERRUPTED
    except BrokenPipeError:
        return _reader_gone()
    except SystemExit:
        # What the library makes of a reader that went away; nothing else here ends so.
        return _reader_gone()
    except SweatlineError as error:
        if _debugging():
            raise
        _complain(_sentence(error, session))
        return error.exit_code
    except OSError as error:
        if _debugging():
            raise
        _complain(f"{error.filename or 'a file'}: {error.strerror or error}")
        return UNREADABLE
    except Exception as error:
        if _debugging():
            raise
        reason = " ".join(str(error).split())[:200]
        _complain(
            f"sweatline failed through a fault of its own ({type(error).__name__}: {reason}); "
            "run it again with SWEATLINE_DEBUG=1 and report what it prints"
        )
        return OWN_FAULT


# Commands that ask a few kernels a few times: interpreted they are done before a compiler is ready.
_INTERPRETED = ("saturation", "capillary", "tightness", "evacuation", "hose")


def _spare_the_compiler(arguments: Sequence[str]) -> None:
    """Let the kernels run uncompiled in a process that only looks something up."""
    if arguments[:1] and arguments[0] in _INTERPRETED and "numba" not in sys.modules:
        os.environ.setdefault("NUMBA_DISABLE_JIT", "1")


def _reader_gone() -> int:
    """Nothing to tell, and the closing flush must not fail again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return READER_GONE


def _debugging() -> bool:
    return os.environ.get("SWEATLINE_DEBUG", "") not in ("", "0")


def _complain(sentence: str) -> None:
    click.echo(sentence, err=True)


def _asked_wrongly(error: click.ClickException) -> str:
    context = getattr(error, "ctx", None)
    where = context.command_path if context is not None else "sweatline"
    said = " ".join(error.format_message().split()).rstrip(".")
    return f"{where}: {said[:1].lower()}{said[1:]}; see {where} --help"


def _sentence(error: SweatlineError, session: Session) -> str:
    if isinstance(error, OutOfRange):
        from sweatline.report.sentences import outside
        from sweatline.units import SI_SCALE

        return outside(error, session.scale or SI_SCALE)
    if isinstance(error, SolveError):
        return error.condition
    if isinstance(error, JobError) and not error.path and session.command is not None:
        # The rooms below name their own arguments; the person knows the option.
        for param in session.command.params:
            if param.name == error.field and isinstance(param, click.Option):
                error.field = max(param.opts, key=len)
    return str(error)


if __name__ == "__main__":
    sys.exit(main())
