"""Is the rebuild worth it: against a new machine by its label, against airing, against nothing.

All of them are taken through the same year in the same room. A new machine is known by the energy
factor and the water on its label; how both change with the room is the mean of six tested machines
(Winkler, Christensen and Tomerlin 2011). Money is counted over the years of use, later money less.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np

from sweatline.answers import Answer, Hidden, Q, Range, Shown, range_of
from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError
from sweatline.job.defaults import PINT_PER_DAY, water_curve
from sweatline.job.explanation import JobSummary
from sweatline.job.model import Job
from sweatline.job.values import Price
from sweatline.job.year import Control as Switches
from sweatline.refrigerant.safety_data import safety_data
from sweatline.safety.cautions import Caution
from sweatline.season.place import room_of
from sweatline.season.room_step import SUMS, Control, MachineMap
from sweatline.season.settings import settings_for
from sweatline.season.totals import Totals, control_of, run, total_of
from sweatline.season.year import YearAnswer, YearRequest, samples_of, year
from sweatline.units import WATER_DENSITY
from sweatline.units.kinds import YEAR

_RATED: Final = (18.333 + ZERO_CELSIUS, 0.6)  # room of the label since 2019, 65 °F and 60 %RH
# L/kWh, the least that the US allow since June 2019 by water at that room (notice of 2016).
_LEAST: Final = ((25.0, 1.30), (50.0, 1.60), (math.inf, 2.80))
_LABEL: Final = 0.08  # standard deviation of one machine about its label
_TESTED: Final = 10.0 + ZERO_CELSIUS  # K, coolest room in which the curves are trusted
_ENERGY: Final = SUMS.index("energy")
_SAME_HOURS: Final = 14.0 * 86400.0  # s: damp hours in a year that still count as equal


@dataclass(frozen=True, slots=True, kw_only=True)
class Way(Answer):
    """One way to spend the money."""

    key: Literal["rebuild", "new machine", "airing", "nothing"]
    first_cost: float
    """To begin with, in the currency of the answer."""
    year_cost: float
    """Of its energy in a year."""
    over_years: float
    """All of it over the years of use, worth today."""
    too_damp: Annotated[float, Q("time", "too damp")]
    energy: Annotated[float, Q("energy", "energy")]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthAnswer(Answer):
    """`sweatline worth --json`: the rebuild against other ways to a dry room."""

    year: YearAnswer
    """Of the rebuilt machine, switched as serves best."""
    new_control: Annotated[Switches, Hidden()]
    """Of the new machine: humidistat and fan as serve best, defrost like the rebuilt one's."""
    currency: str
    ways: tuple[Way, ...]
    """Rebuild, new machine, airing, nothing."""
    verdict: Literal["rebuild", "do not", "close"]
    reasons: tuple[str, ...]
    saved_a_year: Range
    """Money that the rebuild's energy costs less than the new machine's in a year (9 in 10)."""
    break_even: Annotated[
        float | None,
        Q("time", "", "Until the dearer one to buy has paid itself back; null: never."),
    ]
    break_even_range: Annotated[Range | None, Q("time")]
    chance_cheaper: float
    """That the rebuild costs less than the new machine over the years of use; 0 to 1."""
    warming: Annotated[
        float | None,
        Q("mass", "", "Carbon dioxide that warms like the whole charge, should it leak."),
    ]
    notes: tuple[str, ...]

    @property
    def job(self) -> JobSummary:
        """The job it is about; told with the year."""
        return self.year.job

    @property
    def cautions(self) -> Annotated[tuple[Caution, ...], Shown()]:
        """Local codes and licensed practice decide."""
        return self.year.cautions


def new_machine_map(like: MachineMap, *, water: float, energy_factor: float) -> MachineMap:
    """A machine by its label, over the rooms of another map; its coil freezes as that one's.

    Parameters
    ----------
    water : float
        At 18.3 °C and 60 %RH. [kg/s]
    energy_factor : float
        There. [kg/J]
    """
    rated_water = water_curve(*_RATED)
    rated_factor = factor_curve(*_RATED)
    # The tested machines stood in rooms from about 7 °C on: below 10 °C it falls off as the other.
    warm = like.water[np.searchsorted(like.temperatures, _TESTED).clip(max=len(like.water) - 1)]
    grid = [
        [
            (
                water * max(water_curve(max(t, _TESTED), rh), 0.0) / rated_water,
                energy_factor * max(factor_curve(max(t, _TESTED), rh), 0.15) / rated_factor,
            )
            for rh in like.humidities.tolist()
        ]
        for t in like.temperatures.tolist()
    ]
    fall = np.minimum(like.water / np.maximum(warm, 1e-9), 1.0)
    cold = (like.temperatures < _TESTED)[:, None]
    taken = np.array([[w for w, _f in row] for row in grid]) * np.where(cold, fall, 1.0)
    factor = np.array([[f for _w, f in row] for row in grid])
    # Where the curves give no water the machine still takes its watts.
    least = 0.6 * water / energy_factor
    return like._replace(
        water=taken,
        power=np.maximum(taken / factor, least),
        fan_power=0.12 * water / energy_factor,
    )


