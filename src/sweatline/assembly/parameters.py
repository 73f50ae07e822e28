"""The parameters of a job: what each is called, what it belongs to, what measures it better.

They are asked for through a :class:`Sample`, by key. An empty sample gives the best values and
remembers which parameters there are and how wide they are; one with `z` moves them.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, NamedTuple

from sweatline.job.model import CapillaryStock, Compressor, Job
from sweatline.uncertainty.parameter import (
    Instrument,
    Key,
    MachinePosterior,
    Measured,
    Origin,
    Parameter,
)
from sweatline.uncertainty.posterior import JointNormal, correlation, transferred

# Half of the variance of a correlation's error goes with the coil, half with the fluid. Judged:
# no published comparison at hand separates the two.
OTHER_REFRIGERANT: Final = 0.7
_IN_PART: Final = {"refrigerant": OTHER_REFRIGERANT}

# A parameter of whose spread readings have left less than this is told as narrowed by them.
NARROWED: Final = 0.9

# What a parameter belongs to. Coils, fan and lines stay in every rebuild and are not named; the
# occasion (the room, the mains, a new drier, the charge) is another one every time.
_STAYS: Final = ()
_OCCASION: Final = ("occasion",)
_COMPRESSOR: Final = ("compressor",)
_CAPILLARY: Final = ("capillary",)
_FLUID: Final = ("refrigerant",)


class Model(NamedTuple):
    """Error of a correlation: a multiplier, log-normal about one."""

    sd: float
    why: str
    belongs_to: tuple[str, ...]
    label: str


_AIR_SIDE: Final = (
    "the authors' own data within 10 %, but two other authors' fits lie a fifth lower"
)

# One standard deviation of each model, relative, from the scatter its authors or later
# comparisons state; see the docstring of the model. How many values from print the ranges then
# hold is counted in tests/published/test_band_coverage.py; docs/why/probability.md says which were
# changed for it.
MODELS: Final[Mapping[str, Model]] = {
    "capillary flow": Model(
        0.06, "9 in 10 published flows lie within 10 %",
        (*_CAPILLARY, *_FLUID), "capillary flow"),
    "evaporator air side": Model(0.15, _AIR_SIDE, _STAYS, "evaporator air side"),
    "condenser air side": Model(0.15, _AIR_SIDE, _STAYS, "condenser air side"),
    "boiling": Model(
        0.25, "flow boiling at the low mass flux of small machines", _FLUID, "boiling"),
    "condensation": Model(
        0.20, "mean deviation 15 % of the authors' data, low mass flux", _FLUID, "condensation"),
    "volumetric": Model(
        0.05, "eight published maps, each from one rating point: 9 in 10 values in 11 %",
        (*_COMPRESSOR, *_FLUID), "compressor flow"),
    "compressor power": Model(
        0.05, "beside that of the flow: eight published maps, 9 in 10 values in 11 %",
        (*_COMPRESSOR, *_FLUID), "compressor power"),
    "other refrigerant": Model(
        0.05, "power with another refrigerant than the compressor is known by",
        _OCCASION, "power with another refrigerant"),
    "inventory": Model(
        0.20, "the three void fractions nearest to measured charges, among themselves",
        _FLUID, "charge held in the coils"),
    "tube friction": Model(
        0.35, "two-phase pressure drop, and two forms for bends a factor of 3 apart",
        _FLUID, "tube friction"),
    "shell to air": Model(
        0.40, "shells of one size: +-30 % by mounting, sixfold between two measured rotaries",
        _COMPRESSOR, "heat from shell to air"),
    "discharge tube": Model(
        0.50, "discharge gas of household machines leaves 20 to 60 K below its chamber",
        _COMPRESSOR, "heat from discharge tube to shell"),
}  # fmt: skip


class _Kind(NamedTuple):
    """What is said once about a parameter, whatever part it is of."""

    label: str  # {} is the name of the part, or of the time at which the machine ran
    belongs_to: tuple[str, ...]
    instrument: Instrument | None = None


_TAPE: Final = Instrument("a tape", relative=0.01)
_TAPE_ON_A_TUBE: Final = Instrument("a tape along the tube", 5e-3, 0.01)
_CALLIPER: Final = Instrument("a calliper on the tube", 0.1e-3)

# Of both coils, with the instrument.
_COIL: Final[Mapping[str, Instrument | None]] = {
    "tube_outer_diameter": Instrument("a micrometer", 0.01e-3),
    "tube_wall": Instrument("a micrometer on a cut end", 0.01e-3),
    "transverse_pitch": None,
    "longitudinal_pitch": None,
    "finned_length": None,
    "fin_pitch": Instrument("fins counted over 100 mm", relative=0.005),
    "fin_thickness": Instrument("a micrometer on a fin", 5e-6),
    "fouling": Instrument("cleaning the fins", 0.03),
}

# By object and field. The instruments are better ones than usual at a bench; common practice.
_KINDS: Final[Mapping[tuple[str, str], _Kind]] = {
    ("room", "temperature"): _Kind(
        "room temperature", _OCCASION, Instrument("a good thermometer at the inlet", 0.2)),
    ("room", "relative_humidity"): _Kind(
        "room humidity", _OCCASION, Instrument("a wet-bulb reading at the inlet", 0.015)),
    ("room", "floor_area"): _Kind("floor area", _OCCASION, _TAPE),
    ("room", "volume"): _Kind("room volume", _OCCASION, _TAPE),
    ("run", "charge"): _Kind("{}: charge", _OCCASION),
    ("original", "charge"): _Kind("charge", _OCCASION),
    ("supply", "voltage"): _Kind(
        "mains voltage", _OCCASION, Instrument("a voltmeter while it runs", relative=0.005)),
    ("supply", "frequency"): _Kind("mains frequency", _OCCASION),
    ("limits", "high_side_pressure"): _Kind(
        "limit of the high side", _OCCASION, Instrument("the limit on the part's plate")),
    ("limits", "discharge_temperature"): _Kind("limit of the discharge gas", _OCCASION),
    ("fan", "volume_flow"): _Kind(
        "airflow", _STAYS, Instrument("an anemometer over the whole grille", relative=0.05)),
    ("fan", "power_factor"): _Kind("power factor of the fan", _STAYS),
    ("fan", "power"): _Kind(
        "fan power", _STAYS, Instrument("a wattmeter on the fan alone", relative=0.02)),
    **{
        (coil, field): _Kind(f"{coil} {field.replace('_', ' ')}", _STAYS, tool)
        for coil in ("evaporator", "condenser") for field, tool in _COIL.items()
    },
    **{
        ("lines", f"{line}_{field}"): _Kind(f"{line} line {field}", _STAYS, tool)
        for line in ("suction", "discharge", "liquid")
        for field, tool in (("bore", _CALLIPER), ("length", _TAPE_ON_A_TUBE))
    },
    ("lines", "drier_volume"): _Kind(
        "drier volume", _OCCASION, Instrument("the drier's data sheet", relative=0.1)),
    ("lines", "left_out"): _Kind("liquid nobody measured", _STAYS),
    ("lines", "accumulator_volume"): _Kind("accumulator volume", _STAYS),
    ("lines", "exchanger"): _Kind("heat passed where the capillary is soldered", _CAPILLARY),
    ("lines", "exchanger_length"): _Kind(
        "soldered length", _CAPILLARY, Instrument("a tape along the tube", 5e-3)),
    ("lines", "exchanger_position"): _Kind("soldered position", _CAPILLARY),
    ("shell", "volume"): _Kind("shell volume", _COMPRESSOR),
    ("shell", "oil_volume"): _Kind(
        "oil volume", _COMPRESSOR, Instrument("draining the oil into a measure", relative=0.03)),
    ("shell", "oil_solubility"): _Kind("oil solubility", ("refrigerant in oil",)),
    ("compressor", "displacement"): _Kind(
        "{} displacement", _COMPRESSOR, Instrument("the maker's data sheet", relative=0.01)),
    ("compressor", "rated_capacity"): _Kind("{} rated capacity", _COMPRESSOR),
    ("compressor", "rating_power"): _Kind("{} power at rating", _COMPRESSOR),
    ("compressor", "rated_power"): _Kind("{} rated power", _COMPRESSOR),
    ("compressor", "rated_current"): _Kind("{} rated current", _COMPRESSOR),
    ("compressor", "power_factor"): _Kind("{} power factor", _COMPRESSOR),
    ("compressor", "light_power_factor"): _Kind("{} power factor at half load", _COMPRESSOR),
    ("compressor", "locked_rotor"): _Kind("{} locked rotor over rated current", _COMPRESSOR),
    ("compressor", "plate_load"): _Kind("{} load that its plate means", _COMPRESSOR),
    ("compressor", "motor_size"): _Kind("{} motor size", _COMPRESSOR),
    ("compressor", "clearance"): _Kind("{} clearance", _COMPRESSOR),
    ("compressor", "filling"): _Kind("{} filling", _COMPRESSOR),
    ("compressor", "efficiency"): _Kind("{} motor and valves", _COMPRESSOR),
    ("capillary", "bore"): _Kind("{} bore", _CAPILLARY, Instrument("pin gauges", 5e-6)),
    ("capillary", "length"): _Kind("{} length", _CAPILLARY),
    ("capillary", "roughness"): _Kind("{} roughness", _CAPILLARY),
    **{("model", name): _Kind(m.label, m.belongs_to) for name, m in MODELS.items()},
}  # fmt: skip


@dataclass(slots=True)
class Sample:
    """One sample of everything uncertain: hands out values by key.

    Parameters
    ----------
    z : mapping
        Standard deviations by which each parameter is moved; not at all where it is not named.
    seen : dict
        Every uncertain parameter that was asked for, in the order of the first time. That order is
        the order of the dimensions of all samples.
    """

    z: Mapping[Key, float] = field(default_factory=dict)
    seen: dict[Key, Parameter] = field(default_factory=dict)

    def number(self, key: Key, known: Measured, low: float = 0.0, *, called: str = "") -> float:
        """A measured or assumed number, moved; never below a tenth of itself or `low`. [SI]

        Parameters
        ----------
        called : str
            What stands for the part's name in the label, if not the second item of the key.
        """
        value = known.value
        if known.sd > 0.0:
            value += known.sd * self._z(key, known, known.origin, called)
        if known.value > 0.0:
            value = max(value, 0.1 * known.value)
        return max(value, low)

    def offset(self, key: Key, value: float, sd: float, note: str) -> float:
        """A model's number that may change sign, moved. [SI]"""
        return value + sd * self._z(key, Measured(value=value, sd=sd, note=note), "model")

    def multiplier(self, model: str) -> float:
        """Error of one of the `MODELS`: a factor, log-normal about one."""
        sd, why, *_ = MODELS[model]
        return math.exp(
            sd * self._z(("model", model), Measured(value=1.0, sd=sd, note=why), "model")
        )

    def _z(
        self, key: Key, known: Measured, origin: Origin | Literal["model"], called: str = ""
    ) -> float:
        """Standard deviations by which a parameter is moved; from now on it has been seen."""
        if key not in self.seen:
            kind = _KINDS[str(key[0]), str(key[-1])]
            self.seen[key] = Parameter(
                key=key,
                label=kind.label.format(called or key[1]),
                value=known.value,
                sd=known.sd,
                origin=origin,
                note=known.note,
                belongs_to=kind.belongs_to,
                instrument=kind.instrument,
            )
        return self.z.get(key, 0.0)

    def about(self, prior: JointNormal | None) -> Sample:
        """The same sample of another prior; shares what has been `seen`."""
        if prior is None:
            return self
        return Sample(z=prior.moved(self.z), seen=self.seen)


