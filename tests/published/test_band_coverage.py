"""Do the stated ranges hold what they claim? Values from print against the ranges of the models.

Every printed value is placed in the range the project states for it: by how many stated standard
deviations ours lies off. Of a range that is right, half the values lie within 0.67 of them and
nine tenths within 1.64. Values of one set hang together (one map, one correlation, one oil), so
the sets are counted, and what is asked of a share is as loose as so few sets make it.

Left out, for nothing to be counted: boiling and friction in tubes (no measured value at hand, only
the same equations by another hand), moist air (no scatter is stated), whole machines whose
unmeasured sizes were chosen to fit. The property tables have no stated scatter; what was measured
lies within the tolerances of their own test.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import binomtest
from tests.evidence import Section, Series
from tests.published import test_capillary as tubes
from tests.published import test_compressor_maps as maps
from tests.published import test_in_tube as in_tube
from tests.published import test_oil as oil
from tests.published import test_substitution as substitution
from tests.published.test_dehumidifier import ENERGY, RATED, ROOMS, WATER, ratio
from tests.published.test_finned_surface import gray_webb, mcquiston
from tests.second_opinions import condensation_cavallini_smith_zecchin
from tests.twoways import test_void_fraction_twoways as voids

from sweatline.assembly.build import build_for
from sweatline.assembly.parameters import MODELS, OTHER_REFRIGERANT
from sweatline.assembly.trial_runs import State, trial_states
from sweatline.flow import condensation
from sweatline.flow import finned_surface as fins
from sweatline.flow.finned_surface import fin_geometry
from sweatline.job.reading import read_job_text
from sweatline.machine.balance import SteadyState, design, filled, fixed_charge, solve
from sweatline.machine.room_map import in_room
from sweatline.parts.compressor import CompressorParameters
from sweatline.parts.shell import solubility
from sweatline.refrigerant.refrigerant import load

FloatArray = Any


class Sets(NamedTuple):
    """Printed values of one model, in stated standard deviations from ours."""

    model: str
    stated: str  # the scatter that is judged
    source: str
    status: str
    basis: str
    independent: int  # machines, authors, oils: what does not hang together
    z: FloatArray  # (n,)
    seen: bool  # whether the stated scatter, or the model, was chosen with these values at hand

    def inside(self, nominal: float) -> int:
        return int(np.count_nonzero(np.abs(self.z) <= ndtri(0.5 + 0.5 * nominal)))


def scatter(name: str) -> float:
    return MODELS[name].sd


def off(ours: float, printed: float, sd: float) -> float:
    return math.log(ours / printed) / sd


def capillary_flow() -> Sets:
    """Correlations drawn through measured flows, each for the fluids its authors measured."""
    pairs = [
        ("R-134a", tubes.RP762, "small machines"),
        ("R-22", tubes.RP762, "air conditioners"),
        ("R-410A", tubes.RP762, "air conditioners"),
        ("R-134a", tubes.HERMES, "small machines"),
        ("R-600a", tubes.HERMES, "small machines"),
    ]
    z = [-np.log1p(tubes.deviations(*pair)) / scatter("capillary flow") for pair in pairs]
    return Sets(
        model="Capillary flow",
        stated=f"{100 * scatter('capillary flow'):.0f} % of the flow",
        source="Wolf, Bittle and Pate 1995; Hermes, Melo and Knabben 2010, for their own fluids",
        status="MEMORY 0.85",
        basis="fitted",
        independent=len(pairs),
        z=np.concatenate(z),
        seen=False,
    )


def compressor(column: int) -> Sets:
    """Whole maps from one rating point: model scatter, and a clearance nobody knows."""
    name = ("volumetric", "compressor power")[column]
    z = []
    for m in maps.MAPS:
        numbers = maps.from_one_rating(m)
        te, tc = m.rating

        def tight(
            sign: float,
            m: maps.CompressorMap = m,
            numbers: CompressorParameters = numbers,
            te: float = te,
            tc: float = tc,
        ) -> CompressorParameters:
            moved = numbers._replace(clearance=numbers.clearance + sign * m.usual.clearance_sd)
            rated, after = (maps.run(m, c, te, tc).mass_flow for c in (numbers, moved))
            return moved._replace(filling=moved.filling * rated / after)

        moves = [
            (tight(-1.0), tight(1.0)),
            *(
                tuple(numbers._replace(**{which: math.exp(s * scatter(of))}) for s in (-1.0, 1.0))
                for which, of in (
                    ("flow_multiplier", "volumetric"),
                    ("power_multiplier", "compressor power"),
                )
            ),
        ]
        for point in maps.believable_points(m):
            at = (point.evaporating, point.condensing)

            def of(
                c: CompressorParameters,
                m: maps.CompressorMap = m,
                at: tuple[float, float] = at,
            ) -> float:
                run = maps.run(m, c, *at)
                return (run.capacity, run.power)[column]

            sd = math.hypot(*(0.5 * math.log(of(b) / of(a)) for a, b in moves))
            z.append(off(of(numbers), (point.capacity, point.power)[column], sd))
    return Sets(
        model=("Compressor flow", "Compressor power")[column] + " from one rating point",
        stated=f"{100 * scatter(name):.0f} %, and the clearance",
        source=maps.MAP_SOURCE,
        status="PUBLISHED",
        basis="fitted",
        independent=len(maps.MAPS),
        z=np.array(z),
        seen=True,
    )


def air_side() -> Sets:
    """Two other authors' fits, over the coils, rows and speeds of small machines."""
    z = []
    for Re, Fp, rows in itertools.product(
        (700.0, 1000.0, 1500.0, 2500.0), (1.8e-3, 2.1e-3, 2.5e-3), (2.0, 3.0, 4.0)
    ):
        g = fin_geometry(9.52e-3, 0.115e-3, Fp, 25.4e-3, 22e-3, rows, True)
        ours = fins.colburn_factor_wang(Re, rows, g.fin_pitch, g.Dc, g.Dh, g.Pt, g.Pl)
        others = [gray_webb(Re, rows, Fp - 0.115e-3, g.Dc, g.Pt, g.Pl)]
        if rows == 4.0:
            others.append(mcquiston(Re, g.area_ratio / (math.pi * g.Dc * Fp / (g.Pt * Fp) * rows)))
        z += [off(ours, printed, scatter("evaporator air side")) for printed in others]
    return Sets(
        model="Air side of plain fins",
        stated=f"{100 * scatter('evaporator air side'):.0f} % of the coefficient",
        source="Gray and Webb 1986; McQuiston 1978",
        status="MEMORY 0.85",
        basis="equation",
        independent=2,
        z=np.array(z),
        seen=True,
    )