def factor_curve(temperature: float, relative_humidity: float) -> float:
    """Energy factor relative to that at 26.7 °C and 60 %RH, mean of six machines. [K, 0..1]

    Winkler, Christensen and Tomerlin 2011, the second curve.
    """

    def curve(t: float, r: float) -> float:
        drier = -1.902154518 + 0.063466565 * t - 0.000622839 * t * t
        return drier + 0.039540407 * r - 0.000125637 * r * r - 0.000176722 * t * r

    return curve(temperature - ZERO_CELSIUS, 100.0 * relative_humidity) / curve(26.67, 60.0)


def present_value(rate: float, years: float) -> float:
    """What one unit a year over some years is worth today. [years]"""
    return years if rate <= 0.0 else (1.0 - (1.0 + rate) ** -years) / rate


def pays_back(extra: float, saved: float, rate: float) -> float | None:
    """Years until a yearly saving has paid back an extra first cost; None when it never does."""
    if extra <= 0.0:
        return 0.0
    if saved <= 0.0 or extra * rate >= saved:
        return None
    if rate <= 0.0:
        return extra / saved
    return -math.log(1.0 - extra * rate / saved) / math.log(1.0 + rate)


def _needed(job: Job) -> tuple[Price, Price, Price, str]:
    cost = job.cost
    found = []
    for name, price in (
        ("electricity", cost.electricity), ("parts", cost.parts), ("new_machine", cost.new_machine),
    ):  # fmt: skip
        if price is None:
            example = "0.32 EUR/kWh" if name == "electricity" else "120 EUR"
            raise JobError(
                what="a price is missing",
                field=f"cost.{name}",
                path=job.path,
                allowed=f'write {name} = "{example}" under [cost]',
            )
        found.append(price)
    currencies = {p.currency for p in (*found, cost.hour) if p is not None}
    if len(currencies) > 1:
        raise JobError(
            what="prices in different currencies",
            read=", ".join(sorted(currencies)),
            field="cost",
            path=job.path,
            allowed="write all of them in one",
        )
    return found[0], found[1], found[2], found[0].currency


def worth(
    job: Job, asked: YearRequest, *, progress: Callable[[float], None] | None = None
) -> WorthAnswer:
    """A year with the rebuilt machine, and with the other ways, and what all of them cost.

    Raises
    ------
    JobError
        A price is missing, or the weather cannot be read.
    """
    electricity, parts, new, currency = _needed(job)
    found = year(job, replace(asked, switched="best"), progress=progress)
    cost = job.cost
    rate, years = cost.interest, cost.years / YEAR
    notes: list[str] = []
    water, factor = _label(found, notes)
    runs = found.hourly[:, 2] > 0.0
    cold = float(np.mean(found.hourly[runs, 0] < _TESTED)) if runs.any() else 0.0
    if cold > 0.02:
        notes.append(
            f"{100.0 * cold:.0f} % of the running hours are in a room colder than any in which new "
            "machines were tested: there the new one falls off as the rebuilt one does"
        )
    room = room_of(job, found.weather, found.knowledge.mean)
    bought = new_machine_map(found.machine, water=water, energy_factor=factor)
    coldest = float(found.alone[:, 0].min())
    chosen = settings_for(
        job.control, found.weather, room, bought, coldest, fitted=found.control
    ).best.control
    control = control_of(chosen)._replace(wished=found.wished)
    ours = found.total
    theirs = total_of(run(found.weather, room, bought, control))
    hour = 0.0 if cost.hour is None else cost.hour.amount
    first = parts.amount + cost.work * hour
    price = electricity.amount
    lasting = present_value(rate, years)

    def way(
        key: Literal["rebuild", "new machine", "airing", "nothing"], at: float, t: Totals
    ) -> Way:
        return Way(
            key=key,
            first_cost=at,
            year_cost=price * t.energy,
            over_years=at + lasting * price * t.energy,
            too_damp=t.too_damp,
            energy=t.energy,
        )

    ways = (
        way("rebuild", first, ours),
        way("new machine", new.amount, theirs),
        way("airing", 0.0, found.aired),
        way("nothing", 0.0, found.without),
    )
    saved, cheaper, back = _compared(
        found, bought, control, first=first, new=new.amount, lasting=lasting
    )
    safety = safety_data(asked.refrigerant)
    gwp = safety.gwp_ar6 or safety.gwp_ar5 or safety.gwp_ar4
    charge_mass = found.rooms.charge
    verdict, reasons = _judged(ways, cheaper)
    extra, gain = first - new.amount, price * (theirs.energy - ours.energy)
    if extra < 0.0:
        extra, gain = -extra, -gain
    years_back = pays_back(extra, gain, rate)
    return WorthAnswer(
        year=found,
        new_control=chosen,
        currency=currency,
        ways=ways,
        verdict=verdict,
        reasons=tuple(reasons),
        saved_a_year=saved,
        break_even=None if years_back is None else years_back * YEAR,
        break_even_range=back,
        chance_cheaper=cheaper,
        warming=None if gwp is None else gwp * charge_mass,
        notes=tuple(notes),
    )


