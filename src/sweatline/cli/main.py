"""The command `sweatline`: its subcommands, and how mistakes end.

Every mistake a person can make ends in one sentence on standard error and an exit code that says
what kind of mistake it was; see :mod:`sweatline.errors`. SWEATLINE_DEBUG=1 shows the traceback.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import click

import sweatline
from sweatline.cli.calibration import calibrate
from sweatline.cli.charging import charge
from sweatline.cli.evacuation import evacuation
from sweatline.cli.fluids import refrigerants, saturation
from sweatline.cli.frost import frost
from sweatline.cli.hose import hose
from sweatline.cli.inspection import check, schema
from sweatline.cli.log import log
from sweatline.cli.machines import balance
from sweatline.cli.options import INTERRUPTED, Session
from sweatline.cli.practice import practice
from sweatline.cli.ranking import match
from sweatline.cli.start_gear import start_gear
from sweatline.cli.sweeps import charge_curve, room_map
from sweatline.cli.tightness import tightness
from sweatline.cli.tubes import capillary, metering
from sweatline.errors import JobError, OutOfRange, SolveError, SweatlineError

OWN_FAULT = 70
READER_GONE = 141
UNREADABLE = 5


class _InOrder(click.Group):
    """Lists its commands in the order in which a person needs them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Command that was asked for; kept, so that a mistake is told by its options."""
        name, command, rest = super().resolve_command(ctx, args)
        if isinstance(ctx.obj, Session):
            ctx.obj.command = command
        return name, command, rest


@click.group(
    cls=_InOrder, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 90}
)
@click.version_option(sweatline.__version__, prog_name="sweatline")
def commands() -> None:
    """Can these refrigeration parts work together, which capillary, how much charge?

    Works from a job file that says what is on the bench. Start with `sweatline check JOB`, then
    `sweatline match JOB`.
    """


for _command in (
    check,
    calibrate,
    match,
    balance,
    metering,
    charge_curve,
    room_map,
    frost,
    charge,
    practice,
    log,
    tightness,
    evacuation,
    hose,
    start_gear,
    saturation,
    refrigerants,
    capillary,
    schema,
):
    commands.add_command(_command)


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


# Commands that ask a few kernels once: interpreted they are done before a compiler is ready.
_INTERPRETED = ("saturation",)


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
        from sweatline.cli.speech import outside
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
