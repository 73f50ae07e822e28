"""The command `log`: readings, additions and events of one machine, kept in a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, Literal

import click

from sweatline.cli.options import ALTITUDE, Session, json_option, site_atmosphere
from sweatline.cli.quantity import Written
from sweatline.cli.terminal import aside, heading, listing, paragraph, print_json
from sweatline.errors import StoreError
from sweatline.log.entries import Instrument, Phase, described
from sweatline.log.extract import read_book
from sweatline.log.lines import moment
from sweatline.log.logbook import Kept, LogContents, contents_of, keep, open_log, read_in, swap
from sweatline.log.logbook import confirm as confirm_entry
from sweatline.log.plausibility import Mending
from sweatline.log.ran_well import ran_well_table
from sweatline.log.store import Log, to_csv, to_json
from sweatline.refrigerant.refrigerant import find
from sweatline.report.sentences import entry_in_words


class Moment(click.ParamType):  # type: ignore[type-arg]
    """Parameter type: a time as people write it, in seconds since 1970 (UTC)."""

    name = "time"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Seconds; "14:05" is of today."""

        return value if isinstance(value, float) else moment(str(value))


_file: Final = click.argument("file", metavar="FILE")
_at: Final = click.option(
    "--at", type=Moment(), metavar="TIME",
    help='When it was, as "14:05" or "2026-03-14 14:05"; else now.',
)  # fmt: skip


@click.group()
def log() -> None:
    """Keep what was read and done at a machine, in a file in which nothing is ever changed.

    A correction is a new entry; what it corrects stays. Start with `sweatline log new FILE`.
    """


def _answer(found: LogContents, as_json: bool, mending: Mending | None = None) -> None:

    if as_json:
        print_json(found, "log")
    else:
        for entry in found.entries:
            click.echo(f"{entry.id}: {entry_in_words(entry)}")
    for question in found.questions:
        aside(f"? {question}")
    if found.questions:
        number = found.entries[-1].id
        mended = f"sweatline log correct {found.path} {number} ..."
        if mending is not None:
            mended = mending_command(mending, found.path)
        aside(
            f"Entry {number} is kept as typed. To put it right: `{mended}`. If it is right: "
            f"`sweatline log confirm {found.path} {number}`. Until then no advice uses it."
        )


def mending_command(mending: Mending, path: str) -> str:
    """What to type at the prompt to put an entry right."""
    if mending.swapped_with is not None:
        return f"sweatline log swap {path} {mending.number} {mending.swapped_with}"
    moved = f' --at "{mending.at}"' if mending.at else ""
    return f'sweatline log correct {path} {mending.number} "{mending.value}"{moved}'


def _keep(file: str, as_json: bool, write: Callable[[Log], Kept]) -> None:
    """Write one entry, and tell it with what is asked about it."""
    with open_log(file) as book:
        kept = write(book)
        found = contents_of(book, only=[kept.entry], questions=kept.questions)
        _answer(found, as_json, kept.mending)


@log.command(short_help="Begin the log of a machine.")
@_file
@click.option("--machine", metavar="NAME", default="", help="What it is about, in your words.")
@click.option("--refrigerant", metavar="NAME", default="", help="In the circuit, or to come.")
@click.option("--altitude", type=ALTITUDE, metavar="H", help='Sets the zero of gauges, as "640 m".')
@click.option("--units", type=click.Choice(["US", "SI"], case_sensitive=False), metavar="US|SI")
@json_option
def new(
    file: str,
    machine: str,
    refrigerant: str,
    altitude: Written | None,
    units: str | None,
    as_json: bool,
) -> None:
    """Begin the log of a machine."""

    atmosphere = site_atmosphere(altitude)
    with open_log(
        file,
        new=True,
        machine=machine,
        refrigerant=refrigerant,
        atmosphere=atmosphere,
        system=(units or "").upper(),
    ) as book:
        found = contents_of(book)
    if as_json:
        _answer(found, True)
    else:
        click.echo(f'{file} begun; `sweatline log read {file} suction-gauge "27 psig"` adds to it.')


# A value may begin with a minus and is no option then.
_BELOW_ZERO: Final = {"ignore_unknown_options": True}


@log.command(short_help="A reading, with its unit.", context_settings=_BELOW_ZERO)
@_file
@click.argument("what", metavar="WHAT")
@click.argument("value", metavar="VALUE")
@_at
@click.option("--by", metavar="NAME", default="", help="Instrument that read it.")
@json_option
def read(file: str, what: str, value: str, at: float | None, by: str, as_json: bool) -> None:
    """A reading: WHAT, as suction-gauge, suction-gas, liquid-line, watts, and its VALUE with unit.

    In a pressure hold circuit is its temperature; cylinder-gauge and cylinder are of the cylinder;
    suction-gas is the tube at the evaporator's outlet, return-gas the tube at the compressor.

    The beginning of a name is enough where it is plain. A value that looks like a slip is kept and
    asked about.
    """

    def write(book: Log) -> Kept:
        if by:
            book.add_instrument(Instrument(name=by))
        return keep(book, kind="reading", text=value, channel=what, at=at, instrument=by)

    _keep(file, as_json, write)


