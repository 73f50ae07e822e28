"""Options and a log side by side: what was typed wins, and where each number came from is told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.job.model import Job
    from sweatline.log.extract import Account, Book, Found, Taken

__all__ = ["Sources", "log_option", "print_taken", "typed"]

F = TypeVar("F", bound=Callable[..., Any])
T = TypeVar("T")

log_option = click.option(
    "--log",
    "log_file",
    metavar="LOG",
    help="Log of this machine: what is not given as an option is taken from it.",
)

_ZEROS_APART: Final = 1e3  # Pa between the zero of a log and the atmosphere of a job


def typed(name: str) -> bool:
    """Whether an option was given by the person, not left at its default."""
    source = click.get_current_context().get_parameter_source(name)
    return source is click.core.ParameterSource.COMMANDLINE


class Sources:
    """Chooses between an option, a log and a default, and keeps the account."""

    def __init__(self, path: str | None) -> None:
        self.book: Book | None = None
        self.taken: list[Taken] = []
        self.notes: list[str] = []
        if path is not None:
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
            self._account(what, "option", text, ())
            return read()
        if found is not None:
            self._account(what, "log", found.text, found.entries)
            return found.value
        if why:
            self._account(what, "assumed", why, ())
        return otherwise

    def _account(self, what: str, source: Any, text: str, entries: tuple[int, ...]) -> None:
        if self.book is None:
            return

        from sweatline.log.extract import Taken

        self.taken.append(Taken(what=what, source=source, text=text, entries=entries))

    @property
    def account(self) -> Account:
        """What came from where, for the record."""
        from sweatline.log.extract import Account

        path = self.book.path if self.book is not None else None
        return Account(path=path, taken=tuple(self.taken), notes=tuple(self.notes))

    def atmosphere(self, job: Job | None, altitude: str | None) -> float:
        """Zero of the gauges: of the job, as typed, of the log, or at sea level. [Pa]"""
        from sweatline.cli.options import site_atmosphere

        zero = self.book.atmosphere if self.book is not None else None
        if job is not None:
            place = job.place.atmospheric_pressure
            if zero is not None and abs(zero - place) > _ZEROS_APART:
                self.notes.append(
                    f"the gauges of the log have their zero at {zero / 100:.0f} hPa, and the job "
                    f"stands at {place / 100:.0f} hPa: one of the two altitudes is wrong"
                )
            return place
        if altitude is not None:
            return site_atmosphere(altitude)
        return STANDARD_ATMOSPHERE if zero is None else zero

    def system(self, wanted: str | None, *written: str | None) -> Any:
        """Unit system of the answer: as wanted, else of the log, else of what was typed."""
        from sweatline.units import written_system

        book = self.book
        told = book.system if book is not None else ""
        if book is not None and not told:
            # A vacuum is read in micron everywhere.
            texts = [e.text for e in book.held if e.unit and e.channel != "vacuum gauge"]
            american = sum(written_system(text) == "US" for text in texts)
            told = ("US" if 2 * american > len(texts) else "SI") if texts else ""
        return written_system(*written, wanted=wanted or told or None)

    def refrigerant(
        self, name: str | None, found: Found[str] | None, job: Job | None
    ) -> str | None:
        """The refrigerant as typed, of the log, or the only one of the job."""
        from sweatline.log.extract import Found
        from sweatline.refrigerant.refrigerant import find

        book = self.book
        if found is None and book is not None and book.refrigerant:
            found = Found(value=book.refrigerant, text=book.refrigerant, entries=())
        only = None
        if job is not None and len(job.refrigerants) == 1:
            only = job.refrigerants[0]
        if name is None and found is None:
            return only
        listed = job.refrigerants if job is not None else ()
        if name is None and found is not None and listed and found.value not in listed:
            self.notes.append(
                f"the log is about {found.value}, which the job does not list: the log is believed"
            )
        return self.pick("refrigerant", name, lambda: find(name or ""), found, "")


def print_taken(path: str, taken: Sequence[Taken]) -> None:
    """Where each number came from, before anything is said of them."""
    from sweatline.cli.terminal import heading, listing

    if not taken:
        return
    heading(f"Taken from {path}, or typed")
    words = {"option": "typed", "log": "log", "assumed": "assumed"}
    listing(
        (
            one.what,
            f"{one.text} ({words[one.source]}{_entries(one.entries)})",
        )
        for one in taken
    )


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
