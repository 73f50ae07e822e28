"""Faults that a machine or its instruments can have, as changes of numbers.

A fault of the machine moves the numbers that the parts are made of, so that its steady states are
balances of the moved numbers; a fault of an instrument moves a reading and nothing else; a leak
takes refrigerant away. One fan drives the air of both coils of a dehumidifier, so a slow fan, a
clogged filter and a blocked coil are one fault of it: too little air. Sizes are drawn between two
ends whose source stands beside them.

Left out because these numbers cannot carry it: water that freezes at the capillary's end. It opens
and shuts by itself within minutes, at a rate that depends on how much water there is and where the
ice sits, and nothing known here gives either.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np

from sweatline.answers import Answer, Hidden, Q, Shown
from sweatline.assembly.assemble import circuit_pieces
from sweatline.assembly.build import Build
from sweatline.errors import JobError
from sweatline.machine.circuit import MachineParameters

ANY: Final = "any"

Place = Literal["", "suction gauge", "head gauge", "suction gas", "liquid line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultKind(Answer):
    """One kind of fault."""

    key: str
    name: str
    words: Annotated[tuple[str, ...], Hidden()]  # parts of words by which a person may call it
    sizes: Annotated[tuple[float, float], Hidden()]  # smallest and largest
    places: Annotated[tuple[Place, ...], Hidden()] = ()  # instruments that it may be in
    size_of: Literal["ratio", "mass", "pressure difference"] = "ratio"
    means: str
    """What the size means, with {} where it stands."""
    source: str
    """Where the range of sizes comes from."""
    shows: str
    mend: str

    @property
    def of_machine(self) -> Annotated[bool, Shown()]:
        """Whether the machine itself runs otherwise, not only what is read off it."""
        return not self.places


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault(Answer):
    """A fault of a certain size."""

    kind: FaultKind
    size: Annotated[float, Q("ratio", doc="Share, loss in kg a minute, or pressure.", unit="SI")]
    place: Place = ""
    """The instrument; empty for faults of the machine."""


def _fouled(coil: str, shows: str) -> FaultKind:
    return FaultKind(
        key=f"fouled-{coil}",
        name=f"fouled {coil}",
        words=(f"fouled {coil}", f"dirty {coil}", f"{coil} foul", f"{coil} dirt"),
        sizes=(0.25, 0.55),
        means="{} of the air-side heat transfer is left",
        source="common practice, MEMORY 0.4: felted or greasy fins",
        shows=shows,
        mend=f"wash the {coil}, then charge",
    )


_KINDS: Final = (
    FaultKind(
        key="little-air",
        name="too little air",
        words=("air", "filter", "fan", "slow", "blocked condenser", "blocked coil"),
        sizes=(0.5, 0.8),
        means="{} of the air comes through",
        source="airflow loss of 0 to 0.5 in the fault models of Cheung and Braun, PUBLISHED; less "
        "than a fifth hardly shows",
        shows="head and discharge gas up, suction and coil down, a wider step of the air's "
        "temperature",
        mend="clean filter and coils, look at the fan, then charge",
    ),
    _fouled(
        "condenser",
        shows="head, discharge gas and watts up while the air comes through as it should",
    ),
    _fouled(
        "evaporator",
        shows="suction and coil down, little superheat with little charge, the air hardly cooled",
    ),
    FaultKind(
        key="restriction",
        name="partly blocked capillary or drier",
        words=("restrict", "capillary", "drier", "dryer", "clog", "blocked tube"),
        sizes=(0.60, 0.88),
        means="it passes {} of what it should",
        source="pressure difference up to 0.3 more at the same flow in the fault models of Cheung "
        "and Braun, PUBLISHED, which is 0.88 of the flow; blocked tubes go further (common "
        "practice)",
        shows="suction low and superheat high although liquid stands before the capillary; each "
        "dose goes into subcooling",
        mend="change drier and capillary; do not charge it away",
    ),
    FaultKind(
        key="non-condensable",
        name="air in the circuit",
        words=("non-cond", "noncond", "non cond", "air in the circuit", "nitrogen", "foreign gas"),
        sizes=(0.10, 0.35),
        means="as much as {} of a circuit full of air, gathered in the condenser",
        source="0 to 0.6 in the fault models of Cheung and Braun, PUBLISHED",
        shows="head, watts and discharge gas up with a liquid line that is much colder than the "
        "head's saturation; at rest the pressure stands above saturation",
        mend="recover, evacuate, charge anew by weight",
    ),
    FaultKind(
        key="worn-valves",
        name="worn compressor valves",
        words=("valve", "worn compressor", "weak compressor", "compressor worn"),
        sizes=(0.60, 0.85),
        means="it pumps {} of what it should",
        source="common practice, MEMORY 0.5: below that the machine is given up",
        shows="suction high and head low together, few watts; more charge brings both up and the "
        "coil not down",
        mend="another compressor",
    ),
    FaultKind(
        key="leak",
        name="leak",
        words=("leak", "loses", "losing", "not tight"),
        sizes=(0.001, 0.005),
        size_of="mass",
        means="it loses {} a minute",
        source="common practice, MEMORY 0.4: shares of the charge a minute, from one that shows "
        "within the hour to one that is heard",
        shows="settled readings that go on falling, and more weighed in than they account for",
        mend="stop charging, find it, mend it, evacuate",
    ),
    FaultKind(
        key="gauge",
        name="a gauge that reads wrong",
        words=("gauge",),
        sizes=(0.3e5, 0.8e5),
        size_of="pressure difference",
        means="it reads {}",
        source="common practice, MEMORY 0.5: a dropped gauge is a few divisions off",
        shows="a gauge that does not agree with saturation at rest, nor with the coil, the watts "
        "and the other gauge",
        mend="set its zero open to the air, or take another",
        places=("suction gauge", "head gauge"),
    ),
    FaultKind(
        key="thermometer",
        name="a badly clamped thermometer",
        words=("thermometer", "clamp", "probe", "sensor"),
        sizes=(0.30, 0.60),
        means="{} of the way from the tube to the air of the room",
        source="common practice, MEMORY 0.5: a clamp on paint, or bare in the air stream",
        shows="a tube that reads near the room whatever is done to the machine",
        mend="clean the tube, clamp it on metal, wrap it",
        places=("suction gas", "liquid line"),
    ),
)
FAULTS: Final[Mapping[str, FaultKind]] = {k.key: k for k in _KINDS}
# What a simulated machine does not hide, for it is a mistake in the job.
OTHER_COMPRESSOR: Final = FaultKind(
    key="other-compressor",
    name="another compressor than the job says",
    words=(),
    sizes=(0.5, 1.7),
    means="its displacement is {} of the job's",
    source="neighbours in a maker's range are 10 to 25 % apart (common practice)",
    shows="all pressures and watts as of a machine of another size",
    mend="read its plate again",
)

_STREAM: Final = 0x5EED  # keeps the fault's draws apart from those of the machine


def fault_of(wanted: str, seed: int, charge: float) -> Fault | None:
    """The fault of a machine from its seed.

    Parameters
    ----------
    wanted : str
        Key of a kind, or :data:`ANY`: then one of all kinds or, one time in as many, none.
    seed : int
        Of the machine; the same machine without its fault has the same seed.
    charge : float
        Best charge, which a leak is a share of. [kg]

    Raises
    ------
    JobError
        No such kind.
    """
    chance = np.random.default_rng([seed, _STREAM])
    at_random = int(chance.integers(len(_KINDS) + 1))
    if wanted == ANY and at_random == len(_KINDS):
        return None
    kind = _KINDS[at_random] if wanted == ANY else FAULTS.get(wanted)
    if kind is None:
        raise JobError(
            what="no fault of that name",
            read=wanted[:40],
            allowed=f"choose one of: {', '.join(FAULTS)}, {ANY}",
        )
    size = float(chance.uniform(*kind.sizes))
    where = int(chance.integers(2))
    if kind.key == "leak":
        size *= charge
    if kind.key == "gauge":
        # The head gauge has three times the range, and is that much further off.
        size *= (1.0, 3.0)[where] * (1.0 if chance.integers(2) else -1.0)
    return Fault(kind=kind, size=size, place=kind.places[where] if kind.places else "")


def faulted(machine: MachineParameters, fault: Fault | None, build: Build) -> MachineParameters:
    """The machine with its fault in it; unchanged by a leak and by faults of instruments.

    Air and nitrogen are taken to gather in the condenser, in the seven tenths of it that liquid
    leaves free, at the temperature of the room's air: a simplification, as is that none is swept
    through the capillary (in measured machines that lowers the evaporating temperature:
    Cecchinato et al. 2007). Of what worn valves let back, half is taken to have been compressed.
    """
    if fault is None:
        return machine
    key, size = fault.kind.key, fault.size
    if key == "little-air":
        air = machine.air
        return machine._replace(
            air=air._replace(flow=size * air.flow, condenser_flow=size * air.condenser_flow)
        )
    if key in ("fouled-condenser", "fouled-evaporator"):
        which = key.removeprefix("fouled-")
        coil = getattr(machine, which)
        return machine._replace(**{which: coil._replace(air_multiplier=size * coil.air_multiplier)})
    if key == "restriction":
        tube = machine.expansion
        return machine._replace(
            expansion=tube._replace(flow_multiplier=size * tube.flow_multiplier)  # type: ignore[union-attr, call-arg]
        )
    if key == "worn-valves":
        worn = machine.compressor
        return machine._replace(
            compressor=worn._replace(
                flow_multiplier=size * worn.flow_multiplier,
                proportional=worn.proportional / (1.0 + 0.5 * (1.0 - size) / size),
            )
        )
    if key == "other-compressor":
        other = machine.compressor
        return machine._replace(
            compressor=other._replace(
                displacement=size * other.displacement, fixed_loss=size * other.fixed_loss
            )
        )
    if key == "non-condensable":
        return machine._replace(non_condensable_pressure=_gathered(build, size))
    return machine


_FREE: Final = 0.7  # of the condenser, that liquid leaves


def _gathered(build: Build, share: float) -> float:
    """Partial pressure in the condenser of a share of a circuit full of air. [Pa]"""
    return share * build.job.place.atmospheric_pressure / _part_free(build)


def at_rest(build: Build, gathered: float) -> float:
    """What foreign gas adds at rest, spread through the circuit. [Pa]

    Parameters
    ----------
    gathered : float
        Its pressure in the condenser while the machine runs. [Pa]
    """
    return gathered * _part_free(build)


def _part_free(build: Build) -> float:
    """Of the circuit's volume, what liquid leaves free in the condenser."""
    pieces = circuit_pieces(build.job, build.compressor)
    condenser = sum(p.volume for p in pieces if p.name == "condenser")
    return _FREE * condenser / sum(p.volume for p in pieces)


