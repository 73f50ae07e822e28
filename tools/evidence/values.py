"""Values and sections as the tests recorded them, and the order in which the page tells of them."""

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from tests.evidence import BASES, Section, Series

STATUSES = ("PUBLISHED", "MEMORY", "common practice")

# Headings of the summary.
HEADINGS = {
    "measured": "Held against measurements",
    "similar": "Held against measurements on machines like ours",
    "fitted": "Held against curves drawn through measurements",
    "practice": "Held against what the trade goes by",
    "table": "Held against printed tables",
    "rule": "Held against standards and statutes",
    "example": "Held against worked examples",
    "equation": "Held against other authors' equations",
}
ORDER = tuple(BASES)

NAMEPLATE = "a compressor of which only the nameplate is known"

# What a model is, for somebody who does not know its author; models of one name share a line.
PLAIN = {
    "Air over plain fins (Wang, Chi and Chang)": "heat and drag of air over plain fins",
    "Calibrated dehumidifier": "a dehumidifier calibrated in one room, in eleven others",
    "Capacity convention": NAMEPLATE,
    "Capillary (RP-762)": "capillary flow",
    "Capillary (homogeneous equilibrium)": "capillary flow",
    "Charge limits": "how much flammable refrigerant a room allows",
    "Compressor fitted to a map": "a compressor of which several points are known",
    "Compressor from its displacement": "a compressor of which only the size is known",
    "Compressor by class, from one rating point": NAMEPLATE,
    "Motor known by its size": "a compressor of which only the size is known",
    "Amps of a motor": "amps of a compressor",
    "whole dehumidifier, guessed": "a dehumidifier described by guesses",
    "Compressor from one rating point": NAMEPLATE,
    "Compressor fitted to a table": "a compressor of which several points are known",
    "Compressor from two points": "a compressor of which several points are known",
    "Compressor shell": "heat of a compressor's shell, its oil and its discharge gas",
    "Compressor through a slow pull-down": "a compressor while the lift doubles",
    "Compressor known by its plate alone": "a compressor of which only the plate is known",
    "Compressor with another refrigerant": "a compressor run on another refrigerant",
    "Condensation (Shah)": "heat and friction in a tube",
    "Diagnosis of a measured machine": "what is wrong with a measured machine",
    "Dry-out (Wojtan and others)": "where an evaporator tube runs dry",
    "Faults of a machine": "which way a fault moves what is read",
    "Fin efficiency (Schmidt)": "heat and drag of air over plain fins",
    "gas through a capillary tube": "heat and friction in a tube",
    "Friction (Churchill)": "heat and friction in a tube",
    "Frost (Da Silva, Hermes and Melo; Lee)": "how fast frost grows and how dense it is",
    "Is it worth it": "money over the years, and a new machine by its label",
    "Less air over an evaporator": "what less air over the evaporator does",
    "Low-temperature compressor from one rating point": NAMEPLATE,
    "Moist air": "water and heat in the room's air",
    "One phase (Gnielinski)": "heat and friction in a tube",
    "Proof carried to other rooms": "a machine proved in one room, in the rooms of other tests",
    "Room through the year": "water in a room through a year, and a humidistat's cycles",
    "Refrigerant in oil": "how much refrigerant the compressor's oil holds",
    "Refrigerant tables": "pressures, densities and heats of refrigerants",
    "Return bends": "pressure lost in return bends",
    "Safety data": "warming potentials",
    "Stated ranges": "how often the ranges of the results hold what they claim",
    "Substitution, compressor and exchanger": "another refrigerant in a whole machine",
    "Substitution, whole machine": "another refrigerant in a whole machine",
    "settling of readings": "where a reading will settle, forecast while it moves",
    "pressure hold with nitrogen": "a pressure hold through day and night",
    "why no start under vacuum": "why no compressor starts under vacuum",
    "cord": "voltage lost in the cord",
    "start gear": "what starts a motor, and how long it rests before",
    "Wet surface": "drag of a wet coil",
    "Worked cooling coils": "duty and water of a cooling coil",
    "Whole machine with a capillary": "a measured machine on a capillary",
    "Whole machine with a thermostatic valve": "a measured machine on a valve",
    "Whole machine with an automatic valve": "a measured machine on a valve",
    "conductance of a tube": "gas through a hose at vacuum",
    "dehumidifier map": "a dehumidifier's water and watts in other rooms",
    "whole dehumidifier": "gauges, watts and water of a rebuilt dehumidifier",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One printed value against ours, as recorded."""

    model: str
    source: str
    status: str
    basis: str
    quantity: str
    unit: str
    printed: float
    ours: float
    tolerance: float
    kind: str
    reason: str
    aim_only: bool
    in_sample: bool
    deviation: float
    met: bool
    test: str

    @property
    def word(self) -> str:
        """The status without its confidence."""
        return "MEMORY" if self.status.startswith("MEMORY") else self.status

    @property
    def share(self) -> float:
        """The deviation in tolerances; infinite where ours is not a number."""
        share = self.deviation / self.tolerance
        return math.inf if math.isnan(share) else share


@dataclass(frozen=True, slots=True)
class Record:
    """All that the tests left."""

    values: tuple[Value, ...]
    sections: tuple[Section, ...]

    @property
    def models(self) -> dict[str, list[Value]]:
        """Values of each model in the order of the page, models held against nature first."""
        found: defaultdict[str, list[Value]] = defaultdict(list)
        for value in sorted(self.values, key=_place):
            found[value.model].append(value)
        return dict(
            sorted(found.items(), key=lambda m: (ORDER.index(m[1][0].basis), m[0].casefold()))
        )


def read(entries: Iterable[Mapping[str, Any]]) -> Record:
    """Sort what was recorded into values and sections."""
    names = {field.name for field in fields(Value)}
    values, sections = [], []
    for entry in entries:
        if "section" in entry:
            content = dict(entry["section"])
            content["series"] = tuple(Series(**series) for series in content["series"])
            sections.append(Section(**content))
        else:
            known = {name: entry[name] for name in names}
            known["unit"] = "" if known["unit"] == "-" else known["unit"]
            values.append(Value(**known))
    return Record(tuple(values), tuple(sorted(sections, key=lambda s: s.title)))


def by_basis(values: Iterable[Value]) -> dict[str, dict[str, list[Value]]]:
    """Values by basis, from nearest to nature to farthest, and then by model."""
    found: dict[str, dict[str, list[Value]]] = {}
    for basis in ORDER:
        models: defaultdict[str, list[Value]] = defaultdict(list)
        for value in sorted(values, key=_place):
            if value.basis == basis:
                models[value.model].append(value)
        if models:
            found[basis] = dict(sorted(models.items(), key=lambda m: m[0].casefold()))
    return found


def worst(values: Iterable[Value]) -> Value:
    """The value farthest off, counted in tolerances."""
    return max(sorted(values, key=_place), key=lambda v: abs(v.share))


_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?)")


def natural(text: str) -> tuple[Any, ...]:
    """Key that sorts the numbers in a text as numbers."""
    parts = _NUMBER.split(text)
    return tuple((1, float(p), "") if i % 2 else (0, 0.0, p) for i, p in enumerate(parts))


def _place(value: Value) -> tuple[Any, ...]:
    return (
        ORDER.index(value.basis),
        value.source,
        STATUSES.index(value.word),
        value.in_sample,
        natural(value.quantity),
        value.printed,
        value.test,
    )
