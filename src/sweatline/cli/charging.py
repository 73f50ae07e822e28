"""The command charge: the next dose, from a log or line by line."""

from __future__ import annotations

import contextlib
import io
import os
import stat
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import IO, Final

import click

from sweatline.charging.adviser import (
    NAMED_DOUBTS,
    Adviser,
    ChargeAdvice,
    EntryInDoubt,
    NextStep,
    ReadingOutlook,
    check_refrigerant,
)
from sweatline.charging.preparation import prepare
from sweatline.charging.session import ChargeLine, ChargeSession
from sweatline.charging.stop_rule import StopCondition
from sweatline.cli.judgements import print_cautions, print_notes
from sweatline.cli.log import mending_command
from sweatline.cli.options import INTERRUPTED, Asked, machine_options
from sweatline.cli.tables import Column, print_table
from sweatline.cli.terminal import aside, gap, heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.errors import StoreError
from sweatline.log.lines import HELP
from sweatline.log.logbook import open_log
from sweatline.report.sentences import (
    charged_so_far,
    condition_met,
    duration,
    instrument_errors,
    judgement,
    reading_now,
    reading_title,
    sentence,
    step_in_words,
)
from sweatline.units import Scale

# Readings that an answer shows; the others stand behind --details.
_SHOWN: Final = ("suction gauge", "head gauge", "superheat", "subcooling")


@click.command()
@machine_options
@click.argument("log_file", metavar="LOG")
@click.argument("lines", metavar="[LINES]", required=False)
def charge(asked: Asked, log_file: str, lines: str | None) -> int:
    """What to do next while a machine is charged, from what its LOG says.

    The log holds what was let in (`added`) and readings of suction-gauge, head-gauge and
    suction-gas (on the tube at the evaporator's outlet), better also of liquid-line, discharge-gas
    and watts, and of return-gas (on the tube at the compressor) and coil for the stop rule. Begin
    it with `sweatline log new`.

    With LINES it is a session: every line goes into the log and is then answered. LINES is a file
    or a pipe of them, or `-` for what is typed; a line is what `sweatline log` would be told, as
    `suction 1.42 bar(g)`, `14:05 head 5.1 bar(g); liquid 22 C`, `added 10 g`, `help`. A line with
    a time of its own that is in the log already is not written twice, so a file may be fed again.
    In a file a clock without a date is of the day of the line before it, or of the log's last day.
    With --json one answer a line, each of the schema that its `command` names: `charge` before and
    after the lines, `charge-line` for each.
    """

    bench = asked.bench()
    parts, scale = asked.parts(bench), asked.session.shown
    with open_log(log_file) as book, _opened(lines) as source:
        check_refrigerant(book.about(), parts["refrigerant"])
        with waiting("charging simulated machines"):
            prepared = prepare(bench, **parts)
        adviser = Adviser(prepared, book.about())
        if source is not None:
            live = ChargeSession(adviser, book, fed=_is_file(source))
            return hold_session(live, source, scale, as_json=asked.as_json, details=asked.details)
        advice = adviser.advise_on(book)
    if asked.as_json:
        print_json(advice, "charge")
    else:
        _print_advice(advice, scale, log=log_file, details=asked.details)
    return 0


