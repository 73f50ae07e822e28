"""The command charge: the next dose, from a log or line by line."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING

import click

from sweatline.cli.charging_words import KINDS
from sweatline.cli.options import (
    INTERRUPTED,
    Session,
    calibration_option,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.answers.record_parts import Record
    from sweatline.charging.records import ChargingRecord
    from sweatline.charging.session import LineAnswer, LiveCharging
    from sweatline.units import Scale

__all__ = ["KINDS", "charge"]


@click.command(short_help="While charging: wait, add so much, or stop.")
@job_argument
@click.argument("log_file", metavar="LOG")
@click.argument("lines", metavar="[LINES]", required=False)
@part_options
@calibration_option
@json_option
@click.pass_obj
def charge(
    session: Session,
    job: str,
    log_file: str,
    lines: str | None,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> int:
    """What to do next while a machine is charged, from what its LOG says.

    The log holds what was let in (`added`) and readings of suction-gauge, head-gauge and
    suction-gas (on the tube at the evaporator's outlet), better also of liquid-line, discharge-gas
    and watts, and of return-gas (on the tube at the compressor) and coil for the stop rule. Begin
    it with `sweatline log new`.

    With LINES it is a session: every line goes into the log and is then answered. LINES is a file
    or a pipe of them, or `-` for what is typed; a line is what `sweatline log` would be told, as
    `suction 1.42 bar(g)`, `14:05 head 5.1 bar(g); liquid 22 C`, `added 10 g`, `help`. A line with
    a time of its own that is in the log already is not written twice, so a file may be fed again.
    With --json one record a line, each of the schema that its `command` names: `charge` before and
    after the lines, `charge-line` for each.
    """
    from sweatline.charging.adviser import Charging, check_refrigerant, prepare
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.log.logbook import open_log

    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with open_log(log_file) as book, _opened(lines) as source:
        check_refrigerant(book, parts["refrigerant"])
        with waiting("charging drawn machines"):
            prepared = prepare(bench, **parts)
        charging = Charging(prepared, book)
        assert session.scale is not None
        if source is not None:
            from sweatline.charging.session import LiveCharging

            return _session(LiveCharging(charging), source, session.scale, as_json)
        record = charging.record()
    if as_json:
        print_json(record)
    else:
        _print(record, session.scale, log_file)
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


def _print(record: ChargingRecord, scale: Scale, log_file: str) -> None:
    from sweatline.cli.charging_words import print_state
    from sweatline.cli.judgements import print_cautions

    print_state(record, scale, log=log_file)
    print_cautions(record.cautions)


def _session(live: LiveCharging, source: IO[str], scale: Scale, as_json: bool) -> int:
    """Answer line after line, until they end."""
    from sweatline.cli.terminal import aside
    from sweatline.errors import StoreError

    typed = source.isatty() and sys.stdout.isatty() and not as_json
    _begin(live, scale, typed, as_json)
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
                _print_line(answer.record)
            else:
                _answer(answer, scale)
            if answer.wanted == "done":
                break
    except KeyboardInterrupt:
        code = INTERRUPTED
        if not as_json:
            click.echo()
    _end(live, scale, as_json)
    return code


def _typed() -> Iterator[str]:
    """Lines from a person, with the terminal's editing and history."""
    import contextlib

    with contextlib.suppress(ImportError):
        import readline  # noqa: F401  # gives input() its editing
    while True:
        try:
            yield input("> ")
        except EOFError:
            click.echo()
            return


def _begin(live: LiveCharging, scale: Scale, typed: bool, as_json: bool) -> None:
    from sweatline.cli.charging_words import print_foreseen, print_next
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.terminal import heading, paragraph

    record = live.charging.record()
    if as_json:
        _print_line(record)
        return
    prepared = live.charging.prepared
    build, full = prepared.build, prepared.full
    heading(f"Charging {build.name}")
    paragraph(
        f"Charged right, by the job's best values: {scale.show(full.charge, 'mass')} in; suction "
        f"{scale.show(full.suction_pressure, 'pressure')}, head "
        f"{scale.show(full.discharge_pressure, 'pressure')}, superheat "
        f"{scale.show(full.superheat, 'temperature difference')}, coldest surface "
        f"{scale.show(full.coil_temperature, 'temperature')}, "
        f"{scale.show(full.total_power, 'power')}. The machine in hand will differ.",
        indent=2,
    )
    print_foreseen(record, scale)
    print_cautions(record.cautions)
    rows = len(live.charging.quality.rows)
    if rows:
        heading(f"The log holds {rows} {'entry' if rows == 1 else 'entries'}")
    print_next(record, scale)
    if typed:
        paragraph("Type readings as they come; `help` says how, `done` ends.", indent=2)


def _answer(answer: LineAnswer, scale: Scale) -> None:
    """What came of one line, in words."""
    from sweatline.cli.charging_words import (
        print_doubtful,
        print_next,
        print_outlooks,
        print_rule,
        print_state,
    )
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.terminal import listing, paragraph

    record, state = answer.record, answer.state
    if answer.wanted == "help":
        from sweatline.log.lines import HELP

        listing(HELP)
        return
    if answer.wanted == "show":
        print_state(state, scale)
        print_cautions(state.cautions)
        return
    numbers = ", ".join(str(n) for n in record.kept)
    told = []
    if record.kept:
        told.append(f"kept as {numbers}")
    if record.known:
        told.append(f"in the log already as {', '.join(str(n) for n in record.known)}")
    if told:
        click.echo(f"{record.text}  [{'; '.join(told)}]")
    if record.problem:
        paragraph(f"! {record.problem}.", indent=2)
    asked = {q for d in record.doubtful for q in d.questions}
    for q in record.questions:
        if q not in asked:
            paragraph(f"? {q}", indent=2)
    if answer.wanted == "done" or not (record.kept or record.known):
        return
    print_next(state, scale)
    print_doubtful(record.doubtful)
    print_outlooks(record.outlooks, scale)
    if record.action in ("add", "stop", "take out"):
        print_rule(record.stop_rule, scale)


def _end(live: LiveCharging, scale: Scale, as_json: bool) -> None:
    from sweatline.cli.charging_words import print_state
    from sweatline.cli.terminal import heading, paragraph

    record = live.charging.record()
    if as_json:
        _print_line(record)
        return
    heading("Where it stands")
    rows = len(live.charging.quality.rows)
    paragraph(
        f"{live.lines} lines, {live.written} entries written; the log "
        f"{live.charging.log.path} holds {rows}. Begin again with the same command: it goes on "
        "from there.",
        indent=2,
    )
    print_state(record, scale)
    last = record.cautions[-1:]
    for c in (*(c for c in record.cautions if c.stop), *last):
        paragraph(("STOP " if c.stop else "") + c.text, indent=2)


def _print_line(record: Record) -> None:
    from sweatline.design.records import plain

    click.echo(json.dumps(plain(record), ensure_ascii=False, allow_nan=False))
