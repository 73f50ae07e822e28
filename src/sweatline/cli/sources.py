"""What the bench commands share: an option beats the log, and where each number came from."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, Generic, Literal, TypeVar

import click

from sweatline.answers import Question, questions_of, request_of
from sweatline.bench.answer import BenchAnswer
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.options import (
    Session,
    details_option,
    json_option,
    read_bench,
    site_atmosphere,
    unit_options,
)
from sweatline.cli.quantity import Written
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import PROPERTY_KERNEL, waiting
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError
from sweatline.log.extract import Book, Found, Logged, Taken, read_book
from sweatline.log.logbook import open_log
from sweatline.units import Scale, written_system

if TYPE_CHECKING:
    from sweatline.job.model import Job

F = TypeVar("F", bound=Callable[..., object])
R = TypeVar("R")
A = TypeVar("A", bound=BenchAnswer)

NOTHING: Final = Logged()
_ZEROS_APART: Final = 1e3  # Pa between the zero of a log and the atmosphere of a job
_CAME: Final = {"option": "typed", "log": "log", "assumed": "assumed"}


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What a command of the bench is asked with: the answers to its request's questions by their
    names, as far as they were typed, and what every command of the bench takes."""

    session: Session
    typed: Mapping[str, Any]
    job: str | None
    log_file: str | None
    altitude: Written | None
    units: str | None
    details: bool
    as_json: bool


