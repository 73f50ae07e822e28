"""The command sweep: many machines at once, kept as they are done."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sweatline.cli.options import INTERRUPTED, json_option
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.units import Scale

if TYPE_CHECKING:
    from sweatline.study.study import SweepAnswer


@click.command()
@click.argument("study_file", metavar="STUDY")
@click.option("--into", metavar="FOLDER", help="Where the rows are kept; by default STUDY-rows.")
@click.option(
    "--workers", type=click.IntRange(1, 256), default=1, show_default=True, metavar="N",
    help="Processes of this machine.",
)  # fmt: skip
@click.option(
    "--scheduler", metavar="ADDRESS",
    help='Of a Dask cluster that is there, as "tcp://10.0.0.5:8786", instead of processes.',
)  # fmt: skip
@click.option(
    "--top", type=click.IntRange(0, 1000), default=10, show_default=True, metavar="N",
    help="How many of the best are shown.",
)  # fmt: skip
@click.option("--figures", metavar="FOLDER", help="Draw the cases into this folder as well.")
@json_option
def sweep(
    study_file: str,
    into: str | None,
    workers: int,
    scheduler: str | None,
    top: int,
    figures: str | None,
    as_json: bool,
) -> int:
    """Compute every case of a study; one that was cut off goes on where it was.

    STUDY names a job and what is varied in it; `sweatline sweep` keeps a row for each case as
    Parquet, in SI with the names that `--json` uses.
    """
    from sweatline.cli.waiting import waiting
    from sweatline.study.cases import read_study
    from sweatline.study.study import sweep as run

    study = read_study(study_file)
    folder = into or f"{Path(study_file).with_suffix('')}-rows"
    with waiting(f"{study.count} cases", determinate=True) as step:
        answer = run(
            study, folder, processes=workers, scheduler=scheduler or "", top=top, progress=step
        )
    if as_json:
        print_json(answer, "sweep")
    else:
        _print(answer)
    if figures is not None:
        from sweatline.report.sweep_panel import draw_sweep

        for path in draw_sweep(answer).save(Path(figures), f"{Path(study_file).stem}-cases"):
            click.echo(f"Figure: {path}", err=True)
    return 0 if answer.complete else INTERRUPTED


def _print(answer: SweepAnswer) -> None:
    from sweatline.job.model import PARTS
    from sweatline.study.compute import quantities_kept

    study = answer.study
    told = f"{answer.done} of {answer.cases} cases done"
    if answer.computed < answer.done:
        told += f", {answer.computed} of them now"
    heading(f"{told}; rows in {answer.folder}.")
    if answer.computed:
        each = 1e3 * answer.seconds / answer.computed
        paragraph(f"{answer.seconds:.0f} s, {each:.0f} ms for each case.", indent=2)
    if answer.reasons:
        heading(f"{answer.failed} cases have no answer")
        often = sorted(answer.reasons.items(), key=lambda one: -one[1])[:8]
        listing((f"{count}", reason) for reason, count in often)
    if not answer.best:
        return
    quantity = next((q for q in quantities_kept(study.answer) if q.key == answer.rank_by), None)
    ranked: list[Any] = [row[answer.rank_by] for row in answer.best]
    name = answer.rank_by.replace("_", " ") if quantity is None else quantity.label or quantity.name
    heading(f"The best, by {name}")
    column = (
        Column(name, [_cell(value) for value in ranked])
        if quantity is None
        else measured(name, ranked, quantity.kind, Scale(study.unit_system))
    )
    several = [n for n, there in zip(PARTS, study.parts, strict=True) if len(there) > 1]
    print_table(
        [
            Column("case", [str(row["case"]) for row in answer.best]),
            *(Column(n, [str(row[n]) for row in answer.best], False) for n in several),
            *(Column(key.replace(".", "\n"), [str(row[key]) for row in answer.best])
              for key in study.keys),
            column,
        ]
    )  # fmt: skip


def _cell(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)
