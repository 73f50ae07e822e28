"""A year in words: is the room dry, does the machine ice up, what does it take, is it worth it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sweatline.answers import Range
from sweatline.job.year import Control
from sweatline.report.sentences import between
from sweatline.season.settings import Setting, Settings
from sweatline.season.worth import Way, WorthAnswer
from sweatline.season.year import YearAnswer
from sweatline.units import Scale

_SOME: Final = 86400.0  # s in a year that are worth a word


def money(amount: float, currency: str) -> str:
    """An amount with its currency, in digits a person can use."""
    return amounts([amount], currency)[0]


def amounts(found: Sequence[float], currency: str) -> list[str]:
    """Amounts that are read beside each other, all in the digits of the largest."""
    digits = 0 if max(abs(one) for one in found) >= 20.0 else 2
    return [f"{one:.{digits}f} {currency}" for one in found]


def days(seconds: float) -> str:
    """Time of a year as a person counts it."""
    if seconds < 3600.0:
        return "never"
    if seconds < 2.0 * 86400.0:
        return f"{seconds / 3600.0:.0f} h"
    return f"{seconds / 86400.0:.0f} days"


def headline_of_year(answer: YearAnswer, scale: Scale) -> str:
    """Whether the room is dry enough through the year, and what that takes."""
    total = answer.total
    limit = scale.show(answer.wished, "relative humidity", 2)
    if total.iced_up > 10.0 * _SOME:
        return f"It ices up: {days(total.iced_up)} of the year it runs with its airflow halved."
    damp = answer.ranges.get("too_damp_s")
    if total.too_damp < 7.0 * _SOME:
        sure = damp is None or damp.high < 7.0 * _SOME
        told = f"It {'keeps' if sure else 'should keep'} the room below {limit} all year"
        if total.too_damp >= 3600.0:
            told += f", but for {days(total.too_damp)}"
    else:
        told = f"The room is above {limit} for {days(total.too_damp)} of the year"
    if damp is not None and damp.high - damp.low > _SOME:
        told += f" (too damp for {days_between(damp)} likely)"
    return f"{told}; without a machine {days(answer.without.too_damp)}."


def days_between(found: Range) -> str:
    """A range of times of a year."""
    return f"{found.low / 86400.0:.0f} to {found.high / 86400.0:.0f} days"


def takes(answer: YearAnswer, scale: Scale) -> list[tuple[str, str]]:
    """What the year takes: energy, money, water, buckets, starts, ice."""
    total, ranges = answer.total, answer.ranges
    energy = scale.show(total.energy, "energy") + between(ranges.get("energy_J"), "energy", scale)
    found = [("energy", energy)]
    if answer.cost is not None:
        found.append(("cost", money(answer.cost, answer.currency)))
    water = scale.show(total.water, "volume") + between(ranges.get("water_m3"), "volume", scale)
    found.append(("water", water))
    if answer.buckets_a_week is not None:
        found.append(("buckets", f"{answer.buckets_a_week:.1f} a week"))
    found.append(("running", f"{days(total.running)}, {total.starts:.1f} starts a day"))
    if total.frozen >= 3600.0:
        found.append(
            ("ice", f"on the coil for {days(total.frozen)}, iced up {days(total.iced_up)}")
        )
    if total.too_cold >= 3600.0:
        found.append(("held off", f"by the low-temperature cut-out for {days(total.too_cold)}"))
    if total.bucket_full >= 3600.0:
        found.append(("bucket", f"full, and the machine stopped, for {days(total.bucket_full)}"))
    found.append(
        ("walls", f"air at them above 80 %RH: {days(total.surface_damp)}; without a machine "
         f"{days(answer.without.surface_damp)}")
    )  # fmt: skip
    aired = f"aired by a fan when outdoor air is drier: too damp {days(answer.aired.too_damp)}"
    found.append(("no machine", aired))
    return found


def control_words(control: Control, scale: Scale) -> str:
    """How a machine is switched, in one line."""
    humidity = scale.show(control.humidity, "relative humidity", 2)
    found = [f"humidistat {humidity}, differential {100.0 * control.differential:.0f} points"]
    if control.cut_out is not None:
        found.append(f"held off below a room of {scale.show(control.cut_out, 'temperature')}")
    by = {"fan": "with the fan on", "standing": "in standing air", "hot gas": "with hot gas"}
    rest = scale.show(control.rest, "time", 2)
    if control.defrost == "coil":
        coil = scale.show(control.coil_stop, "temperature")
        delay = scale.show(control.coil_delay, "time", 2)
        found.append(
            f"coil thermostat: below {coil} for {delay} it defrosts {by[control.defrost_by]}, "
            f"{rest} at most"
        )
    elif control.defrost == "clock":
        every = scale.show(control.run_stop, "time", 2)
        found.append(
            f"clock: after {every} of running it defrosts {by[control.defrost_by]} for {rest}"
        )
    if control.fan == "always":
        found.append("fan always on")
    return "; ".join(found)


def control_name(control: Control) -> str:
    """What kind of control it is, in a few words."""
    found = ["humidistat"]
    if control.cut_out is not None:
        found.append("cut-out")
    if control.defrost != "none":
        found.append(f"{control.defrost} defrost by {control.defrost_by}")
    return ", ".join(found)


_KEYS: Final = {
    "humidity": "its humidistat",
    "differential": "its differential",
    "cut_out": "its low-temperature cut-out",
    "defrost": "its defrost",
    "fan": "its fan",
}


def year_of_setting(one: Setting, scale: Scale) -> str:
    """What a setting gives, in a few words."""
    iced = "" if one.iced_up < 3600.0 else f", iced up {days(one.iced_up)}"
    return f"too damp {days(one.too_damp)}{iced}, {scale.show(one.energy, 'energy')}"


def settings_lines(found: Settings, scale: Scale) -> list[str]:
    """Which settings serve best, why, and what a drier or a damper room would take."""
    best, own = found.best, found.own
    lines = [
        f"Best: {control_words(best.control, scale)}.",
        f"That is {year_of_setting(best, scale)}. As in the job: {year_of_setting(own, scale)}.",
    ]
    lines += [
        f"With {_KEYS[key]} as in the job: {year_of_setting(one, scale)}."
        for key, one in found.why.items()
        if len(found.why) > 1
    ]
    for one in (found.drier, found.damper):
        humidity = scale.show(one.control.humidity, "relative humidity", 2)
        lines.append(f"With the humidistat at {humidity}: {year_of_setting(one, scale)}.")
    return lines


def _beside(saved: Sequence[float], currency: str) -> list[str]:
    texts = amounts([abs(one) for one in saved], currency)
    return [
        f"{text} {'less' if one >= 0.0 else 'more'}" for text, one in zip(texts, saved, strict=True)
    ]


_WAYS: Final = {
    "rebuild": "rebuild",
    "new machine": "new machine",
    "airing": "a fan that airs the room",
    "nothing": "nothing",
}


def way_name(way: Way) -> str:
    """One way to spend the money."""
    return _WAYS[way.key]


def switched_line(answer: WorthAnswer, scale: Scale) -> str:
    """How both machines are switched."""
    ours, theirs = (control_words(c, scale) for c in (answer.year.control, answer.new_control))
    if ours == theirs:
        return f"Both machines switched: {ours}"
    return f"Rebuild switched: {ours}; new machine: {theirs}"


def ways_table(answer: WorthAnswer) -> list[tuple[str, list[str]]]:
    """The ways side by side: heads, and what stands below each."""
    c, ways = answer.currency, answer.ways
    return [
        ("to begin", amounts([w.first_cost for w in ways], c)),
        ("a year", amounts([w.year_cost for w in ways], c)),
        ("in all", amounts([w.over_years for w in ways], c)),
        ("too damp", [days(w.too_damp) for w in ways]),
    ]


def headline_of_worth(answer: WorthAnswer, scale: Scale) -> str:
    """Is it worth it, in one sentence with its first reason."""
    words = {"rebuild": "Rebuild it", "do not": "Do not rebuild it", "close": "It is a close call"}
    return f"{words[answer.verdict]}: {answer.reasons[0]}."


def worth_lines(answer: WorthAnswer, scale: Scale) -> list[tuple[str, str]]:
    """Saving, break-even and what the refrigerant would do to the climate."""
    saved = answer.saved_a_year
    found = []
    middle, *ends = _beside((saved.middle, saved.low, saved.high), answer.currency)
    told = f"the rebuild takes {middle} a year than a new one"
    if answer.year.draws:
        told += f" ({' to '.join(ends)})"
    found.append(("energy", told))
    rebuild, new = answer.ways[:2]
    back = "the rebuild: " if rebuild.first_cost > new.first_cost else "the new machine: "
    if rebuild.first_cost <= new.first_cost and rebuild.over_years <= new.over_years:
        back = "from the first day"
    elif answer.break_even is None:
        back += "never"
    else:
        back += f"after {scale.show(answer.break_even, 'time', 2)}"
        back += between(answer.break_even_range, "time", scale)
    found.append(("pays back", back))
    if answer.year.draws:
        share = f"{100.0 * answer.chance_cheaper:.0f} in 100 that the rebuild is the cheaper way"
        found.append(("chance", share))
    if answer.warming is not None:
        warming = scale.show(answer.warming, "mass", 2)
        found.append(("warming", f"the whole charge warms like {warming} of carbon dioxide"))
    return found
