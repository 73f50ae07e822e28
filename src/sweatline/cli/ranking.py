"""The command match: every combination of the parts, ranked."""

from __future__ import annotations

from collections.abc import Sequence

import click

from sweatline.cli.judgements import print_cautions, print_shares, print_verdicts
from sweatline.cli.machines import print_values
from sweatline.cli.options import (
    INTERRUPTED,
    Session,
    calibration_option,
    details_option,
    draw_figures,
    draws_option,
    figures_option,
    job_argument,
    json_option,
    taught_bench,
)
from sweatline.cli.tables import Column, measured, print_table
from sweatline.cli.terminal import heading, listing, paragraph, print_json
from sweatline.cli.waiting import waiting
from sweatline.design import match as design
from sweatline.design.match import Candidate, MatchAnswer
from sweatline.report.reasons import loser_line, losers, not_to_be_built, title_of_ranking
from sweatline.report.sentences import (
    gauges_line,
    headline_of_match,
    named,
    outcome,
    room_line,
    trial_runs,
)
from sweatline.units import Scale


@click.command()
@job_argument
@draws_option(16, "the best gets four times as many.")
@click.option(
    "--top",
    type=click.IntRange(1),
    default=6,
    show_default=True,
    help="Rows of the ranking; what must not be built is told whatever it is.",
)
@calibration_option
@figures_option
@details_option
@json_option
@click.pass_obj
def match(
    session: Session,
    job: str,
    draws: int,
    top: int,
    figures: str | None,
    uncalibrated: bool,
    details: bool,
    as_json: bool,
) -> int:
    """Which of the parts on the bench work together: every combination, ranked."""

    bench = taught_bench(session, job, uncalibrated)
    total = len(design.candidates(bench))
    with waiting(f"solving {total} combinations", determinate=True) as step:
        answer = design.match(bench, draws=draws, progress=step)
    if as_json:
        print_json(answer, "match")
    else:
        _print_match(answer, session.shown, top, details=details)
    if not answer.complete:
        return INTERRUPTED
    if answer.ranked:
        draw_figures(answer, figures, bench)
    return 0


def _print_match(answer: MatchAnswer, scale: Scale, top: int, *, details: bool) -> None:
    """Print a ranking; `top` shortens the table, never what is said about safety."""
    best = answer.ranked[0] if answer.ranked else None
    heading(headline_of_match(answer, scale))
    if best is not None:
        paragraph(outcome(best, scale), indent=2)
        if not best.stopped:
            paragraph(f"{gauges_line(best, scale)}; `sweatline balance` tells the rest.", indent=2)
    paragraph(room_line(answer.job, scale), indent=2)
    if not answer.complete:
        paragraph(
            f"Interrupted: {answer.finished} of {answer.combinations} combinations are finished; "
            "the others are missing from what follows.",
            indent=2,
        )
    listing(("STOP", sentence) for sentence in not_to_be_built(answer))
    if best is not None:
        print_verdicts(best.verdicts, scale, best.draws, details=details)
        _print_ranking(answer, scale, top)
        if details:
            heading("What the best settles at")
            paragraph(trial_runs(best.draws, best.unsolved), indent=2)
            print_values(best, scale, details=details)
        print_shares(best.matters, details=details)
    if details:
        _print_losers(answer, scale)
    elif answer.lost:
        count = len(answer.lost)
        paragraph(
            f"Without a balance: {count} combination{'s' if count > 1 else ''}; --details says why."
        )
    print_cautions(answer.cautions, details=details)


def _print_ranking(answer: MatchAnswer, scale: Scale, top: int) -> None:
    ranked = answer.ranked[:top]
    drawn = any(c.draws for c in ranked)
    heading(title_of_ranking(answer))
    numbers = [
        Column("", [str(rank) for rank, _ in enumerate(ranked, 1)]),
        Column("parts", [named(c.parts, scale) for c in ranked], right=False, wrap=True),
        measured("water", [c.steady.water for c in ranked], "water removal", scale, 2),
    ]
    if drawn:
        dependable = [c.dependable_water for c in ranked]
        numbers += [
            measured("depend-\nable", dependable, "water removal", scale, 2),
            Column("runs\nclean", [f"{100 * c.chance_clean:.0f} %" for c in ranked]),
        ]
    numbers += [
        measured("watts", [c.steady.total_power for c in ranked], "power", scale),
        Column("verdict", [_word(c) for c in ranked], right=False, wrap=True),
    ]
    print_table(numbers)
    if len(answer.ranked) > top:
        solved = len(answer.ranked)
        paragraph(f"{solved - top} more are solved: --top {solved} lists all.", indent=2)


def _word(c: Candidate) -> str:
    return "STOP" if c.stopped else c.word


def _print_losers(answer: MatchAnswer, scale: Scale) -> None:
    groups = losers(answer, scale)
    if groups:
        heading("Why the others lose")
        rows: list[Sequence[str]] = []
        for reason, names in groups.items():
            rows.append((f"{len(names)}", f"{reason[:1].upper()}{reason[1:]}"))
            rows += [("", loser_line(one, scale)) for one in names]
        listing(rows)
