"""What the commands share: arguments, quantities as a person writes them, the choice of parts."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar

import click

from sweatline.cli.quantity import Quantity, Written, value
from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.job.model import Job
    from sweatline.report.figures import Drawable
    from sweatline.units import Scale


F = TypeVar("F", bound=Callable[..., Any])

INTERRUPTED = 130  # exit code, by the custom of shells

ALTITUDE = Quantity("altitude", low=-430.0, high=5000.0)


@dataclass(slots=True)
class Session:
    """What is known while a command runs, so that a mistake is told in the right units."""

    scale: Scale | None = field(default=None)
    command: click.Command | None = field(default=None)

    @property
    def shown(self) -> Scale:
        """How numbers are shown, once a job has been read."""
        assert self.scale is not None, "no job has been read"
        return self.scale


job_argument = click.argument("job", metavar="JOB")

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print the answer in SI units for other programs."
)

details_option = click.option(
    "--details", is_flag=True, help="All numbers, sources and reasons behind the answer."
)

figures_option = click.option(
    "--figures", metavar="FOLDER", help="Draw figures into this folder as well."
)

charge_option = click.option(
    "--charge",
    type=Quantity("mass", low=1e-3, high=20.0),
    metavar="MASS",
    help='As "240 g"; by default charged to the target superheat in the job\'s room.',
)


def draws_option(default: int, more: str = "0 leaves the ranges out.") -> Callable[[F], F]:
    """Option for the number of trial runs."""
    return click.option(
        "--draws",
        type=click.IntRange(0, 4096),
        metavar="N",
        default=default,
        show_default=True,
        help=f"Trial runs with every uncertain number varied, up to the next power of two; {more}",
    )


def _together(*options: Callable[[F], F]) -> Callable[[F], F]:
    """Several options as one decorator, in their order."""
    return lambda command: functools.reduce(lambda f, option: option(f), options[::-1], command)


# Options that choose one combination of the parts on the bench.
part_options = _together(
    click.option("--compressor", metavar="NAME", help="Compressor, by name or number."),
    click.option("--refrigerant", metavar="NAME", help="Refrigerant; any in the tables."),
    click.option("--capillary", metavar="NAME", help="Capillary, by name or number."),
    click.option(
        "--length",
        type=Quantity("length", low=0.05, high=50.0),
        metavar="LENGTH",
        help='Of the capillary, as "1.2 m"; by default cut to suit.',
    ),
)


# Options that put the machine into another room than the job's.
room_options = _together(
    click.option(
        "--room-temperature",
        type=Quantity("temperature", low=243.15, high=333.15),
        metavar="T",
        help='Another room, as "12 C".',
    ),
    click.option(
        "--room-humidity",
        type=Quantity("relative humidity", low=0.01, high=1.0),
        metavar="RH",
        help='Another room, as "80 %RH".',
    ),
)


# Options of the commands that know no job.
unit_options = _together(
    click.option(
        "--altitude", type=ALTITUDE, metavar="H", help='Sets the zero of gauges, as "640 m".'
    ),
    click.option(
        "--units",
        type=click.Choice(["US", "SI"], case_sensitive=False),
        metavar="US|SI",
        help="Unit system of the answer; by default that of what you wrote.",
    ),
)


def site_atmosphere(altitude: Written | None) -> float:
    """Atmospheric pressure at an altitude as written; at sea level when none is. [Pa]"""
    if altitude is None:
        return STANDARD_ATMOSPHERE
    from sweatline.job.defaults import atmospheric_pressure

    return atmospheric_pressure(altitude.si())


def read_bench(session: Session, path: str) -> Job:
    """Job of a file; from here on mistakes are told in its units."""
    from sweatline.job.reading import read_job
    from sweatline.units import Scale

    job = read_job(path)
    session.scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    return job


calibration_option = click.option(
    "--uncalibrated",
    is_flag=True,
    help="Leave out what readings of the machine as it ran teach.",
)


def taught_bench(session: Session, path: str, uncalibrated: bool) -> Job:
    """Job of a file, calibrated to the machine as it ran when the job has readings of it."""
    job = read_bench(session, path)
    if uncalibrated or job.original.compressor is None:
        return job
    from sweatline.assembly.calibration import calibrated
    from sweatline.cli.waiting import waiting

    with waiting("calibrating to the machine as it ran"):
        return calibrated(job)


def moved_room(job: Job, temperature: Written | None, humidity: Written | None) -> Job:
    """The job in the room that the options name."""
    from sweatline.job.model import in_other_room

    return in_other_room(
        job,
        temperature=value(temperature),
        relative_humidity=value(humidity),
    )


class ChosenParts(TypedDict):
    """What every question about one choice of parts takes."""

    compressor: int
    refrigerant: str
    capillary: int
    length: float | None


def chosen_parts(
    job: Job,
    *,
    compressor: str | None,
    refrigerant: str | None,
    capillary: str | None,
    length: Written | None = None,
) -> ChosenParts:
    """The parts that the options name, and the capillary's length."""
    from sweatline.assembly.build import choose

    i, name, j = choose(job, compressor=compressor, refrigerant=refrigerant, capillary=capillary)
    return ChosenParts(compressor=i, refrigerant=name, capillary=j, length=value(length))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a command about one choice of parts is asked with, besides its own options."""

    session: Session
    job: str
    compressor: str | None
    refrigerant: str | None
    capillary: str | None
    length: Written | None
    uncalibrated: bool
    details: bool
    as_json: bool

    def bench(self) -> Job:
        """The job, calibrated unless that was not wanted."""
        return taught_bench(self.session, self.job, self.uncalibrated)

    def parts(self, bench: Job) -> ChosenParts:
        """The choice of parts."""
        return chosen_parts(
            bench,
            compressor=self.compressor,
            refrigerant=self.refrigerant,
            capillary=self.capillary,
            length=self.length,
        )


def machine_options(command: Callable[..., int | None]) -> Callable[..., int | None]:
    """Options of every command about one choice of parts, handed on as one :class:`Asked`."""

    @functools.wraps(command)
    def asked_with(**given: Any) -> int | None:
        shared = {f.name: given.pop(f.name) for f in fields(Asked) if f.name in given}
        return command(Asked(session=click.get_current_context().obj, **shared), **given)

    after = calibration_option(details_option(json_option(asked_with)))
    return job_argument(part_options(after))


def draw_figures(answer: Drawable, folder: str | None, job: Job) -> None:
    """Draw the figures of an answer into a folder, named after the job file, and say where."""
    if folder is None:
        return
    from sweatline.cli.terminal import aside
    from sweatline.report.figures import write_figures

    for path in write_figures(answer, Path(folder), Path(job.path).stem, job.unit_system):
        aside(f"Figure: {path}")
