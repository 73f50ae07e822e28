"""Command `start-gear`: capacitor, relay, start against pressure, load of the motor, the cord."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import click

from sweatline.bench.start_gear.equalising import rest_in
from sweatline.bench.start_gear.start_gear import StartGearAnswer, StartGearRequest
from sweatline.bench.start_gear.start_gear import start_gear as answer
from sweatline.cli.options import calibration_option, taught_bench
from sweatline.cli.sources import Shelf, Sources, bench_options
from sweatline.cli.terminal import told_parts
from sweatline.cli.waiting import SOLVER_KERNEL
from sweatline.log.lines import moment
from sweatline.report.start import start_told

if TYPE_CHECKING:
    from sweatline.units import Scale


@click.command()
@bench_options(StartGearRequest)
@calibration_option
@click.option("--at", metavar="TIME", help="With --log: when it is to start; else now.")
def start_gear(shelf: Shelf, *, uncalibrated: bool, at: str | None) -> None:
    """Judge what starts a motor and what it carries; the plate comes first.

    With a job: load settled and at pull-down with its chance to exceed the plate, and how long
    the sides take to come equal after a stop. With a job, or with --motor-kind, --motor, --torque
    or --metering: what to fit, and how it is wired. With readings: amperes, watts and power factor
    against the plate. With --cord, --capacitor, --windings or --device: those. Says how to drain a
    capacitor.

    From --log: how long it has stood since the event `stopped`, the gauges read since, what
    head-gauge, suction-gauge, volts, amps and watts showed while it ran, and whether the circuit
    stands under vacuum, when it must not be started at all.
    """
    typed = shelf.typed
    asked = typed.keys() & {
        "volts", "amps", "watts", "cord", "motor_power", "capacitor", "use", "reads", "instead",
        "tube", "windings", "device", "torque", "off_time", "standing_head", "standing_suction",
        "motor_kind", "metering",
    }  # fmt: skip
    if not (shelf.job or shelf.log_file or asked):
        raise click.UsageError(
            "give --log, a job, readings (--volts, --amps, --watts), --cord, --capacitor, "
            "--windings, --device, --motor-kind, --metering or --tube"
        )
    if at is not None and shelf.log_file is None:
        raise click.UsageError("--at is about a log: give --log")
    job = functools.partial(taught_bench, uncalibrated=uncalibrated)
    sources = Sources(shelf, StartGearRequest, job)
    read = functools.partial(rest_in, now=moment(at), typed=typed)
    request = sources.request(sources.logged(read, alone=True))
    kernel = None if shelf.job is None else SOLVER_KERNEL
    sources.tell(answer, request, _print, "working out the start", kernel)


def _print(a: StartGearAnswer, scale: Scale, details: bool) -> None:
    told_parts(start_told(a, scale, details))
