"""Commands that look at a job file and at formats: check and schema."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from sweatline.cli.options import Session, job_argument, json_option, read_bench

if TYPE_CHECKING:
    from sweatline.design.records import CheckRecord

__all__ = ["check", "schema"]


@click.command(short_help="What was read from a job file, and what is assumed.")
@job_argument
@json_option
@click.pass_obj
def check(session: Session, job: str, as_json: bool) -> None:
    """What was read from a job file, where each number comes from, and what is assumed."""
    from sweatline.cli.terminal import print_json
    from sweatline.design.recording import check_record

    record = check_record(read_bench(session, job))
    if as_json:
        print_json(record)
    else:
        _print_check(record)


def _print_check(record: CheckRecord) -> None:
    from sweatline.cli.tables import Column, print_table
    from sweatline.cli.terminal import gap, heading, listing, paragraph

    if record.job.title:
        heading(record.job.title)
    paragraph(f"{record.job.path}, results in {record.job.unit_system} units")
    for part, group in groupby(record.rows, key=lambda r: r.part):
        rows = list(group)
        heading(part[:1].upper() + part[1:])
        print_table(
            [
                Column("", [r.field for r in rows], right=False, wrap=True),
                Column("value", [r.value for r in rows], wrap=True),
                Column("±", [r.uncertainty for r in rows]),
                Column("origin", [r.origin for r in rows], right=False),
                Column("why", [r.note for r in rows], right=False, wrap=True),
            ]
        )
    gap()
    if record.defaults:
        heading(f"Not written, so assumed ({len(record.defaults)} numbers)")
        pairs = [d.partition(": ") for d in record.defaults]
        listing(
            (part, ", ".join(field for _, _, field in group))
            for part, group in groupby(pairs, key=lambda p: p[0])
        )
        paragraph(
            "A default is wide. `sweatline balance` tells which of them matter for your machine; "
            "measure those."
        )
    else:
        paragraph("Every number was written; nothing is assumed.")


@click.command(short_help="JSON schema of a record or of a job file.")
@click.argument("name", required=False)
def schema(name: str | None) -> None:
    """The JSON schema of a command's --json output, or of a job file under the name job."""
    import json

    from sweatline.design.records import RECORDS
    from sweatline.design.records import schema as schema_of

    if name is None:
        click.echo("\n".join(("job", *RECORDS)))
    else:
        click.echo(json.dumps(schema_of(name), indent=2, ensure_ascii=False))
