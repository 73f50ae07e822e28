"""What the bench commands share: an option beats the log, and where each number came from."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal, TypeVar

import click

from sweatline.cli.options import (
    Session,
    details_option,
    json_option,
    site_atmosphere,
    unit_options,
)
from sweatline.cli.quantity import Quantity, Written
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.units import Scale, parse, split_fields, written_system

if TYPE_CHECKING:
    from sweatline.bench.answer import BenchAnswer
    from sweatline.job.model import Job
    from sweatline.log.extract import Book, Found, Taken
    from sweatline.units import Kind

F = TypeVar("F", bound=Callable[..., object])
T = TypeVar("T")
A = TypeVar("A", bound="BenchAnswer")

LIKELY: Final = "likely range, 9 in 10"
_ZEROS_APART: Final = 1e3  # Pa between the zero of a log and the atmosphere of a job
_CAME: Final = {"option": "typed", "log": "log", "assumed": "assumed"}


def job_from_shelf(command: F) -> F:
    """Argument and option that say where numbers come from besides options."""
    log = click.option(
        "--log",
        "log_file",
        metavar="LOG",
        help="Log of this machine: what is not given as an option is taken from it.",
    )
    return click.argument("job", metavar="[JOB]", required=False)(log(command))


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What every command of the bench is asked with, besides its own options."""

    session: Session
    job: str | None
    log_file: str | None
    altitude: Written | None
    units: str | None
    details: bool
    as_json: bool


def bench_options(command: Callable[..., None]) -> Callable[..., None]:
    """Options that end every command of the bench; with job and log handed on as one `Shelf`."""

    @functools.wraps(command)
    def asked_with(
        *,
        job: str | None,
        log_file: str | None,
        altitude: Written | None,
        units: str | None,
        details: bool,
        as_json: bool,
        **own: object,
    ) -> None:
        shelf = Shelf(
            session=click.get_current_context().obj, job=job, log_file=log_file,
            altitude=altitude, units=units, details=details, as_json=as_json,
        )  # fmt: skip
        command(shelf, **own)

    return unit_options(details_option(json_option(asked_with)))


def measure(
    flag: str,
    kind: Kind | Quantity,
    metavar: str,
    help: str,  # noqa: A002 - as click calls it
    *,
    low: float | None = None,
    high: float | None = None,
    default: str | None = None,
) -> Callable[[F], F]:
    """Option that holds one quantity, shown with its default."""
    return click.option(
        flag,
        type=kind if isinstance(kind, Quantity) else Quantity(kind, low=low, high=high),
        metavar=metavar,
        default=default,
        show_default=default is not None,
        help=help,
    )


def si(written: Written | None, atmosphere: float = STANDARD_ATMOSPHERE) -> float | None:
    """Value of a quantity that may not have been written; pressures absolute. [SI]"""
    return None if written is None else written.si(atmosphere)


def fields(
    text: str,
    where: str,
    needed: Mapping[str, Quantity],
    optional: Mapping[str, Quantity] | None = None,
) -> dict[str, Written]:
    """Quantities of an option that holds several, as "4.8 mm, 1.5 m".

    Raises
    ------
    JobError
        Too few or too many of them; `where` names the option.
    """
    kinds = {**needed, **(optional or {})}
    told = split_fields(text, where, tuple(needed), tuple(optional or ()))
    return {
        name: Written(
            text=value, kind=kinds[name].kind, option=where, low=kinds[name].low,
            high=kinds[name].high,
        )
        for name, value in told.items()
    }  # fmt: skip


def in_order(times: Sequence[float], texts: Sequence[str], option: str) -> None:
    """Refuse looks at a gauge that were not typed in the order of time.

    Raises
    ------
    JobError
        One is not later than the one before it.
    """
    from sweatline.errors import JobError

    for i, (before, later) in enumerate(pairwise(times), 2):
        if later <= before:
            raise JobError(
                what="not later than the reading before it", read=texts[i - 1],
                allowed="give readings in the order of time", field=f"{option} {i}",
            )  # fmt: skip


def with_error(written: Written, *, share: float) -> tuple[float, float]:
    """Value and standard deviation, a share of the value where none was written. [SI]"""
    value, sd = written.si(), parse(written.text, written.kind).sd
    return value, sd if sd is not None else share * value


@contextmanager
def naming_options(names: Mapping[str, str]) -> Iterator[None]:
    """Mistakes about a quantity of a request name the option behind which it was typed."""
    from sweatline.errors import JobError

    try:
        yield
    except JobError as error:
        error.field = names.get(error.field, error.field)
        raise