def condensing() -> Sets:
    """One other author's fit."""
    p, pc, _, rl, rg, mul, mug, kl, cpl = in_tube.STATES["R134a 40 °C"]
    z = []
    for G, x in itertools.product((80.0, 120.0, 200.0, 400.0), (0.1, 0.3, 0.5, 0.7, 0.9)):
        other = condensation_cavallini_smith_zecchin(G, x, 0.008, 1 / rl, 1 / rg, mul, mug, kl, cpl)
        ours = condensation.condensation_shah(G, x, 0.008, p, pc, mul, kl, cpl)
        z.append(off(ours, other, scatter("condensation")))
    return Sets(
        model="Condensation in tubes",
        stated=f"{100 * scatter('condensation'):.0f} % of the coefficient",
        source="Cavallini, Smith and Zecchin 1974",
        status="MEMORY 0.95",
        basis="equation",
        independent=1,
        z=np.array(z),
        seen=False,
    )


def inventory() -> Sets:
    """Mass in a coil by the other two forms that come nearest to measured charges (Rice 1987)."""
    z = []
    for fluid, t, G, D, start, _printed in voids.MEAN_DENSITY:
        rl, rg = voids.FLUIDS[fluid, t][:2]
        quality = np.linspace(start, 1.0, 401)
        mass = {}
        for name in ("Baroczy", "Premoli", "Hughmark"):
            alpha = np.array([voids.ours(name, fluid, t, G, D, x) for x in quality])
            mass[name] = float(np.trapezoid(alpha * rg + (1 - alpha) * rl, quality))
        z += [
            off(mass["Premoli"], mass[name], scatter("inventory"))
            for name in ("Baroczy", "Hughmark")
        ]
    return Sets(
        model="Charge of a coil",
        stated=f"{100 * scatter('inventory'):.0f} % of the mass",
        source="Baroczy 1965; Hughmark 1962, the forms near measured charges by Rice 1987",
        status="MEMORY 0.95",
        basis="equation",
        independent=2,
        z=np.array(z),
        seen=True,
    )


