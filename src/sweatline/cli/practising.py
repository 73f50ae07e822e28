"""The command practice: charge a machine that exists only here."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sweatline.cli.charging import KINDS
from sweatline.cli.options import (
    Session,
    chosen_parts,
    job_argument,
    part_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.cli.speech import Scale

__all__ = ["practice"]


@click.command(short_help="Charge a machine that exists only here.")
@job_argument
@part_options
@click.option("--seed", type=int, default=1, show_default=True, help="Which hidden machine.")
@click.option(
    "--way",
    type=click.Choice(["hand", "advice", "habit"]),
    default="hand",
    show_default=True,
    help="You, the advice, or half an ounce every five minutes.",
)
@click.pass_obj
def practice(
    session: Session,
    job: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    seed: int,
    way: str,
) -> None:
    """Charge a machine drawn from what the job leaves open, faster than time.

    It runs with a little over half of its charge. By hand, type: `wait 5 min`, `add 10 g`, `done`.
    The end tells how near the best charge it came. No figure of it belongs to a real machine.
    """
    from sweatline.cli.waiting import waiting
    from sweatline.machine.balance import filled
    from sweatline.study.foreknowledge import foreknow
    from sweatline.study.practice import by_advice, by_habit, unseen
    from sweatline.study.rig import rig_for

    bench = taught_bench(session, job, True)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    assert session.scale is not None
    scale = session.scale
    with waiting("building the machine"):
        rig = rig_for(bench, **parts)
        full = rig.solve(filled(superheat=bench.targets.superheat), near=rig.designed)
        machine = unseen(rig, full, seed)
    if way == "hand":
        additions, time = _by_hand(machine, scale)
    else:
        with waiting("charging"):
            if way == "advice":
                done = by_advice(machine, foreknow(rig, full))
            else:
                done = by_habit(machine, full.suction_pressure)
        additions, time = done.additions, done.time
        if done.gave_up:
            click.echo(f"Given up: {done.gave_up}.")
    miss = machine.run.charge / machine.best - 1.0
    side = "over" if miss > 0.0 else "short of"
    click.echo(
        f"{rig.name}, machine {seed}: {scale.show(machine.run.charge, 'mass')} in, "
        f"{abs(miss):.1%} {side} the best charge of {scale.show(machine.best, 'mass')}; "
        f"{additions} additions, {time / 60.0:.0f} min."
    )


def _by_hand(machine: object, scale: Scale) -> tuple[int, float]:
    """Ask for the next step until the person is done; additions, and time in seconds."""
    from sweatline.errors import JobError
    from sweatline.study.practice import Unseen
    from sweatline.units import parse

    assert isinstance(machine, Unseen)
    additions, time = 0, 0.0
    machine.wait(60.0)
    while True:
        shown = [f"{n} {scale.show(v, KINDS[n])}" for n, v in machine.read().items()]
        click.echo(
            f"{time / 60.0:5.1f} min  {scale.show(machine.weighed, 'mass')} in; " + "; ".join(shown)
        )
        try:
            typed = click.prompt("next", prompt_suffix="> ", default="done", show_default=False)
        except click.Abort:
            return additions, time
        verb, _space, rest = typed.strip().partition(" ")
        try:
            if verb == "done":
                return additions, time
            if verb == "wait":
                seconds = parse(rest or "1 min", "time").value
                if not 0.0 < seconds <= 6 * 3600.0:
                    raise JobError(what="wait between a second and six hours", read=rest)
                machine.wait(seconds)
                time += seconds
            elif verb == "add":
                mass = parse(rest, "mass").value
                if not 0.0 < mass <= 0.5 * machine.best + 0.05:
                    raise JobError(what="too much for one addition, or nothing", read=rest)
                machine.add(mass)
                machine.wait(20.0)
                time += 20.0
                additions += 1
            else:
                raise JobError(what="type wait, add or done", read=typed)
        except JobError as error:
            click.echo(str(error), err=True)
