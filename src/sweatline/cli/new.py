"""The command new: the job file made in a terminal, by the questions of the page."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import click

from sweatline.errors import JobError
from sweatline.job.document import JobDocument, digest_of, write_whole
from sweatline.job.explanation import check
from sweatline.job.interview import GROUPS, Group, Question, matters, stand_in, table_of, understood

_STOP = ("stop", "quit", "exit")
_YES = ("y", "yes")
_SYSTEMS = {"us": "US", "imperial": "US", "si": "SI", "metric": "SI"}


class _Stopped(Exception):
    """The person goes away; everything that was answered is in the file."""


@click.command()
@click.argument("job", required=False)
@click.option("--everything", is_flag=True, help="Ask for details too, and again what is answered.")
def new(job: str | None, everything: bool) -> None:
    """Describe a machine: makes the JOB file, or goes on where you stopped.

    Type what you read, with its unit: "3/16 in", "27 psig", "about 4 ft". "don't know" is an
    answer; Enter leaves a question open; "stop" ends, and the same command goes on later.
    """
    path = None
    try:
        path = Path(job or _file_name(_ask("What do you call this job?")))
        if path.suffix != ".toml":
            path = path.with_name(f"{path.name}.toml")
        if not path.exists():
            _begin(path)
        _interview(path, everything=everything)
    except _Stopped:
        click.echo()
    if path is not None and path.exists():
        _outcome(path)


def _file_name(title: str) -> str:
    name = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
    if not name:
        raise JobError(what="not a name for a file", read=title[:40])
    return f"{name}.toml"


def _begin(path: Path) -> None:
    """Make the file with its units."""
    if not path.absolute().parent.is_dir():
        raise JobError(what="no folder of this name", read=str(path.parent))
    while True:
        units = _SYSTEMS.get(_ask("Which units do you read in? (US or SI)").casefold())
        if units:
            break
        click.echo("US: inches, °F, psig. SI: mm, °C, bar.")
    title = path.stem.replace("-", " ")
    write_whole(path, JobDocument.new(title=title[:1].upper() + title[1:], units=units).text)


def _ask(question: str = "") -> str:
    """What a person answers on one line.

    Raises
    ------
    _Stopped
        Nothing more comes, or the person wants to stop.
    """
    if question:
        click.echo(question)
    try:
        said = input("> ").strip()
    except EOFError:
        raise _Stopped from None
    if said.casefold() in _STOP:
        raise _Stopped
    return said


def _interview(path: Path, *, everything: bool) -> None:
    """Ask every question once, in the order of the page; each answer is written at once."""
    seen: set[str] = set()
    part = ""
    document = JobDocument.of_file(path)
    settled = set() if everything else _settled(document)
    while True:
        waiting = [
            one
            for one in (document.questions if everything else document.asked)
            if one.name not in seen and (everything or document.is_open(one))
        ]
        question = waiting[0] if waiting else None
        ended = _ended(question, settled)
        if ended is not None:
            if _ask(f"\nAdd {ended.another}? (yes or no)").casefold() in _YES:
                document.add(ended.table)
                write_whole(path, document.text)
            else:
                settled.add(ended.table)
        elif question is None:
            return
        else:
            if question.part != part or not seen:
                click.echo(f"\n{_head(question).upper()}\n{question.group.where}")
            part = question.part
            seen.add(question.name)
            _put(path, document, question)
        document = JobDocument.of_file(path)


_LISTS = [group for group in GROUPS if table_of(group).many and table_of(group).needed]


def _settled(document: JobDocument) -> set[str]:
    """Lists that a person has gone past before: not the one just before the next question."""
    first = document.next_open()
    if first is None:
        return set()
    before = [one.group.table for one in document.asked[: document.asked.index(first)]]
    return set(before) - {first.group.table, *before[-1:]}


def _ended(question: Question | None, settled: set[str]) -> Group | None:
    """A list whose last part is described, and of which there may be one more."""
    at = len(GROUPS) if question is None else GROUPS.index(question.group)
    ended = (group for group in _LISTS if GROUPS.index(group) < at)
    return next((group for group in ended if group.table not in settled), None)


def _head(question: Question) -> str:
    number = f" {int(question.path[1]) + 1}" if table_of(question.group).many else ""
    return f"{question.group.title}{number}"


def _put(path: Path, document: JobDocument, question: Question) -> None:
    """Ask one question until its answer can be used, and write it."""
    scale = document.scale
    job, _faults = document.judged()
    click.echo(f"\n{question.text}")
    if question.options:
        click.echo(f"  one of: {', '.join(question.options)}")
    else:
        click.echo(f"  for example {question.example(scale)}")
    if question.needed and not question.rating:
        click.echo("  needed: nothing can stand in for it")
    else:
        left = stand_in(question, check(job) if job is not None else None, scale)
        click.echo(f"  left open: {left}")
    if matters(question, scale):
        click.echo(f"  {matters(question, scale)}")
    if document.answer(question):
        click.echo(f"  in the file: {document.answer(question)}")
    while True:
        said = _ask()
        if not said:
            return
        try:
            meant = understood(question, said, scale)
        except JobError as error:
            click.echo(f"  {error.sentence}")
            continue
        break
    click.echo(f"  = {meant}")
    if digest_of(path) != document.digest:  # edited meanwhile: the new content stays
        document = JobDocument.of_file(path)
    document.put(question, said)
    write_whole(path, document.text)


def _outcome(path: Path) -> None:
    """What is still needed, or the command that answers."""
    document = JobDocument.of_file(path)
    job, faults = document.judged()
    if job is not None:
        click.echo(f"Enough for an answer: sweatline match {path}")
        return
    needed = Counter(
        _head(one).lower() for one in document.asked if one.needed and document.is_open(one)
    )
    if needed:
        parts = ", ".join(f"{part} ({count})" for part, count in needed.items())
        click.echo(f"Still needed: {parts}.")
    else:
        for fault in faults:
            click.echo(str(fault))
    click.echo(f"Go on with: sweatline new {path}")