def bench_options(
    request: type, *, running: bool = False
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Argument and options of a command of the bench, handed on as one :class:`Shelf`.

    Parameters
    ----------
    running : bool
        The command is about a machine that runs: a job is needed, and a log stands behind it.
    """
    names = {q.name for q in questions_of(request)}
    shared = {field.name for field in dataclasses.fields(Shelf)}

    def around(command: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(command)
        def asked_with(**given: Any) -> None:
            context = click.get_current_context()
            typed = {
                name: given[name]
                for name in names
                if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE
            }
            common: dict[str, Any] = {"altitude": None, "units": None}
            common |= {name: given[name] for name in shared if name in given}
            own = {n: value for n, value in given.items() if n not in names | shared}
            command(Shelf(session=context.obj, typed=typed, **common), **own)

        after = details_option(json_option(asked_with))
        if running:
            log = click.argument("log_file", metavar="[LOG]", required=False)
            return click.argument("job", metavar="JOB")(log(request_options(request)(after)))
        log = click.option(
            "--log",
            "log_file",
            metavar="LOG",
            help="Log of this machine: what is not given as an option is taken from it.",
        )
        return click.argument("job", metavar="[JOB]", required=False)(
            log(request_options(request)(unit_options(after)))
        )

    return around


def request_options(request: type) -> Callable[[F], F]:
    """Options of a command, one for each question of a request."""
    return lambda command: functools.reduce(
        lambda f, q: _option(q)(f), reversed(questions_of(request)), command
    )


def _option(q: Question) -> Callable[[F], F]:
    kind: click.ParamType[Any] | None = None
    if q.form == "choice":
        kind = click.Choice(q.choices, case_sensitive=False)
    elif q.form == "count":
        kind = click.IntRange(int(q.low or 0), int(q.high or 0))
    return click.option(
        f"--{q.option}",
        q.name,
        type=kind,
        is_flag=q.form == "flag",
        multiple=q.repeated,
        metavar=q.metavar or None,
        default=q.usual if q.usual and q.form in ("quantity", "count") else None,
        show_default=bool(q.usual) and q.form in ("quantity", "count"),
        help=q.help,
    )


@contextmanager
def naming_options(request: type, logged: Collection[str] = ()) -> Iterator[None]:
    """Mistakes about fields of a request name the options behind which they were typed.

    Parameters
    ----------
    logged : collection of str
        Fields that came from a log: they are called by their label.
    """
    known = {q.name: q for q in questions_of(request)}
    try:
        yield
    except JobError as error:
        told = []
        for field in error.field.split(", "):
            name, _, number = field.partition(" ")
            q = known.get(name)
            if q is not None and name in logged:
                field = f"{q.label}, number {number}" if number else q.label
            elif q is not None:
                field = f"--{q.option} {number}".strip()
            told.append(field)
        error.field = ", ".join(told)
        raise


class Sources(Generic[R]):
    """Chooses between an option, a log and a default, and keeps the account.

    Parameters
    ----------
    shelf : Shelf
        What the command is asked with.
    request : type
        Class of the request.
    read : callable
        Reads the job; what stands in it wins over the zero and the unit system of a log.
    """

    def __init__(
        self, shelf: Shelf, request: type[R], read: Callable[[Session, str], Job] = read_bench
    ) -> None:
        self.shelf = shelf
        self.cls = request
        self.job = read(shelf.session, shelf.job) if shelf.job is not None else None
        if self.job is not None and shelf.altitude is not None:
            raise click.UsageError("--altitude stands in the job file already")
        self.book: Book | None = None
        self.taken: list[Taken] = []
        self.notes: list[str] = []
        self._logged: tuple[str, ...] = ()
        if shelf.log_file is not None:
            self._open(shelf.log_file)
        self.atmosphere = self._atmosphere(shelf.altitude)
        if self.job is None or shelf.units is not None:
            shelf.session.scale = Scale(self._system(shelf.units), self.atmosphere)
        self.scale = shelf.session.shown

    def _open(self, path: str) -> None:
        with open_log(path) as log:
            self.book = read_book(log)
        doubted = self.book.doubted
        if doubted:
            one = len(doubted) == 1
            self.notes.append(
                f"{_entries([e.id for e in doubted]).removeprefix(', ')} of the log "
                f"{'looks like a slip and is' if one else 'look like slips and are'} left out "
                "until confirmed or corrected (`sweatline log confirm`, `correct`)"
            )

    def _atmosphere(self, altitude: Written | None) -> float:
        """Zero of the gauges: of the job, as typed, of the log, or at sea level. [Pa]"""
        zero = self.book.atmosphere if self.book is not None else None
        if self.job is not None:
            place = self.job.place.atmospheric_pressure
            if zero is not None and abs(zero - place) > _ZEROS_APART:
                shown = Scale(self.job.unit_system)
                there, here = (shown.show(p, "absolute pressure") for p in (zero, place))
                self.notes.append(
                    f"the gauges of the log have their zero at {there}, and the job stands at "
                    f"{here}: one of the two altitudes is wrong"
                )
            return place
        if altitude is not None:
            return site_atmosphere(altitude)
        return STANDARD_ATMOSPHERE if zero is None else zero

    def _system(self, wanted: str | None) -> Literal["US", "SI"]:
        """Unit system of the answer: as wanted, else of the log, else of what was typed."""
        told = ""
        if self.book is not None:
            # A vacuum is read in micron everywhere.
            texts = [e.text for e in self.book.held if e.unit and e.channel != "vacuum gauge"]
            american = sum(written_system(text) == "US" for text in texts)
            told = ("US" if 2 * american > len(texts) else "SI") if texts else ""
            told = self.book.system or told
        written: list[str] = []
        for q in questions_of(self.cls):
            if q.name in self.shelf.typed and q.form in ("quantity", "record"):
                value = self.shelf.typed[q.name]
                written += value if q.repeated else [value]
        return written_system(*written, wanted=wanted or told or None)

    def logged(self, read: Callable[[Book], Logged], *, alone: bool, without: str = "") -> Logged:
        """What the log says of a piece of work; nothing where it has none, and some was typed.

        Parameters
        ----------
        read : callable
            Takes it out of the log, or raises JobError.
        alone : bool
            Whether nothing was typed that the answer could be about.
        without : str
            Begins the note that says why only what was typed counts.
        """
        if self.book is None:
            return NOTHING
        try:
            found = read(self.book)
        except JobError as error:
            if alone or not without:
                raise
            self.notes.append(f"{without}: {error.what}")
            return NOTHING
        self.notes.extend(found.notes)
        return found

    def request(self, logged: Logged = NOTHING, **given: Any) -> R:
        """The request: each field as typed, else from the log, else as usual; with the account.

        Parameters
        ----------
        given
            Fields that nobody is asked for.
        """
        typed = self.shelf.typed
        found = {name: one for name, one in logged.found.items() if one is not None}
        if self.book is not None and self.book.refrigerant and "refrigerant" not in found:
            name = self.book.refrigerant
            found["refrigerant"] = Found(value=name, text=name, entries=())
        self._about_another(found.get("refrigerant"))
        found = {n: f for n, f in found.items() if n.removesuffix("_sd") not in typed}
        for q in questions_of(self.cls):
            if self.book is None or not q.taken:
                continue
            if q.name in typed:
                value = typed[q.name]
                text = "; ".join(value) if q.repeated else str(value)
                self.taken.append(Taken(what=q.taken, source="option", text=text, entries=()))
            elif q.name in found:
                one = found[q.name]
                self.taken.append(
                    Taken(what=q.taken, source="log", text=one.text, entries=one.entries)
                )
            elif q.usual:
                self.taken.append(Taken(what=q.taken, source="assumed", text=q.usual, entries=()))
        asked = {q.name for q in questions_of(self.cls)}
        for name, one in found.items():
            if name not in asked and one.text:
                what = name.replace("_", " ")
                self.taken.append(
                    Taken(what=what, source="log", text=one.text, entries=one.entries)
                )
        self._logged = tuple(found)
        with naming_options(self.cls):
            return request_of(
                self.cls,
                typed,
                zero=self.atmosphere,
                atmosphere=self.atmosphere,
                job=self.job,
                **{name: one.value for name, one in found.items()},
                **given,
            )

    def _about_another(self, found: Found[str] | None) -> None:
        """A note where the log is about a refrigerant that the job does not list."""
        listed = self.job.refrigerants if self.job is not None else ()
        if found is None or not listed or found.value in listed:
            return
        if "refrigerant" not in self.shelf.typed:
            self.notes.append(
                f"the log is about {found.value}, which the job does not list: the log is believed"
            )

    def tell(
        self,
        answer: Callable[[R], A],
        request: R,
        body: Callable[[A, Scale, bool], None],
        doing: str,
        kernel: str | None = PROPERTY_KERNEL,
    ) -> None:
        """Answer and print: as JSON, or its lines with notes and cautions behind them."""
        with waiting(doing, kernel=kernel), naming_options(self.cls, self._logged):
            found = answer(request)
        told = dataclasses.replace(
            found,
            log_path=self.book.path if self.book is not None else None,
            taken=tuple(self.taken),
            notes=(*self.notes, *found.notes),
        )
        if self.shelf.as_json:
            print_json(told, click.get_current_context().command.name or "")
            return
        body(told, self.scale, self.shelf.details)
        if self.shelf.details and told.taken:
            heading(f"Taken from {told.log_path}, or typed")
            listing(
                (one.what, f"{one.text} ({_CAME[one.source]}{_entries(one.entries)})")
                for one in told.taken
            )
        elif told.taken:
            read = [one.what for one in told.taken if one.source == "log"]
            paragraph(f"From the log: {', '.join(read) or 'nothing'}.", indent=2)
        print_notes(told.notes, self.scale)
        print_cautions(told.cautions)


def _entries(numbers: Sequence[int]) -> str:
    """Numbers of entries, runs of them as from and to."""
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    if not runs:
        return ""
    told = [f"{a}" if a == b else f"{a} to {b}" for a, b in runs]
    return f", {'entry' if len(set(numbers)) == 1 else 'entries'} {', '.join(told)}"