@log.command(short_help="Refrigerant let in, by weight.", context_settings=_BELOW_ZERO)
@_file
@click.argument("mass", metavar="MASS")
@click.option("--as", "phase", type=click.Choice(["liquid", "vapour"]), default=None)
@click.option("--refrigerant", metavar="NAME", default="", help="If not that of the log.")
@_at
@json_option
def added(
    file: str, mass: str, phase: Phase | None, refrigerant: str, at: float | None, as_json: bool
) -> None:
    """Refrigerant let in, as "15 g" or "1/2 oz"."""
    if refrigerant:
        refrigerant = find(refrigerant)
    _keep(
        file,
        as_json,
        lambda book: keep(
            book, kind="addition", text=mass, at=at, phase=phase or "", refrigerant=refrigerant
        ),
    )


@log.command(short_help="Something that happened: started, stopped, opened, ...")
@_file
@click.argument("what", metavar="WHAT")
@click.argument("words", metavar="[WORDS]", default="")
@_at
@json_option
def event(file: str, what: str, words: str, at: float | None, as_json: bool) -> None:
    """Something that happened.

    WHAT is started, stopped, opened, pressurised (WORDS: the gas), evacuating, isolated (from the
    pump), vacuum-broken, cylinder-changed, hose-left (WORDS: bore, length, state, pressure),
    can-emptied (WORDS: label, volume, pressure), vented (WORDS: the mass), instrument-changed
    (WORDS: the reading and the new instrument's name, as "suction-gauge by red dial") or ruled-out
    (WORDS: leak, "blocked tube", air, or a reading whose instrument was compared: looked at and in
    order). A start is refused while the circuit stands under vacuum.
    """
    _keep(file, as_json, lambda book: keep(book, kind="event", text=words, channel=what, at=at))


@log.command(short_help="Anything in words.")
@_file
@click.argument("words", metavar="WORDS")
@_at
@json_option
def note(file: str, words: str, at: float | None, as_json: bool) -> None:
    """Anything in words."""
    _keep(file, as_json, lambda book: keep(book, kind="note", text=words, at=at))


@log.command(short_help="Put another value in the place of an entry.", context_settings=_BELOW_ZERO)
@_file
@click.argument("number", type=int, metavar="NUMBER")
@click.argument("value", metavar="VALUE")
@_at
@json_option
def correct(file: str, number: int, value: str, at: float | None, as_json: bool) -> None:
    """Put another value, or other words, in the place of an entry, which stays in the file."""
    _keep(
        file, as_json, lambda book: keep(book, kind="reading", text=value, at=at, corrects=number)
    )


@log.command("swap", short_help="Exchange what two readings of one kind say.")
@_file
@click.argument("number", type=int, metavar="NUMBER")
@click.argument("other", type=int, metavar="OTHER")
@json_option
def exchange(file: str, number: int, other: int, as_json: bool) -> None:
    """Put two readings in each other's place, where hoses or thermometers were swapped."""
    _keep(file, as_json, lambda book: swap(book, number, other))


@log.command(short_help="Say that a reading in doubt is right as typed.")
@_file
@click.argument("number", type=int, metavar="NUMBER")
@json_option
def confirm(file: str, number: int, as_json: bool) -> None:
    """Say that an entry that was asked about is right as it was typed."""
    _keep(file, as_json, lambda book: confirm_entry(book, number))


@log.command(short_help="How well an instrument reads.")
@_file
@click.argument("name", metavar="NAME")
@click.option("--class", "accuracy", metavar="CLASS", help='Of a gauge, as "1.6"; with --range.')
@click.option("--range", "span", metavar="RANGE", help='Of a gauge, as "-1 to 10 bar".')
@click.option("--error", metavar="ERROR", help='Standard deviation, as "0.5 K", "2 g" or "1 %".')
@click.option("--step", metavar="STEP", help='Smallest step of the display, as "1 g" or "0.1 K".')
@click.option(
    "--repeats",
    metavar="ERROR",
    help="Standard deviation from one reading to the next, where what is wrong alike in all of "
    'them cancels, as in a pressure hold: "1 kPa".',
)
@json_option
def instrument(
    file: str,
    name: str,
    accuracy: str | None,
    span: str | None,
    error: str | None,
    step: str | None,
    repeats: str | None,
    as_json: bool,
) -> None:
    """How well an instrument reads, said once.

    NAME is that of --by, or the name of a reading (as suction-gauge), then it holds for all of
    these. Class and range are those printed on a dial: at most so many per cent of the range.
    """

    with open_log(file) as book:
        made = described(
            name, accuracy=accuracy, span=span, error=error, step=step, repeats=repeats
        )
        book.add_instrument(made)
        if as_json:
            print_json(contents_of(book, only=[]), "log")
        else:
            click.echo(f"{made.name}: {made.note}")