def misread(fault: Fault | None, readings: Mapping[str, float], ambient: float) -> dict[str, float]:
    """Readings [SI] as an instrument with this fault shows them, in a room of `ambient`. [K]"""
    shown = dict(readings)
    if fault is None or fault.place not in shown:
        return shown
    if fault.kind.key == "gauge":
        shown[fault.place] += fault.size
    elif fault.kind.key == "thermometer":
        shown[fault.place] += fault.size * (ambient - shown[fault.place])
    return shown


def fault_named(text: str) -> FaultKind | None:
    """The kind a person means; nothing for "none".

    Raises
    ------
    JobError
        The words fit none, or several equally.
    """
    said = " ".join(re.sub(r"[^a-z]+", " ", text.casefold()).split())
    if said in ("none", "no", "no fault", "nothing", "healthy"):
        return None
    best: list[FaultKind] = []
    length = 0
    for kind in _KINDS:
        for word in (kind.key, kind.name, *kind.words):
            plain = " ".join(re.sub(r"[^a-z]+", " ", word).split())
            if re.search(rf"\b{plain}", said) is None or len(plain) < length:
                continue
            # The longest words that fit decide: "air in the circuit" is not "air".
            if len(plain) > length:
                best, length = [], len(plain)
            if kind not in best:
                best.append(kind)
    if len(best) == 1:
        return best[0]
    raise JobError(
        what="which fault is that",
        read=text,
        allowed=f"say one of: {', '.join(k.name for k in _KINDS)}; or none",
    )
