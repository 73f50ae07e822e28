"""Commands that look at a job file and at formats: check and schema."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from sweatline.cli.options import Session, job_argument, json_option, read_bench
from sweatline.units import Scale

if TYPE_CHECKING:  # other commands start without the room of jobs
    from sweatline.job.explanation import Check, Item, KnownCompressor
    from sweatline.job.model import Job


@click.command()
@job_argument
@click.option("--details", is_flag=True, help="Every number: where it comes from and why.")
@json_option
@click.pass_obj
def check(session: Session, job: str, details: bool, as_json: bool) -> None:
    """What was read from a job file, what to measure first, and what is assumed.

    Of each compressor also displacement, filling and losses as they follow from what is written,
    and how well its table or map is met: with --details, or where it is known by its plate alone
    or by more than one rating or its displacement.
    """
    from sweatline.cli.terminal import print_json
    from sweatline.job.explanation import check as checked

    bench = read_bench(session, job)
    # Where one fact is all that is known nothing can disagree, and no model has to be loaded; save
    # where that is the plate, which leaves the cylinder open.
    wanted = (
        details
        or as_json
        or any(
            one.map is not None or len(one.ratings) + (one.displacement is not None) != 1
            for one in (*bench.compressors, bench.original.compressor)
            if one is not None
        )
    )
    answer = checked(bench, _known(bench) if wanted else ())
    if as_json:
        print_json(answer, "check")
    else:
        _print_check(bench, answer, details=details)


def _known(job: Job) -> tuple[KnownCompressor, ...]:
    from sweatline.assembly.pumping import known_compressors

    return known_compressors(job)


def _print_check(job: Job, answer: Check, *, details: bool) -> None:
    from sweatline.cli.terminal import gap, heading, paragraph

    heading(job.title)
    paragraph(_understood(job, answer))
    _print_first(job, answer)
    _print_compressors(job, answer)
    _print_assumed(answer)
    if details:
        for part, group in groupby(answer.items, key=lambda item: item.part):
            heading(part[:1].upper() + part[1:])
            _print_items(job, list(group))
    else:
        gap()
        paragraph(f"Every number and its reason: sweatline check {job.path} --details")


def _count(n: int, word: str, many: str = "") -> str:
    return f"{n} {word}" if n == 1 else f"{n} {many or word + 's'}"


def _understood(job: Job, answer: Check) -> str:
    """The answer in a sentence or two."""
    parts = [
        _count(len(job.compressors), "compressor"),
        _count(len(job.refrigerants), "refrigerant"),
        _count(len(job.capillaries), "capillary", "capillaries"),
    ]
    if job.ran_well:
        parts.append(_count(len(job.ran_well), "set of readings", "sets of readings"))
    assumed = len(answer.assumed)
    matter = len(answer.measure_first)
    text = f"Understood: a {job.kind} with {', '.join(parts)}; results in {job.unit_system} units."
    if assumed:
        text += f" {_count(assumed, 'value is', 'values are')} assumed."
    else:
        text += " Nothing is assumed."
    if matter:
        text += f" {_count(matter, 'number matters', 'numbers matter')} most."
    return text


def _print_first(job: Job, answer: Check) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    if not answer.measure_first:
        return
    heading("Measure first")
    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    listing(
        (
            f"{n}",
            f"{_named(one.item)}, now {one.item.shown(scale)} ± "
            f"{one.item.spread(scale)}: {one.moves} ± {one.percent:.0f} %. "
            f"Better: {one.how}.",
        )
        for n, one in enumerate(answer.measure_first, 1)
    )
    paragraph("Ranked for a usual machine; sweatline balance ranks for your choice of parts.")


def _named(item: Item) -> str:
    """What it is, with its part; a line's label says which line."""
    return item.label if item.table == "lines" else f"{item.place} {item.label}"


def _print_assumed(answer: Check) -> None:
    from sweatline.cli.terminal import heading, listing
    from sweatline.job.keys import fields_of
    from sweatline.job.model import Job

    aside = {f.table.name for f in fields_of(Job) if f.table is not None and f.table.aside}
    assumed = [item for item in answer.of_origin("default") if item.table not in aside]
    if not assumed:
        return
    heading("Assumed, because nobody wrote it")
    parts: dict[str, list[str]] = {}  # parts that lack the same, by what they lack
    for place, group in groupby(assumed, key=lambda item: item.place):
        lacking = ", ".join(dict.fromkeys(item.label for item in group))
        parts.setdefault(lacking, []).append(place)
    listing((", ".join(names), lacking) for lacking, names in parts.items())


def _print_compressors(job: Job, answer: Check) -> None:
    from sweatline.cli.terminal import heading, listing, paragraph

    if not answer.compressors:
        return
    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    heading("Compressors, as they follow from what is written")
    for one in answer.compressors:
        for doubt in one.doubts:
            paragraph(f"CHECK  {one.name}: {doubt}")
    listing((one.name, _inferred(one, scale)) for one in answer.compressors)


def _inferred(one: KnownCompressor, scale: Scale) -> str:
    low, high = one.evaporating_temperature, one.condensing_temperature
    found = (
        f"by {one.source}: {scale.show(one.displacement, 'volume')}, filled to "
        f"{100.0 * one.volumetric_efficiency:.0f} % at {scale.show(low, 'temperature')} "
        f"evaporating and {scale.show(high, 'temperature')} condensing with {one.refrigerant}; of "
        f"{scale.show(one.power, 'power')} there {scale.show(one.fixed_loss, 'power')} are fixed "
        f"loss and {100.0 * one.isentropic_efficiency:.0f} % compress."
    )
    misses = (
        ("capacity", one.capacity_miss),
        ("watts", one.watts_miss),
        ("flow", one.throughput_miss),
    )
    met = [f"{what} within {100.0 * m:.1f} %" for what, m in misses if m is not None]
    return f"{found} Table met: {', '.join(met)} (rms)." if met else found


def _print_items(job: Job, items: list[Item]) -> None:
    from sweatline.cli.tables import Column, print_table

    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    print_table(
        [
            Column("", [item.label for item in items], right=False, wrap=True),
            Column("value", [item.shown(scale) for item in items], wrap=True),
            Column("±", [item.spread(scale) for item in items]),
            Column("origin", [item.origin for item in items], right=False),
            Column("why", [item.note for item in items], right=False, wrap=True),
        ]
    )


@click.command()
@click.argument("name", required=False)
def schema(name: str | None) -> None:
    """The JSON schema of a command's --json output, or of a job file under the name job."""
    import json

    from sweatline.cli.schemas import COMMANDS
    from sweatline.cli.schemas import schema as schema_of

    if name is None:
        click.echo("\n".join(("job", *COMMANDS)))
    else:
        click.echo(json.dumps(schema_of(name), indent=2, ensure_ascii=False))
