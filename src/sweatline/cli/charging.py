"""The commands charge and practice: the next dose, and a machine to try it on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sweatline.cli.options import (
    Session,
    calibration_option,
    chosen_parts,
    job_argument,
    json_option,
    part_options,
    taught_bench,
)

if TYPE_CHECKING:
    from sweatline.cli.speech import Scale
    from sweatline.study.bench_records import ChargingRecord, OutlookRecord
    from sweatline.units import Kind

__all__ = ["charge", "practice"]

_KINDS: Final[dict[str, Kind]] = {
    "suction gauge": "pressure",
    "head gauge": "pressure",
    "suction gas": "temperature",
    "liquid line": "temperature",
    "watts": "power",
}


@click.command(short_help="While charging: wait, add so much, or stop.")
@job_argument
@click.argument("log_file", metavar="LOG")
@part_options
@calibration_option
@json_option
@click.pass_obj
def charge(
    session: Session,
    job: str,
    log_file: str,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: str | None,
    uncalibrated: bool,
    as_json: bool,
) -> None:
    """What to do next while a machine is charged, from what its LOG says.

    Keep the log with `sweatline log`: what was let in (`added`) and readings of suction-gauge,
    head-gauge and suction-gas (on the tube at the evaporator's outlet), better also of liquid-line
    and watts. Ask again after every few readings.
    """
    from sweatline.cli.terminal import print_json
    from sweatline.cli.waiting import waiting
    from sweatline.study.charging import charging
    from sweatline.study.logbook import open_log

    bench = taught_bench(session, job, uncalibrated)
    parts = chosen_parts(
        bench, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with open_log(log_file) as book, waiting("charging drawn machines"):
        record = charging(bench, book, **parts)
    if as_json:
        print_json(record)
    else:
        assert session.scale is not None
        _print(record, session.scale)


def _print(record: ChargingRecord, scale: Scale) -> None:
    from sweatline.cli.judgements import print_cautions
    from sweatline.cli.terminal import gap, heading, paragraph

    words = {
        "wait": "Wait",
        "read": "More readings",
        "stop": "Stop: add no more",
        "add": f"Add {scale.show(record.dose_kg, 'mass')}",
        "take out": f"Take out {scale.show(-(record.dose_kg or 0.0), 'mass')}",
    }
    heading(words[record.action])
    paragraph(record.reason[:1].upper() + record.reason[1:] + ".")
    gap()
    paragraph(f"In the machine by the scale: {scale.show(record.charge_kg, 'mass')}.")
    if record.best_charge_kg is not None:
        best = record.best_charge_kg
        paragraph(
            f"Best charge by these readings: {scale.show(best.median, 'mass')}, nine tenths "
            f"{scale.show(best.low, 'mass')} to {scale.show(best.high, 'mass')}."
        )
    if record.outlooks:
        gap()
        _print_outlooks(record.outlooks, scale)
    print_cautions(record.cautions)


def _print_outlooks(outlooks: tuple[OutlookRecord, ...], scale: Scale) -> None:
    from sweatline.cli.tables import Column, print_table

    def told(value: float | None, name: str) -> str:
        return scale.show(value, _KINDS[name])

    rows = [o for o in outlooks if o.what in _KINDS]
    bands = [(o.what, o.settles_SI) for o in rows]
    columns = [
        Column("", [o.what for o in rows], right=False),
        Column("read", [told(o.last_SI, o.what) for o in rows]),
        Column("settles at", [told(o.settles_SI.median, o.what) for o in rows]),
        Column(
            "nine tenths",
            [f"{told(b.low, n)} to {told(b.high, n)}" for n, b in bands],
            right=False,
            wrap=True,
        ),
        Column(
            "look again",
            ["settled" if o.state == "settled" else f"{o.look_again_s:.0f} s" for o in rows],
        ),
    ]
    if any(o.expected_after_SI is not None for o in rows):
        columns.append(
            Column(
                "after the dose",
                [
                    "-" if o.expected_after_SI is None else told(o.expected_after_SI.median, o.what)
                    for o in rows
                ],
            )
        )
    print_table(columns)


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
    from sweatline.study.practice import by_advice, by_habit, foreknow, unseen
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
        shown = [f"{n} {scale.show(v, _KINDS[n])}" for n, v in machine.read().items()]
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