def oil_solubility() -> Sets:
    z = []
    for m in oil.MIXTURES:
        sd = solubility(m.table, m.refrigerant, m.oil).interaction_sd
        for point in m.points:
            low, high = (oil.predicted(m, point, shift=s * sd) for s in (-1.0, 1.0))
            z.append(
                off(oil.predicted(m, point), point.mass_ratio, 0.5 * abs(math.log(high / low)))
            )
    return Sets(
        model="Refrigerant in oil",
        stated="interaction number of the pair, 0.2 to 0.5",
        source="measured pressures of 26 mixtures",
        status="PUBLISHED",
        basis="measured",
        independent=len(oil.MIXTURES),
        z=np.array(z),
        seen=True,
    )


# Numbers of a whole machine that another refrigerant changes, and how well each is known.
CARRIED = {
    "compressor": (("flow_multiplier", "volumetric"), ("power_multiplier", "compressor power")),
    "evaporator": (("inner_multiplier", "boiling"), ("charge_multiplier", "inventory")),
    "condenser": (("inner_multiplier", "condensation"), ("charge_multiplier", "inventory")),
    "expansion": (("flow_multiplier", "capillary flow"),),
}


READING = 0.02  # of a measured ratio: twice one and a half per cent (common practice)


Ends = dict[str, tuple[SteadyState, SteadyState]]


@functools.cache
def slopes(name: str, displacement: float, made_for: str | None) -> Ends:
    """The unit of the substitution tests with each model moved down and up.

    With the tube it was `made_for` another refrigerant, or with one cut to suit.
    """
    table = load(name).table
    if made_for is None:
        aim, length = design(superheat=6.0, subcooling=6.0), 1.0
        known = substitution.air_conditioner(name, displacement)
    else:
        aim, length = filled(superheat=6.0), substitution.tube_for(made_for, displacement)
        known = substitution.recharged(name, displacement, made_for)
    machine = substitution._machine(name, displacement, length)
    found: Ends = {}
    for model in sorted({of for pairs in CARRIED.values() for _, of in pairs}):
        ends = []
        for sign in (-1.0, 1.0):
            moved = machine
            for part, pairs in CARRIED.items():
                for field, of in pairs:
                    if of == model:
                        numbers = getattr(moved, part)
                        value = getattr(numbers, field) * math.exp(sign * scatter(of))
                        moved = moved._replace(**{part: numbers._replace(**{field: value})})
            ends.append(solve(table, substitution._line(), moved, aim, near=known))
        found[model] = (ends[0], ends[1])
    return found


def half(pair: tuple[SteadyState, SteadyState], of: Callable[[SteadyState], float]) -> float:
    """What one standard deviation does to the logarithm of a quantity."""
    return 0.5 * math.log(of(pair[1]) / of(pair[0]))


