"""The command practice: charge a simulated machine."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from typing import Final, Literal

import click

from sweatline.answers import told
from sweatline.charging.preparation import prepare_build
from sweatline.cli.options import (
    Session,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    read_bench,
)
from sweatline.cli.quantity import Written
from sweatline.cli.tables import Column, print_table
from sweatline.cli.terminal import gap, heading, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.diagnosis.faults import ANY
from sweatline.errors import JobError, SolveError
from sweatline.log.channels import CHANNELS
from sweatline.report import review
from sweatline.training.debrief import (
    Debrief,
    DoseReview,
    Ended,
    debrief_of_attempt,
    debrief_of_session,
)
from sweatline.training.session import (
    Round,
    TrainingSession,
    by_advice,
    by_habit,
    session_on,
    step_from,
    weight,
)
from sweatline.training.simulated_machine import simulate
from sweatline.units import Scale, System

_EXAMPLE: Final[dict[System, str]] = {"SI": "10 g", "US": "1/2 oz"}
HELP: Final = """\
  wait 5 min        let time pass; readings are written down on the way
  add {dose:<14}let refrigerant into the low side (add {dose} liquid)
  read              read all instruments once more
  stop, start       switch the machine off and on again
  fault: WORDS      say what you think is wrong with the machine, or none
  done              end, and hear how it went"""


class Pace(click.ParamType):  # type: ignore[type-arg]
    """Parameter type: how many times as fast as time a machine runs."""

    name = "pace"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """``real`` is once."""

        text = str(value).strip().casefold()
        try:
            times = 1.0 if text == "real" else float(text)
            if not 0.1 <= times <= 1e4:
                raise ValueError(text)
        except ValueError as error:
            raise JobError(
                what="not a pace",
                read=str(value),
                allowed="write real, or how many times as fast as time, 0.1 to 10000",
                field="--pace",
            ) from error
        return times


@click.command()
@job_argument
@part_options
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Which simulated machine.",
)
@click.option(
    "--by",
    "way",
    type=click.Choice(["hand", "advice", "habit"]),
    default="hand",
    show_default=True,
    help="You, the advice, or half an ounce every five minutes.",
)
@click.option(
    "--fault",
    metavar="KIND",
    help="A fault in it: little-air, fouled-condenser, fouled-evaporator, restriction, "
    "non-condensable, worn-valves, leak, gauge, thermometer; any hides one of them, or nothing.",
)
@click.option("--slips", is_flag=True, help="Now and then a reading is written down wrongly.")
@click.option(
    "--pace",
    type=Pace(),
    metavar="N",
    help="N times as fast as time, or real; without it no time passes.",
)
@click.option(
    "--publish",
    metavar="WHERE",
    help="Send the readings as instruments would: http://HOST:PORT/LOG of a page, "
    "mqtt://HOST:PORT/LOG of a broker, or into a file that ends in .csv.",
)
@click.option("--log", "log_file", metavar="FILE", help="Keep readings and additions in a new log.")
@click.option(
    "--draws",
    type=click.IntRange(min=8, max=1000),
    default=128,
    show_default=True,
    help="Trial runs behind the advice that you are held against.",
)
@json_option
@click.pass_obj
def practice(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: Written | None,
    seed: int,
    way: Literal["hand", "advice", "habit"],
    fault: str | None,
    slips: bool,
    pace: float | None,
    publish: str | None,
    log_file: str | None,
    draws: int,
    as_json: bool,
) -> None:
    """Charge a simulated machine, drawn from what the job leaves open, faster than time.

    It runs with a little over half of its charge, and has a fault if you wish. Type `wait 5 min`,
    `add 10 g`, `read`, `done`, or send such lines through a pipe; `help` lists them. The debrief
    holds every addition against what the readings then allowed, names limits that were passed, and
    says how the advice and a fixed habit would have done on the same machine. With --log the
    command charge can be asked about it from a second terminal. No figure of it belongs to a real
    machine.
    """

    if way != "hand" and (slips or pace is not None or log_file or publish):
        raise click.UsageError("--slips, --pace, --publish and --log belong to a charging by hand")
    bench = read_bench(session, job)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    assert session.scale is not None
    scale = session.scale
    with waiting("building the machine"):
        machine = simulate(bench, **parts, seed=seed, fault=fault)
    hidden = fault == ANY
    if way != "hand":
        with waiting("charging"):
            if way == "advice":
                prepared = prepare_build(machine.build, machine.card, simulated=True, draws=draws)
                done = by_advice(machine, prepared, seed=seed)
            else:
                done = by_habit(machine)
        found = debrief_of_attempt(machine, done, seed, hidden=hidden)
        if as_json:
            print_json(found, "practice")
            return
        if done.gave_up:
            paragraph(f"Given up: {done.gave_up}.")
        paragraph(review.outcome(found, scale))
        if found.fault is not None:
            paragraph(f"The fault was {review.fault_in_words(found.fault, scale)}.")
        return
    live = session_on(machine, seed, path=log_file, slips=slips, pace=pace)
    if publish is not None:
        _publish(live, publish)
    with live.log:
        hands = _Hands(live, to_error=as_json)
        hands.say(f"{machine.build.name}, machine {seed}" + (f", fault: {fault}" if fault else ""))
        if log_file is not None:
            hands.tell_second_terminal(job, log_file)
        ended, broken_off = hands.work(ask_fault=hidden)
        with waiting("preparing the debrief"):
            prepared = prepare_build(machine.build, machine.card, simulated=True, draws=draws)
            found = debrief_of_session(
                live, prepared, seed, hidden=hidden, ended=ended, broken_off=broken_off
            )
    if as_json:
        print_json(found, "practice")
    else:
        _print_debrief(found, scale)


def _publish(session: TrainingSession, where: str) -> None:
    """Send every round; a machine that runs faster than time begins half a day ago."""
    from sweatline.web.publish import publisher, round_of

    way = publisher(where)
    ago = 0.0 if session.pace == 1.0 else 43200.0
    begun_at = time.time() - session.time - ago
    session.publish = lambda found: way.send(round_of(found, begun_at))


class _Hands:
    """The person at the machine: asks, does, shows."""

    def __init__(self, session: TrainingSession, *, to_error: bool) -> None:
        self.session = session
        self.system: System = session.readout.system
        self.to_error = to_error
        self.scale = Scale(self.system, session.readout.atmosphere)
        self.rows = 0

    def tell_second_terminal(self, job: str, log_file: str) -> None:
        """How the command charge is asked about this machine."""
        build = self.session.machine.build
        self.say(
            f"In a second terminal:\n  sweatline charge {job} {log_file} \\\n"
            f"  --compressor '{build.compressor.name}' --refrigerant {build.refrigerant.name} "
            f"--capillary '{build.capillary.name}'"
        )

    def work(self, *, ask_fault: bool) -> tuple[Ended, str]:
        """Until the person is done; how it ended, and why it could not go on."""
        from textwrap import fill

        card = self.session.machine.card
        scale = self.scale
        self.say(
            fill(
                f"By the job's best values it is filled with {scale.show(card.charge, 'mass')}, at "
                f"{scale.show(card.suction_pressure, 'pressure')} suction and "
                f"{scale.show(card.discharge_pressure, 'pressure')} head; this one may differ. "
                f"Type wait 5 min, add {_EXAMPLE[self.system]}, done; help lists the rest.",
                80,
                break_on_hyphens=False,
            )
        )
        try:
            self._show(self.session.open())
            self._until_done()
        except SolveError as error:
            return "broken off", error.condition
        except (KeyboardInterrupt, click.Abort):
            self.say("")
            return "interrupted", ""
        if ask_fault and not self.session.named:
            try:
                self._ask_fault()
            except (KeyboardInterrupt, click.Abort):
                self.say("")
        return "done", ""

    def _until_done(self) -> None:

        session = self.session
        for typed in self._lines("next> "):
            try:
                step = step_from(typed, most=session.most)
                if step.do == "done":
                    return
                if step.do == "help":
                    self.say(HELP.format(dose=_EXAMPLE[self.system]))
                elif step.do == "read":
                    self._show(session.read())
                elif step.do == "wait":
                    session.wait(step.amount, self._show)
                elif step.do == "add":
                    done = session.add(step.amount, step.phase or session.machine.usual_phase)
                    self.say(f"{'':5}+{weight(done.weighed, self.system)} as {done.phase}")
                    self._show(session.read())
                elif step.do in ("stop", "start"):
                    refused = session.switch(on=step.do == "start")
                    if refused:
                        self.say(f"Not done: {told(refused, self.scale).rstrip('.')}.")
                    self._show(session.read())
                elif step.do == "fault":
                    self.say(f"Noted: {self.session.name_fault(step.words)}.")
            except JobError as error:
                click.echo(str(error), err=True)

    def _ask_fault(self) -> None:

        for typed in self._lines("which fault was it, or none> "):
            words = typed.strip()
            if not words:
                return
            try:
                self.session.name_fault(words.partition(":")[2] if ":" in words else words)
            except JobError as error:
                click.echo(str(error), err=True)
                continue
            return

    def _lines(self, prompt: str) -> Iterator[str]:
        """What is typed, or comes through a pipe; ends with it."""
        asking = sys.stdin.isatty()
        while True:
            since = time.monotonic()
            if asking:
                try:
                    if self.to_error:
                        click.echo(prompt, nl=False, err=True)
                    line = input("" if self.to_error else prompt)
                except EOFError:
                    self.say("")
                    return
            else:
                line = sys.stdin.readline()
                if not line:
                    return
                self.say(f"{prompt}{line.rstrip()}")
            # With a pace the machine does not stand still while somebody thinks.
            self.session.ran_on(time.monotonic() - since, self._show)
            yield line

    def _show(self, found: Round) -> None:
        if self.rows % 20 == 0:
            self.say(_titles(found, self.system))
        self.rows += 1
        self.say(_line(found, self.system))
        for question in found.questions:
            click.echo(f"? {question}", err=True)

    def say(self, text: str) -> None:
        """One line or more, where they belong."""
        click.echo(text, err=self.to_error)


def _columns(found: Round, system: System) -> list[tuple[str, str, int]]:
    """Upper and lower title of each channel of a round, and the width of its column."""

    columns = []
    for one in found.written:
        channel = CHANNELS[one.channel]
        upper, _, lower = channel.heading.partition(" ")
        unit = channel.readout[system].unit
        if lower and len(upper) < len(lower):  # the unit stands beside the shorter word
            upper = f"{upper} {unit}"
        else:
            lower = f"{lower} {unit}".strip()
        columns.append((upper, lower, max(len(upper), len(lower)) + 1))
    return columns


def _titles(found: Round, system: System) -> str:
    """Two lines above the rounds of readings."""
    upper, lower = f"{'':5}{'in':>6}", f"{'min':>5}{'oz' if system == 'US' else 'g':>6}"
    for above, below, width in _columns(found, system):
        upper += f"{above:>{width}}"
        lower += f"{below:>{width}}"
    return f"{upper}\n{lower}"


def _line(found: Round, system: System) -> str:
    """One round of readings in one line."""

    line = f"{found.at / 60.0:5.1f}{weight(found.weighed, system).split()[0]:>6}"
    for one, (_above, _below, width) in zip(found.written, _columns(found, system), strict=True):
        line += f"{one.text.split()[0]:>{width}}"
    return line


def _print_debrief(found: Debrief, scale: Scale) -> None:
    """All of it, in eighty columns."""
    heading("Debrief")
    for sentence in review.story(found, scale):
        paragraph(sentence)
    if found.doses:
        gap()
        _print_doses(found, scale)
        gap()
    for sentence in review.remarks(found, scale):
        paragraph(sentence)
    gap()
    paragraph(review.next_step(found, scale))
    paragraph(review.lesson(found, scale))
    if found.others:
        gap()
        _print_others(found, scale)
    gap()
    for note in found.notes:
        paragraph(note)


def _print_doses(found: Debrief, scale: Scale) -> None:
    doses = found.doses
    print_table(
        [
            Column("at\nmin", [f"{d.time / 60.0:.1f}" for d in doses]),
            Column("waited\nmin", [f"{d.waited / 60.0:.1f}" for d in doses]),
            Column("readings", [d.readings for d in doses], right=False),
            Column("advice\nthen", [review.advised(d, scale) for d in doses], right=False),
            Column("you\nadded", [weight(d.weighed, scale.system) for d in doses]),
            Column(
                "best charge by the\nreadings then", [_range(d, scale) for d in doses], right=False
            ),
        ]
    )


def _range(dose: DoseReview, scale: Scale) -> str:
    return "-" if dose.best_then is None else scale.range(dose.best_then, "mass")


def _print_others(found: Debrief, scale: Scale) -> None:
    best = review.best_charge(found)
    ways, rows = zip(*review.attempts(found), strict=True)
    print_table(
        [
            Column(
                "the same machine\ncharged by",
                list(ways),
                right=False,
            ),
            Column("ended\nat", [scale.show(r.charge, "mass") for r in rows]),
            Column("against\nbest", [f"{r.charge / best - 1.0:+.1%}" for r in rows]),
            Column("most\never in", [f"{r.most / best - 1.0:+.1%}" for r in rows]),
            Column("\ndoses", ["-" if r.additions is None else str(r.additions) for r in rows]),
            Column("\nmin", [f"{r.time / 60.0:.0f}" for r in rows]),
        ]
    )