class Sources:
    """Chooses between an option, a log and a default, and keeps the account.

    Parameters
    ----------
    shelf : Shelf
        What every command is asked with.
    job : Job, optional
        What stands in it wins over the zero and the unit system of a log.
    written : sequence of Written or str
        What was typed besides: without a job and a log it tells the unit system.
    """

    def __init__(
        self, shelf: Shelf, job: Job | None, *, written: Sequence[Written | str | None]
    ) -> None:
        if job is not None and shelf.altitude is not None:
            raise click.UsageError("--altitude stands in the job file already")
        self.shelf = shelf
        self.job = job
        self.book: Book | None = None
        self.taken: list[Taken] = []
        self.notes: list[str] = []
        if shelf.log_file is not None:
            self._open(shelf.log_file)
        self.atmosphere = self._atmosphere(shelf.altitude)
        if job is None or shelf.units is not None:
            texts = [w.text if isinstance(w, Written) else w for w in written]
            shelf.session.scale = Scale(self._system(shelf.units, texts), self.atmosphere)
        self.scale = shelf.session.shown

    def _open(self, path: str) -> None:
        from sweatline.log.extract import read_book
        from sweatline.log.logbook import open_log

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

    def _system(self, wanted: str | None, written: Sequence[str | None]) -> Literal["US", "SI"]:
        """Unit system of the answer: as wanted, else of the log, else of what was typed."""
        told = ""
        if self.book is not None:
            # A vacuum is read in micron everywhere.
            texts = [e.text for e in self.book.held if e.unit and e.channel != "vacuum gauge"]
            american = sum(written_system(text) == "US" for text in texts)
            told = ("US" if 2 * american > len(texts) else "SI") if texts else ""
            told = self.book.system or told
        return "US" if written_system(*written, wanted=wanted or told or None) == "US" else "SI"

    def logged(self, read: Callable[[Book], T], *, typed: bool, without: str) -> T | None:
        """What the log says of a piece of work; None where it has none, and some was typed.

        Parameters
        ----------
        read : callable
            Takes it out of the log, or raises JobError.
        without : str
            Begins the note that says why only what was typed counts.
        """
        from sweatline.errors import JobError

        if self.book is None:
            return None
        try:
            return read(self.book)
        except JobError as error:
            if not typed:
                raise
            self.notes.append(f"{without}: {error.what}")
            return None

    def pick(
        self,
        what: str,
        given: str | Sequence[str] | None,
        read: Callable[[], T],
        found: Found[T] | None,
        otherwise: T,
        *,
        why: str = "",
    ) -> T:
        """A value as typed, else from the log, else `otherwise`.

        Parameters
        ----------
        given : str or sequence of str, optional
            As typed behind an option; nothing when it was not.
        read : callable
            Makes a value of what was typed.
        found : Found, optional
            What the log says.
        why : str
            What `otherwise` is, where the account should name it.
        """
        if given:
            text = given if isinstance(given, str) else "; ".join(given)
            self._account(what, "option", text)
            return read()
        if found is not None:
            self._account(what, "log", found.text, found.entries)
            return found.value
        if why:
            self._account(what, "assumed", why)
        return otherwise

    def each(
        self,
        what: str,
        texts: Sequence[str],
        option: str,
        read: Callable[[str, str], T],
        found: Found[tuple[T, ...]] | None,
    ) -> tuple[T, ...]:
        """What was typed behind an option that may be given again, else from the log.

        Parameters
        ----------
        read : callable
            Makes a value of one text and of the name under which a mistake in it is told.
        """

        def all_of_them() -> tuple[T, ...]:
            return tuple(read(text, f"{option} {i}") for i, text in enumerate(texts, 1))

        return self.pick(what, texts, all_of_them, found, ())

    def quantity(
        self, what: str, written: Written | None, found: Found[float] | None
    ) -> float | None:
        """A quantity as typed, else from the log, else the option's default. [SI]"""
        name = written.option.removeprefix("--").replace("-", "_") if written is not None else ""
        usual = written is not None and (
            click.get_current_context().get_parameter_source(name)
            is click.core.ParameterSource.DEFAULT
        )
        if written is not None and not usual:
            self._account(what, "option", written.text)
            return written.si(self.atmosphere)
        if found is not None:
            self._account(what, "log", found.text, found.entries)
            return found.value
        if written is None:
            return None
        self._account(what, "assumed", written.text)
        return written.si(self.atmosphere)

    def error(self, what: str, written: Written, found: Found[float] | None) -> float:
        """Error of an instrument: as typed, by the log, or the option's default. [SI]"""
        found_value = self.quantity(what, written, found)
        assert found_value is not None
        return found_value

    def _account(
        self,
        what: str,
        source: Literal["option", "log", "assumed"],
        text: str,
        entries: tuple[int, ...] = (),
    ) -> None:
        if self.book is None:
            return
        from sweatline.log.extract import Taken

        self.taken.append(Taken(what=what, source=source, text=text, entries=entries))

    def refrigerant(self, name: str | None, found: Found[str] | None = None) -> str | None:
        """The refrigerant as typed, of the log, or the only one of the job."""
        from sweatline.log.extract import Found
        from sweatline.refrigerant.refrigerant import find

        if found is None and self.book is not None and self.book.refrigerant:
            found = Found(value=self.book.refrigerant, text=self.book.refrigerant, entries=())
        listed = self.job.refrigerants if self.job is not None else ()
        if name is None and found is None:
            return listed[0] if len(listed) == 1 else None
        if name is None and found is not None and listed and found.value not in listed:
            self.notes.append(
                f"the log is about {found.value}, which the job does not list: the log is believed"
            )
        return self.pick("refrigerant", name, lambda: find(name or ""), found, "")

    def show(self, answer: A, body: Callable[[A, Scale, bool], None]) -> None:
        """Print an answer: as JSON, or its lines with notes and cautions behind them."""
        from sweatline.cli.judgements import print_cautions, print_notes

        told = dataclasses.replace(
            answer,
            log_path=self.book.path if self.book is not None else None,
            taken=tuple(self.taken),
            notes=(*self.notes, *answer.notes),
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


def quantity_rows(answer: object, scale: Scale, *names: str) -> list[tuple[str, str]]:
    """Label and value of an answer's quantities; with ± where the field `<name>_sd` exists."""
    from sweatline.answers import Range
    from sweatline.answers.fields import members_of

    found = []
    for member in (m for name in names for m in members_of(type(answer)) if m.name == name):
        value, q = getattr(answer, member.name), member.q
        if value is None or q is None:
            continue
        if isinstance(value, Range):
            told = f"{scale.range(value, q.kind, q.digits)} ({LIKELY})"
        else:
            told = scale.show(value, q.kind, q.digits)
            sd = getattr(answer, f"{member.name}_sd", None)
            told += f" ± {scale.show(sd, q.kind, 2)}" if sd is not None else ""
        found.append((q.label, told))
    return found


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