def substitutes() -> Sets:
    """Measured ratios of one refrigerant over another in one machine.

    What both refrigerants share cancels: a model's error is taken as common to the degree to which
    it is carried from one refrigerant to another anywhere else.
    """
    apart = 2.0 * (1.0 - OTHER_REFRIGERANT)
    z = []
    for old, new, displacement, _source, _status, tube_stays, bands in substitution.ROOM_UNITS:
        made_for = old if tube_stays else None
        a = substitution.air_conditioner(old, displacement)
        b = substitution.air_conditioner(new, displacement)
        if made_for is not None:
            b = substitution.recharged(new, displacement, made_for)
        one, other = slopes(old, displacement, None), slopes(new, displacement, made_for)
        for band in bands:
            moves = [(half(one[k], band.of), half(other[k], band.of)) for k in one]
            variance = math.fsum((x - y) ** 2 + apart * x * y for x, y in moves)
            power = half(other["compressor power"], band.of) / scatter("compressor power")
            variance += (power * scatter("other refrigerant")) ** 2
            # The published band is one of machines or rooms, taken as even from end to end.
            width = math.log(band.high / band.low) / math.sqrt(12.0)
            middle = math.sqrt(band.low * band.high)
            sd = math.hypot(math.sqrt(variance), width, READING)
            z.append(off(band.of(b) / band.of(a), middle, sd))
    return Sets(
        model="Another refrigerant in a machine",
        stated="all models, seven tenths of each error common to both, and 5 % of power",
        source="measured room air conditioners, five sources",
        status="PUBLISHED",
        basis="similar",
        independent=len(substitution.ROOM_UNITS),
        z=np.array(z),
        seen=True,
    )


# A machine of the size and airflow of six units that were measured, of which nothing else is known.
LIKE_THE_SIX = """
title = "Like the six"
kind = "dehumidifier"
units = "SI"
refrigerants = ["R-134a"]
[room]
temperature = "26.67 ± 0.01 °C"
humidity = "60 ± 0.1 %RH"
[supply]
voltage = "115 V"
frequency = "60 Hz"
[original]
refrigerant = "R-134a"
[fan]
airflow = "187 m3/h"
power = "50 W"
[[compressor]]
name = "one"
kind = "reciprocating"
displacement = "12 cm3"
refrigerant = "R-134a"
oil = "POE"
[[capillary]]
name = "reel"
bore = "1.1 mm"
length = "9 m"
"""
COIL = """
[{name}]
tube_outer_diameter = "7.94 mm"
rows = 3
tubes_per_row = 10
transverse_pitch = "25.4 mm"
longitudinal_pitch = "22 mm"
finned_length = "280 mm"
fin_pitch = "1.8 mm"
"""


def six_units() -> Sets:
    """Ratios of water and of water per energy in twelve rooms, placed among the draws."""
    text = LIKE_THE_SIX + "".join(COIL.format(name=n) for n in ("evaporator", "condenser"))
    build = build_for(read_job_text(text), compressor=0, refrigerant="R-134a", capillary=0)
    aim = design()
    known = build.solve(aim, near=build.designed)
    pressure = build.job.place.atmospheric_pressure
    way = []
    for t, r in ROOMS:
        moved = in_room(build.machine, t + 273.15, r / 100.0, pressure)
        there = solve(
            build.refrigerant.table, build.line, moved, fixed_charge(known.charge), near=known
        )
        way.append(State(balance=there, room=(t + 273.15, r / 100.0)))
    found = trial_states(build, known, aim, way, count=128)
    z = []
    for k, (t, r) in enumerate(ROOMS):
        for curve, of in ((WATER, _water), (ENERGY, _energy)):
            draws = np.array(
                [
                    of(b) / of(first)
                    for first, row in zip(found.first, found.balances, strict=True)
                    if (b := row[k]) is not None
                ]
            )
            rank = (np.count_nonzero(draws < ratio(curve, t, r)) + 0.5) / (len(draws) + 1.0)
            z.append(float(-ndtri(rank)))
    assert RATED == (26.67, 60.0)
    return Sets(
        model="Whole dehumidifier from room to room",
        stated="all models and sizes, sampled",
        source="Winkler, Christensen and Tomerlin 2011, mean curve of six units",
        status="PUBLISHED",
        basis="similar",
        independent=1,
        z=np.array(z),
        seen=False,
    )