@contextmanager
def _opened(lines: str | None) -> Iterator[IO[str] | None]:
    """The lines, opened before anything slow is done, so that a missing file is told at once."""
    if lines is None:
        yield None
    elif lines == "-":
        reconfigure = getattr(sys.stdin, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
        yield sys.stdin
    else:
        with open(lines, encoding="utf-8", errors="replace") as file:
            yield file


def _is_file(source: IO[str]) -> bool:
    """Whether the lines were written before, and do not come as they are typed or sent."""
    try:
        return stat.S_ISREG(os.fstat(source.fileno()).st_mode)
    except io.UnsupportedOperation:
        return False


def hold_session(
    live: ChargeSession, source: IO[str], scale: Scale, *, as_json: bool, details: bool = False
) -> int:
    """Answer line after line, until they end; the exit code."""

    typed = source.isatty() and sys.stdout.isatty() and not as_json
    _begin(live, scale, typed=typed, as_json=as_json, details=details)
    code = 0
    try:
        for line in _typed() if typed else iter(source.readline, ""):
            try:
                answer = live.take(line)
            except StoreError as error:
                if not typed:
                    raise
                aside(f"{error}. What was not told as kept is not in the log: type it again.")
                continue
            if answer is None:
                continue
            if as_json:
                print_json(answer, "charge-line", indent=None)
            else:
                _answer(answer, scale, details=details)
            if answer.wanted == "done":
                break
    except KeyboardInterrupt:
        code = INTERRUPTED
        if not as_json:
            click.echo()
    _end(live, scale, as_json=as_json, details=details)
    return code


def _typed() -> Iterator[str]:
    """Lines from a person, with the terminal's editing and history."""
    with contextlib.suppress(ImportError):
        import readline  # noqa: F401  # gives input() its editing
    while True:
        try:
            yield input("> ")
        except EOFError:
            click.echo()
            return


def _begin(live: ChargeSession, scale: Scale, *, typed: bool, as_json: bool, details: bool) -> None:
    advice = live.advice()
    if as_json:
        print_json(advice, "charge", indent=None)
        return
    prepared = live.adviser.prepared
    build, full = prepared.build, prepared.full
    heading(f"Charging {build.name}")
    paragraph(
        f"Charged right, by the job's best values: {scale.show(full.charge, 'mass')} in; suction "
        f"{scale.show(full.suction_pressure, 'pressure')}, head "
        f"{scale.show(full.discharge_pressure, 'pressure')}, superheat "
        f"{scale.show(full.superheat, 'temperature difference')}, coldest surface "
        f"{scale.show(full.coil_temperature, 'temperature')}, "
        f"{scale.show(full.total_power, 'power')}, "
        f"{scale.show(full.total_current, 'current', 2)}. The machine in hand will differ.",
        indent=2,
    )
    rows = len(live.adviser.quality.rows)
    if rows:
        heading(f"The log holds {rows} {'entry' if rows == 1 else 'entries'}")
    _print_advice(advice, scale, details=details)
    if typed:
        paragraph("Type readings as they come; `help` says how, `done` ends.", indent=2)


def _answer(answer: ChargeLine, scale: Scale, *, details: bool) -> None:
    """What came of one line, in words."""
    if answer.wanted == "help":
        listing(HELP)
        return
    if answer.wanted == "show":
        _print_advice(answer.advice, scale, details=True)
        return
    told = []
    if answer.kept:
        told.append(f"kept as {', '.join(map(str, answer.kept))}")
    if answer.known:
        told.append(f"in the log already as {', '.join(map(str, answer.known))}")
    if told:
        click.echo(f"{answer.text}  [{'; '.join(told)}]")
    if answer.problem:
        paragraph(f"! {answer.problem}.", indent=2)
    asked = {q for d in answer.doubtful for q in d.questions}
    for q in answer.questions:
        if q not in asked:
            paragraph(f"? {q}", indent=2)
    if answer.wanted == "done" or not (answer.kept or answer.known):
        return
    _print_step(answer, scale, details=details)
    if details:
        _print_outlooks(answer.outlooks, scale)
        if answer.action in ("add", "stop", "take out"):
            _print_rule(answer.stop_rule, scale)


def _end(live: ChargeSession, scale: Scale, *, as_json: bool, details: bool) -> None:
    advice = live.advice()
    if as_json:
        print_json(advice, "charge", indent=None)
        return
    heading("Where it stands")
    paragraph(
        f"{live.lines} lines, {live.written} entries written; the log {live.log.path} holds "
        f"{len(live.adviser.quality.rows)}. Begin again with the same command: it goes on from "
        "there.",
        indent=2,
    )
    _print_advice(advice, scale, details=details)


def _print_advice(
    advice: ChargeAdvice, scale: Scale, *, log: str = "", details: bool = False
) -> None:
    """Everything that follows from a log; tables and cautions only where wanted."""
    _print_step(advice, scale, log=log, details=details)
    if details:
        _print_outlooks(advice.outlooks, scale)
        _print_rule(advice.stop_rule, scale)
        if advice.notes or advice.reading_errors:
            gap()
        print_notes(advice.notes, scale)
        _print_errors(advice, scale)
        if advice.foreseen:
            heading("Foreseen, when it is charged right by the job's best values")
            listing(
                (
                    "FAULT" if v.state == "fails" else "note",
                    f"{judgement(v, scale, 0)}. {sentence(v.sentence)}",
                )
                for v in advice.foreseen
            )
        print_cautions(advice.cautions)
        return
    if advice.foreseen:
        told = "; ".join(v.fault for v in advice.foreseen)
        paragraph(f"Foreseen when it is charged right: {told}.", indent=2)
    for caution in advice.cautions:
        if caution.stop:
            paragraph(f"STOP {caution.text}", indent=2)
    paragraph(
        f"Local codes and licensed practice decide. More: {'--details' if log else '`show`'}.",
        indent=2,
    )


def _print_step(step: NextStep, scale: Scale, *, log: str = "", details: bool = False) -> None:
    """The next step, why, what is in, and the gauges."""
    heading(step_in_words(step, scale))
    paragraph(sentence(step.reason), indent=2)
    for obstacle in step.obstacles:
        if obstacle.sentence != step.reason:
            paragraph(sentence(obstacle.sentence), indent=2)
    paragraph(charged_so_far(step, scale), indent=2)
    _print_doubtful(step.doubtful, log=log, details=details)
    rows = [_short_row(o, scale) for o in step.outlooks if o.what in _SHOWN]
    if rows:
        listing(rows)


def _short_row(o: ReadingOutlook, scale: Scale) -> tuple[str, str, str]:
    """A gauge or a difference: as read, where it settles, what it comes to after the dose."""
    read, saturation, settles = reading_now(o, scale)
    return reading_title(o.what), f"{read} = {saturation}" if saturation else read, settles


def _print_outlooks(outlooks: Sequence[ReadingOutlook], scale: Scale) -> None:
    """Where every reading is heading, and what it should show after the dose."""
    rows = [_row(o, scale) for o in outlooks]
    if not rows:
        return
    titles = ("", "read", "settles", "9 in 10", "", "then", "9 in 10")
    used = 7 if any(o.expected_after_SI is not None for o in outlooks) else 5
    gap()
    print_table(
        [Column(titles[i], [r[i] for r in rows], right=i in (1, 2, 5)) for i in range(used)]
    )


def _row(o: ReadingOutlook, scale: Scale) -> list[str]:
    s, a = o.settles_SI, o.expected_after_SI
    after = (None, None, None) if a is None else (a.low, a.middle, a.high)
    unit, cells = scale.column((o.last_SI, s.middle, s.low, s.high, *after), o.kind)
    state = "settled" if o.state == "settled" else f"in {duration(o.look_again)}"
    if o.what == "coldest surface":
        state = "model"
    elif o.state == "disturbed":
        state = "moved"
    ranges = [
        f"{low}..{high}" if low != "-" else ""
        for low, high in ((cells[2], cells[3]), (cells[4], cells[6]))
    ]
    name = f"{reading_title(o.what)} {unit}".strip()
    return [name, cells[0], cells[1], ranges[0], state, cells[5], ranges[1]]


def _print_rule(rules: Sequence[StopCondition], scale: Scale) -> None:
    """The stop rule, condition by condition."""
    if not rules:
        return
    gap()
    listing([(r.what, condition_met(r, scale)) for r in rules])


def _print_doubtful(
    doubtful: Sequence[EntryInDoubt], *, log: str = "", details: bool = False
) -> None:
    """Entries in doubt, each with what to type; of many those written last."""
    shown = doubtful
    if not details and len(doubtful) > NAMED_DOUBTS:
        written = sorted(doubtful, key=lambda d: d.number)
        shown = written[-NAMED_DOUBTS:]
        others = ", ".join(str(d.number) for d in written[:-NAMED_DOUBTS])
        paragraph(f"? {len(doubtful)} entries are in doubt, also: {others}", indent=2)
    for d in shown:
        for asked in d.questions:
            paragraph(f"? {d.number}: {sentence(asked).rstrip('.')}", indent=2)
        correct = d.mending.line if d.mending is not None else f"correct {d.number} ..."
        confirm = f"confirm {d.number}"
        if log:
            correct = f"sweatline log correct {log} {d.number} ..."
            if d.mending is not None:
                correct = mending_command(d.mending, log)
            confirm = f"sweatline log confirm {log} {d.number}"
        rest = "a later reading has taken its place meanwhile"
        if d.holds_up:
            rest = "no dose is told before that"
        elif "twice" in d.slips:
            rest = "it counts once meanwhile"
        paragraph(f"`{correct}` or `{confirm}`; {rest}.", indent=2)


def _print_errors(advice: ChargeAdvice, scale: Scale) -> None:
    """How well scale and instruments are taken to read."""
    told = instrument_errors(advice, scale)
    if told:
        paragraph(told, indent=2)