def _label(found: YearAnswer, notes: list[str]) -> tuple[float, float]:
    """Water [kg/s] and energy factor [kg/J] of the new machine in the room of its label."""
    cost = found.build.job.cost
    if cost.new_water is not None:
        water = cost.new_water.value
    else:
        t, rh = _RATED
        machine = found.machine
        row = [float(np.interp(rh, machine.humidities, w)) for w in machine.water]
        water = max(float(np.interp(t, machine.temperatures, row)), 1e-5)
        notes.append("the new machine is taken to be as strong as the rebuilt one")
    if cost.new_energy_factor is not None:
        return water, cost.new_energy_factor.value
    pints = water / PINT_PER_DAY
    least = next(factor for most, factor in _LEAST if pints <= most)
    notes.append(
        f"no label of the new machine is told: taken at the least that US rules allow, "
        f"{least:g} L/kWh at 65 °F and 60 %RH"
    )
    return water, least * WATER_DENSITY * 1e-3 / 3.6e6


def _compared(
    found: YearAnswer,
    bought: MachineMap,
    control: Control,
    *,
    first: float,
    new: float,
    lasting: float,
) -> tuple[Range, float, Range | None]:
    """Saving a year, chance that the rebuild is cheaper, and years to break even, over draws."""
    job = found.build.job
    electricity = job.cost.electricity
    assert electricity is not None
    saved, cheaper, back = [], [], []
    draws = found.knowledge.draws(found.draws) if found.draws else found.knowledge.mean[None, :]
    labels = np.exp(_LABEL * np.random.default_rng(0).standard_normal(len(draws)))
    moved = [bought._replace(power=bought.power * label) for label in labels]
    for own, theirs in zip(found.samples, samples_of(job, control, draws, moved), strict=True):
        gain = electricity.amount * float((theirs - own)[:, _ENERGY].sum())
        saved.append(gain)
        cheaper.append(first - new < lasting * gain)
        extra, less = (first - new, gain) if first > new else (new - first, -gain)
        years = pays_back(extra, less, job.cost.interest)
        if years is not None:
            back.append(years * YEAR)
    return (
        range_of(saved),
        float(np.mean(cheaper)),
        _positive(range_of(back)) if len(back) > max(len(saved) // 2, 1) else None,
    )


def _positive(found: Range) -> Range:
    return replace(found, low=max(found.low, 0.0))


def _judged(
    ways: tuple[Way, ...], cheaper: float
) -> tuple[Literal["rebuild", "do not", "close"], list[str]]:
    rebuild, new, aired, nothing = ways
    reasons = []
    if nothing.too_damp < _SAME_HOURS:
        reasons.append("the room is hardly ever too damp without any machine")
        return "do not", reasons
    if aired.too_damp < _SAME_HOURS:
        reasons.append("airing it when outdoor air is drier is enough")
        return "do not", reasons
    if rebuild.too_damp > new.too_damp + _SAME_HOURS:
        reasons.append("the rebuilt machine leaves the room damp for longer than a new one")
    if cheaper < 0.2:
        reasons.append("a new machine costs less over the years of use")
        return "do not", reasons
    if cheaper > 0.8 and not reasons:
        reasons.append("it costs less than a new machine over the years of use")
        return "rebuild", reasons
    if not reasons:
        reasons.append("rebuild and new machine cost about the same over the years of use")
    return "close", reasons