def parts_of(
    compressor: Compressor, refrigerant: str, capillary: CapillaryStock
) -> frozenset[tuple[str, str]]:
    """What parameters of a machine may belong to, and which one of each it has."""
    return frozenset(
        {
            "compressor": compressor.name,
            "capillary": capillary.name,
            "refrigerant": refrigerant,
            "refrigerant in oil": f"{refrigerant} in {compressor.oil}",
        }.items()
    )


def stays(parameter: Parameter) -> bool:
    """Whether it stays in a rebuild with another compressor, capillary and refrigerant."""
    return correlation(parameter, frozenset(), _IN_PART) > 0.0


@functools.lru_cache(maxsize=256)
def _transferred(known: MachinePosterior, parts: frozenset[tuple[str, str]]) -> JointNormal | None:
    return transferred(known, parts, _IN_PART)


def transferred_prior(
    job: Job, compressor: Compressor, refrigerant: str, capillary: CapillaryStock
) -> JointNormal | None:
    """What readings of the machine as it ran say of a rebuild; None when nothing.

    A rebuild keeps coils, fan and lines. It may keep the capillary and the compressor, and it may
    hold another refrigerant: the error of a correlation is partly the coil's, partly the fluid's.
    """
    if job.posterior is None:
        return None
    return _transferred(job.posterior, parts_of(compressor, refrigerant, capillary))


def told_with_readings(
    parameters: Iterable[Parameter], prior: JointNormal | None
) -> tuple[Parameter, ...]:
    """The parameters, with a note where readings of the machine as it ran have narrowed them."""
    found = []
    for one in parameters:
        left = 1.0 if prior is None else prior.left(one.key)
        if left < NARROWED:
            told = f"readings of the machine as it ran narrow that to {100 * left:.0f} %"
            one = replace(one, note=f"{one.note}; {told}")
        found.append(one)
    return tuple(found)