def _water(b: SteadyState) -> float:
    return b.water


def _energy(b: SteadyState) -> float:
    return b.water / b.total_power


SETS: dict[str, Callable[[], Sets]] = {
    "capillary flow": capillary_flow,
    "compressor flow": lambda: compressor(0),
    "compressor power": lambda: compressor(1),
    "air side": air_side,
    "condensation": condensing,
    "charge of a coil": inventory,
    "refrigerant in oil": oil_solubility,
    "another refrigerant": substitutes,
    "whole dehumidifier": six_units,
}


@functools.cache
def found(name: str) -> Sets:
    return SETS[name]()


@pytest.mark.parametrize("name", SETS)
def test_stated_ranges_hold_what_they_claim(published: Callable[..., Any], name: str) -> None:
    s = found(name)
    assert np.all(np.isfinite(s.z))
    for nominal, words in ((0.5, "50 %"), (0.9, "90 %")):
        published(
            model="Stated ranges",
            source=s.source,
            status=s.status,
            basis=s.basis,
            quantity=f"{s.model}: share inside the stated {words}, {len(s.z)} values of "
            f"{s.independent} set{'s' if s.independent > 1 else ''}",
            unit="",
            printed=nominal,
            ours=s.inside(nominal) / len(s.z),
            tolerance=1.645 * math.sqrt(nominal * (1.0 - nominal) / s.independent),
            kind="absolute",
            reason="what chance does to so few sets, nine times in ten",
            aim_only=True,
            in_sample=s.seen,
        )


LEVELS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95)


def test_reliability_of_all_ranges(evidence_section: Callable[[Section], None]) -> None:
    rows, series = [], []
    page = (Path(__file__).parents[2] / "docs" / "trust.md").read_text(encoding="utf-8")
    for name in SETS:
        s = found(name)
        n = len(s.z)
        assert f"| {s.model} | {100 * s.inside(0.9) / n:.0f} % of {n} |" in page
        sure = binomtest(s.inside(0.9), n).proportion_ci(method="exact")
        rows.append(
            (
                s.model,
                s.stated,
                f"{n}",
                f"{s.independent}",
                "yes" if s.seen else "no",
                f"{100 * s.inside(0.5) / n:.0f} %",
                f"{100 * s.inside(0.9) / n:.0f} %",
                f"{100 * sure.low:.0f} to {100 * sure.high:.0f} %",
            )
        )
        series.append(
            Series(
                name=s.model,
                x=[100 * level for level in LEVELS],
                y=[100 * s.inside(level) / n for level in LEVELS],
            )
        )
    # One voice for each model, however many values it has.
    each = [np.mean([found(name).inside(p) / len(found(name).z) for name in SETS]) for p in LEVELS]
    assert each[LEVELS.index(0.9)] > 0.75
    evidence_section(
        Section(
            title="Do the ranges hold what they claim?",
            text=[
                "A range that is right holds as many printed values as it claims: half of them "
                "within the stated 50 %, 90 % within the stated 90 %. Above the line a range "
                "is too wide, below it too narrow. Values of one set hang together, so a share "
                "says less than its count of values makes believe: the interval beside it takes "
                "every value for itself and is too narrow. Where the scatter was chosen with these "
                "values at hand, they show that it is not too narrow for what is known, and do not "
                "prove it.",
                f"With one voice for each model, {100 * each[LEVELS.index(0.5)]:.0f} % lie inside "
                f"the stated 50 % and {100 * each[LEVELS.index(0.9)]:.0f} % inside the 90 %.",
            ],
            columns=(
                "model",
                "stated scatter",
                "values",
                "sets",
                "chosen with them",
                "in 50 %",
                "in 90 %",
                "95 % interval of that",
            ),
            rows=rows,
            x="claimed, %",
            y="inside, %",
            series=series,
            diagonal=True,
        )
    )