@log.command(short_help="Take an entry away; it stays in the file.")
@_file
@click.argument("number", type=int, metavar="NUMBER")
@click.argument("why", metavar="WHY")
@json_option
def withdraw(file: str, number: int, why: str, as_json: bool) -> None:
    """Take an entry away, and say why. It stays in the file and no longer counts."""
    _keep(file, as_json, lambda book: keep(book, kind="withdrawal", text=why, corrects=number))


@log.command(short_help="What holds, in the order it happened.")
@_file
@click.option("--all", "everything", is_flag=True, help="Corrected and withdrawn entries too.")
@json_option
@click.pass_obj
def show(session: Session, file: str, everything: bool, as_json: bool) -> None:
    """What stands in a log."""

    with open_log(file) as book:
        found = contents_of(book)
    if as_json:
        _answer(found, True)
        return
    heading(found.about.get("machine", found.path))
    facts = [f"{k} {v}" for k, v in found.about.items() if k in ("refrigerant", "units")]
    if facts:
        paragraph(", ".join(facts))
    rows = [e for e in found.entries if e.holds or everything]
    order = rows if everything else sorted(rows, key=lambda e: (e.happened_at, e.id))
    day = ""
    for e in order:
        if e.happened[:10] != day:
            day = e.happened[:10]
            paragraph(day)
        mark = "" if e.holds else "  (no longer holds)"
        if e.in_doubt:
            mark = "  (in doubt)"
        listing([(f"{e.id:4d}", entry_in_words(e) + mark)])
    if not rows:
        paragraph("Nothing has been written yet.")


@log.command("ran-well", short_help="Readings of a machine known good, for a job file.")
@_file
@click.option("--name", metavar="NAME", default="", help="What results call them; else the date.")
@click.option(
    "--from",
    "begin",
    type=Moment(),
    metavar="TIME",
    help="First reading that counts; else half an hour after the last start or change.",
)
@click.option("--to", "end", type=Moment(), metavar="TIME", help="Last one; else the stop.")
def ran_well(file: str, name: str, begin: float | None, end: float | None) -> None:
    """Print a [[ran_well]] table to paste into a job file, which teaches `calibrate`.

    Of the machine as it ran settled: the mean of suction-gauge, head-gauge, return-gas (the tube at
    the compressor), discharge-gas, liquid-line, air-out, watts and amps, the room (air-in and
    room-humidity), the water between two looks at the bucket, and the charge that was weighed in.
    No file is changed.
    """

    with open_log(file) as book:
        held = read_book(book)
    table = ran_well_table(held, name=name, begin=begin, end=end)
    click.echo(table.text, nl=False)
    for note in table.notes:
        aside(f"Note: {note}.")


_FORMAT: Final = click.option(
    "--as",
    "form",
    type=click.Choice(["json", "csv"]),
    default=None,
    help="By the file's ending if not given; JSON holds everything, CSV the entries.",
)


def _form(path: str, form: str | None) -> Literal["json", "csv"]:
    ending = (form or path.rpartition(".")[2]).casefold()
    if ending not in ("json", "csv"):
        raise click.UsageError("say --as json or --as csv, or let the file's name end so")
    return "json" if ending == "json" else "csv"


@log.command("export", short_help="All of it as JSON or CSV.")
@_file
@click.argument("to", metavar="TO")
@_FORMAT
def export_(file: str, to: str, form: str | None) -> None:
    """Write all of a log to the file TO, corrections included; `-` is standard output."""

    way = _form(to, form)
    with open_log(file) as book:
        text = to_json(book) if way == "json" else to_csv(book)
    if to == "-":
        click.echo(text, nl=False)
    else:
        Path(to).write_text(text, encoding="utf-8", newline="")


@log.command("import", short_help="Add what another log holds.")
@_file
@click.argument("source", metavar="FROM")
@_FORMAT
def import_(file: str, source: str, form: str | None) -> None:
    """Add to a log what the file FROM holds and it does not; nothing is written twice."""

    way = _form(source, form)
    try:
        text = Path(source).read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise StoreError(what="not a text file", path=source) from error
    with open_log(file, new=not Path(file).exists()) as book:
        click.echo(f"{read_in(book, text, way, name=source)} entries added to {file}")
