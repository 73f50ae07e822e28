"""The command practice: charge a machine that exists only here."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

import click

from sweatline.cli.options import (
    Session,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.assembly.build import Build
    from sweatline.job.model import Job
    from sweatline.machine.balance import SteadyState
    from sweatline.training.session import Exercise, Round
    from sweatline.training.simulated_machine import Unseen

__all__ = ["practice"]

_LOOKAHEAD = 0.5  # of the best values' charge and a little more: the most that is let in at once


@click.command(short_help="Charge a machine that exists only here.")
@job_argument
@part_options
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Which hidden machine."
)
@click.option(
    "--way",
    type=click.Choice(["hand", "advice", "habit"]),
    default="hand",
    show_default=True,
    help="You, the advice, or half an ounce every five minutes.",
)
@click.option(
    "--fault",
    "wanted",
    metavar="KIND",
    help="A fault in it: little-air, fouled-condenser, fouled-evaporator, restriction, "
    "non-condensable, worn-valves, leak, gauge, thermometer; any hides one of them, or nothing.",
)
@click.option("--slips", is_flag=True, help="Now and then a reading is written down wrongly.")
@click.option(
    "--pace", metavar="N", help="N times as fast as time, or real; without it no time passes."
)
@click.option("--log", "log_file", metavar="FILE", help="Keep readings and additions in a new log.")
@click.option(
    "--draws",
    type=click.IntRange(min=8, max=1000),
    default=128,
    show_default=True,
    help="Drawn machines behind the advice that you are held against.",
)
@json_option
@click.pass_obj
def practice(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    seed: int,
    way: Literal["hand", "advice", "habit"],
    wanted: str | None,
    slips: bool,
    pace: str | None,
    log_file: str | None,
    draws: int,
    as_json: bool,
) -> None:
    """Charge a machine drawn from what the job leaves open, faster than time.

    It runs with a little over half of its charge, and has a fault if you wish. Type `wait 5 min`,
    `add 10 g`, `read`, `done`, or send such lines through a pipe; `help` lists them. At the end you
    are told how it went: every addition against what the readings then allowed, limits passed, and
    how the advice and a fixed habit would have done on the same machine. With --log the command
    charge can be asked about it from a second terminal. No figure of it belongs to a real machine.
    """
    from sweatline.assembly.build import build_for
    from sweatline.cli.practice_words import fault_line, print_judgement, short_line
    from sweatline.cli.terminal import paragraph, print_json
    from sweatline.cli.waiting import waiting
    from sweatline.machine.balance import filled
    from sweatline.training.debrief import attempt_judged, exercise_judged
    from sweatline.training.faults import ANY, fault_of
    from sweatline.training.methods import by_advice, by_habit, known_of
    from sweatline.training.simulated_machine import unseen

    if way != "hand" and (slips or pace is not None or log_file is not None):
        raise click.UsageError("--slips, --pace and --log belong to a charging by hand")
    times = _times(pace)
    bench = taught_bench(session, job, True)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    assert session.scale is not None
    scale = session.scale
    fault = None
    if wanted is not None:
        fault_of(wanted, seed, 1.0)  # a wrong name is told before the long work
    with waiting("building the machine"):
        build = build_for(bench, **parts)
        full = build.solve(filled(superheat=bench.targets.superheat), near=build.designed)
        if wanted is not None:
            fault = fault_of(wanted, seed, full.charge)
        machine = unseen(build, full, seed, fault=fault)
    hidden = wanted == ANY
    if way != "hand":
        with waiting("charging"):
            known = known_of(build, full, draws=draws)
            done = (
                by_advice(machine, known)
                if way == "advice"
                else by_habit(machine, full.suction_pressure)
            )
        record = attempt_judged(machine, done, seed, hidden=hidden)
        if as_json:
            print_json(record)
            return
        if done.gave_up:
            paragraph(f"Given up: {done.gave_up}.")
        paragraph(short_line(record, scale))
        if record.fault is not None:
            paragraph(f"The fault was {fault_line(record.fault, scale)}.")
        return
    hands = _Hands(bench, build, full, machine, slips=slips, pace=times, to_error=as_json)
    ended, broken_off = hands.work(log_file, hidden=hidden, wanted=wanted, seed=seed, job=job)
    with waiting("judging"):
        known = known_of(build, full, draws=draws)
        record = exercise_judged(
            hands.exercise, known, full, seed, hidden=hidden, ended=ended, broken_off=broken_off
        )
    if as_json:
        print_json(record)
    else:
        print_judgement(record, scale)


def _times(pace: str | None) -> float | None:
    """How many times as fast as time the machine runs; None when it takes no time."""
    from sweatline.errors import JobError

    if pace is None:
        return None
    try:
        times = 1.0 if pace.strip().casefold() == "real" else float(pace)
        if not 0.1 <= times <= 1e4:
            raise ValueError(pace)
    except ValueError as error:
        raise JobError(
            what="not a pace",
            read=pace,
            allowed="write real, or how many times as fast as time, 0.1 to 10000",
            field="--pace",
        ) from error
    return times


class _Hands:
    """The person at the machine: asks, does, shows."""

    exercise: Exercise

    def __init__(
        self,
        bench: Job,
        build: Build,
        full: SteadyState,
        machine: Unseen,
        *,
        slips: bool,
        pace: float | None,
        to_error: bool,
    ) -> None:
        import numpy as np

        from sweatline.refrigerant.safety_data import safety_data
        from sweatline.training.gauge_readout import Pad
        from sweatline.training.session import Exercise

        self.system = bench.unit_system
        self.to_error = to_error
        self.card = full
        self.most = _LOOKAHEAD * full.charge + 0.05
        as_liquid = safety_data(build.refrigerant.name).charge_as == "liquid"
        self.phase: Literal["liquid", "vapour"] = "liquid" if as_liquid else "vapour"
        pen = np.random.default_rng(int(machine.chance.integers(2**31))) if slips else None
        pad = Pad(bench.unit_system, bench.place.atmospheric_pressure, pen)
        self.exercise = Exercise(
            machine=machine, pad=pad, refrigerant=build.refrigerant.name, pace=pace
        )
        self.rows = 0

    def work(
        self,
        log_file: str | None,
        *,
        hidden: bool,
        wanted: str | None,
        seed: int,
        job: str,
    ) -> tuple[Literal["done", "interrupted", "broken off"], str]:
        """Until the person is done; how it ended, and why it could not go on."""
        from contextlib import nullcontext

        from sweatline.errors import SolveError
        from sweatline.log.logbook import open_log
        from sweatline.units import Scale

        build = self.exercise.machine.build
        scale = Scale(self.system, build.job.place.atmospheric_pressure)
        self._tell(f"{build.name}, machine {seed}" + (f", fault: {wanted}" if wanted else ""))
        book = (
            open_log(
                log_file,
                new=True,
                machine=f"practice, {build.name}, machine {seed}",
                refrigerant=build.refrigerant.name,
                atmosphere=build.job.place.atmospheric_pressure,
                system=self.system,
            )
            if log_file is not None
            else None
        )
        with book if book is not None else nullcontext():
            if book is not None and log_file is not None:
                self.exercise.book = book
                self.exercise.begun_at = time.time()
                asked = f"sweatline charge {job} {log_file}"
                chosen = (
                    f"--compressor '{build.compressor.name}' "
                    f"--refrigerant {build.refrigerant.name} "
                    f"--capillary '{build.capillary.name}'"
                )
                self._say(f"In a second terminal:\n  {asked} \\\n  {chosen}")
            card = self.card
            self._tell(
                f"By the job's best values it is filled with {scale.show(card.charge, 'mass')}, at "
                f"{scale.show(card.suction_pressure, 'pressure')} suction and "
                f"{scale.show(card.discharge_pressure, 'pressure')} head; this one may differ. "
                "Type wait 5 min, add 10 g, done; help lists the rest."
            )
            try:
                self._show(self.exercise.open())
                self._until_done()
            except SolveError as error:
                return "broken off", error.condition
            except (KeyboardInterrupt, click.Abort):
                self._say("")
                return "interrupted", ""
            if hidden and not self.exercise.named:
                try:
                    self._ask_fault()
                except (KeyboardInterrupt, click.Abort):
                    self._say("")
        return "done", ""

    def _until_done(self) -> None:
        from sweatline.cli.practice_words import HELP
        from sweatline.errors import JobError
        from sweatline.training.faults import fault_named
        from sweatline.training.session import step_from

        for typed in self._lines("next> "):
            try:
                step = step_from(typed, most=self.most)
                if step.do == "done":
                    return
                if step.do == "help":
                    self._say(HELP)
                elif step.do == "read":
                    self._show(self.exercise.read())
                elif step.do == "wait":
                    self.exercise.wait(step.amount, self._show)
                elif step.do == "add":
                    done = self.exercise.add(step.amount, step.phase or self.phase)
                    self._say(f"{'':5}{_plus(done.weighed, self.system)} as {done.phase}")
                    self._show(self.exercise.read())
                elif step.do in ("stop", "start"):
                    refused = self.exercise.switch(on=step.do == "start")
                    if refused:
                        self._tell(f"Not done: {refused.rstrip('.')}.")
                    self._show(self.exercise.read())
                elif step.do == "fault":
                    kind = fault_named(step.words)
                    self.exercise.named = "none" if kind is None else kind.key
                    self._say(f"Noted: {'no fault' if kind is None else kind.name}.")
            except JobError as error:
                click.echo(str(error), err=True)

    def _ask_fault(self) -> None:
        from sweatline.errors import JobError
        from sweatline.training.faults import fault_named

        for typed in self._lines("which fault was it, or none> "):
            words = typed.strip()
            if not words:
                return
            try:
                kind = fault_named(words.partition(":")[2] if ":" in words else words)
            except JobError as error:
                click.echo(str(error), err=True)
                continue
            self.exercise.named = "none" if kind is None else kind.key
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
                    self._say("")
                    return
            else:
                line = sys.stdin.readline()
                if not line:
                    return
                self._say(f"{prompt}{line.rstrip()}")
            # With a pace the machine does not stand still while somebody thinks.
            self.exercise.ran_on(time.monotonic() - since, self._show)
            yield line

    def _show(self, found: Round) -> None:
        from sweatline.cli.practice_words import told_round, told_titles

        if self.rows % 20 == 0:
            self._say(told_titles(self.system))
        self.rows += 1
        self._say(told_round(found, self.system))
        for question in found.questions:
            click.echo(f"? {question}", err=True)

    def _tell(self, text: str) -> None:
        from textwrap import fill

        self._say(fill(text, 80, break_on_hyphens=False))

    def _say(self, text: str) -> None:
        click.echo(text, err=self.to_error)


def _plus(mass: float, system: Literal["US", "SI"]) -> str:
    from sweatline.training.gauge_readout import weight

    return f"+{weight(mass, system)}"
