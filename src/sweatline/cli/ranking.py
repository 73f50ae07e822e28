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
from sweatline.report.sentences import (
    between,
    chance,
    headline_of_match,
    named,
    outcome,
    room_line,
    trial_runs,
    verdict_number,
)
from sweatline.units import Scale

_WORTH_TELLING = 0.2  # chance of a fault that explains a lower rank


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
            paragraph(_gauges(best, scale), indent=2)
    paragraph(room_line(answer.job, scale), indent=2)
    if not answer.complete:
        paragraph(
            f"Interrupted: {answer.finished} of {answer.combinations} combinations are finished; "
            "the others are missing from what follows.",
            indent=2,
        )
    _print_stopped(answer)
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


def _gauges(best: Candidate, scale: Scale) -> str:
    """What will be read on it, in a line."""
    s, bands = best.steady, best.bands
    suction = scale.show(s.suction_pressure, "pressure")
    suction += between(bands.get("suction_pressure_Pa"), "pressure", scale)
    head = scale.show(s.discharge_pressure, "pressure")
    head += between(bands.get("discharge_pressure_Pa"), "pressure", scale)
    return f"Suction {suction}, head {head}; `sweatline balance` tells the rest."


def _print_stopped(answer: MatchAnswer) -> None:
    """What must not be built, by its reason; always told."""
    reasons: dict[str, list[str]] = {}
    for c in answer.ranked:
        if c.stopped:
            reasons.setdefault(c.word, []).append(c.parts.refrigerant)
    listing(
        (
            "STOP",
            f"{len(names)} of {answer.combinations} combinations "
            f"({', '.join(dict.fromkeys(names))}) must not be built: {reason}.",
        )
        for reason, names in reasons.items()
    )


def _print_ranking(answer: MatchAnswer, scale: Scale, top: int) -> None:
    ranked = answer.ranked[:top]
    drawn = any(c.draws for c in ranked)
    heading(
        "Ranked by dependable water (a trial run with a fault counts as none)"
        if drawn
        else "Ranked by water, without trial runs"
    )
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
    """Why each other combination loses, grouped by the reason."""
    groups: dict[str, list[str]] = {}
    for rank, c in enumerate(answer.ranked[1:], 2):
        reason, more = _loses(c, answer.ranked[0], scale)
        groups.setdefault(reason, []).append(f"{rank} {named(c.parts, scale)}{more}")
    for lost in answer.lost:
        parts = f"{lost.compressor} + {lost.refrigerant} + {lost.capillary}"
        groups.setdefault(f"no balance: {lost.reason}", []).append(parts)
    if groups:
        heading("Why the others lose")
        rows: list[Sequence[str]] = []
        for reason, names in groups.items():
            rows.append((f"{len(names)}", f"{reason[:1].upper()}{reason[1:]}"))
            rows += [("", name) for name in names]
        listing(rows)


def _loses(c: Candidate, best: Candidate, scale: Scale) -> tuple[str, str]:
    """Reason that several combinations may share, and what this one shows."""
    worst = c.worst
    if worst is not None and worst.state == "fails":
        shown = ""
        if worst.number is not None and worst.kind not in (None, "ratio"):
            shown = f": {verdict_number(worst.number, worst.kind, scale)}"
        return f"STOP, {worst.fault}" if c.stopped else worst.fault, shown
    if not c.draws:
        against = scale.show(best.steady.water, "water removal", 2)
        water = scale.show(c.steady.water, "water removal", 2)
        return f"less water than the best's {against}", f": {water}"
    against = scale.show(best.dependable_water, "water removal", 2)
    text = f": {scale.show(c.dependable_water, 'water removal', 2)}"
    likely = max(c.verdicts, key=lambda v: v.probability or 0.0)
    if likely.probability is not None and likely.probability > _WORTH_TELLING:
        text += f"; {likely.fault}, {chance(likely.probability, c.draws)}"
    return f"less dependable water than the best's {against}", text
