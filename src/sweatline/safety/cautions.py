"""What a person must know before and while working, as data.

Each caution has an identity that never changes, the work or refrigerant it belongs to, and a text
that defers to local codes and licensed practice. `cautions_for` picks those that apply; nothing
switches a caution off that applies.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Hidden
from sweatline.refrigerant.safety_data import safety_data

Work = Literal[
    "planning",
    "converting",
    "recovering",
    "brazing",
    "pressurising",
    "evacuating",
    "charging",
    "electrical",
    "running",
]
Applies = Literal["any", "flammable", "fluorinated", "toxic"]

# Concentration limit below which a refrigerant is warned of by itself; R-1270 has 1.7 g/m3.
_VERY_LOW_LIMIT: Final = 5e-3  # kg/m3


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution.

    `work` empty: it holds for all work. `stop`: the person has to decide before going on.
    """

    key: str
    text: str
    applies: Annotated[Applies, Hidden()] = "any"
    work: Annotated[frozenset[Work], Hidden()] = frozenset()
    stop: bool = False
    status: str = "common practice"


CAUTIONS: Final = (
    Caution(
        key="no-approval",
        text="sweatline computes. It approves no machine and no person, and replaces neither the "
        "plate nor the law of the place. Local codes and licensed practice decide.",
    ),
    Caution(
        key="conversion", applies="flammable",
        work=frozenset({"planning", "converting", "charging"}),
        text="A machine that was not built for a flammable refrigerant has parts that can spark "
        "and was never tested for a leak. In the United States the listings cover only new "
        "machines designed for it. Read the rule of your country before going on.",
        stop=True, status="PUBLISHED",
    ),
    Caution(
        key="over-limit", applies="flammable", work=frozenset({"planning", "charging"}),
        text="Above the charge that the room or the appliance rule allows, the machine must not "
        "be charged. No sheet will call it ready.",
        stop=True,
    ),
    Caution(
        key="flammable-gas", applies="flammable",
        work=frozenset({"converting", "recovering", "charging", "evacuating", "running"}),
        text="The gas is heavier than air and gathers on the floor. Ventilate at floor level. No "
        "flame, no smoking, no ordinary switch, plug or drill near it; gas alarm at the floor; "
        "powder or carbon dioxide extinguisher at hand. Seek leaks without any flame.",
    ),
    Caution(
        key="before-the-torch", work=frozenset({"brazing"}),
        text="Recover the refrigerant, purge with dry nitrogen, open the circuit and cut with a "
        "tube cutter before any torch is lit; let nitrogen trickle while brazing. Never braze "
        "with flammable gas inside or about.",
    ),
    Caution(
        key="acid-gas", applies="fluorinated",
        work=frozenset({"brazing", "recovering", "charging"}),
        text="Fluorinated gas in a flame or on glowing metal makes toxic, acid gas. Air the room.",
    ),
    Caution(
        key="dry-nitrogen-only", work=frozenset({"pressurising"}),
        text="Pressurise with dry nitrogen through a regulator and a relief valve only, never with "
        "oxygen or compressed air: with oil they explode. Stay below the low-side pressure on "
        "the plate, stand clear, wear eye protection.",
    ),
    Caution(
        key="cold-liquid", work=frozenset({"recovering", "charging"}),
        text="Liquid refrigerant freezes skin and eyes: gloves and goggles. Its vapour displaces "
        "air, in pits and cellars first.",
    ),
    Caution(
        key="no-venting", work=frozenset({"recovering", "converting", "charging", "evacuating"}),
        text="Do not vent. Exemptions are narrow and go by use. Regulated gas belongs to a "
        "certified person with recovery equipment.",
    ),
    Caution(
        key="cylinder", work=frozenset({"recovering"}),
        text="Gas of unknown make or mixture goes into a recovery cylinder of its own, marked, "
        "filled to at most 80 % with liquid by volume (not checked in print).",
        status="MEMORY 0.85",
    ),
    Caution(
        key="vacuum-no-power", work=frozenset({"evacuating", "electrical"}),
        text="Never run a compressor under vacuum, and never test its windings with high voltage "
        "there: they arc over.",
        status="PUBLISHED",
    ),
    Caution(
        key="isolate", work=frozenset({"electrical"}),
        text="Pull the plug, drain capacitors through a resistor, and prove with a meter that "
        "nothing is left. The sealed terminals can blow out under pressure: keep their cover on. "
        "Old oval capacitors may hold PCB.",
    ),
    Caution(
        key="like-for-like", applies="flammable", work=frozenset({"electrical"}),
        text="A relay, PTC or protector of another type can be the spark: replace by the "
        "identical type only.",
        status="MEMORY 0.85",
    ),
    Caution(
        key="label", work=frozenset({"converting", "charging"}),
        text="Mark the machine: refrigerant and its mass, oil, date, name; a flammable one at the "
        "service port as well. Keep the record of leak and vacuum tests.",
    ),
    Caution(
        key="low-concentration-limit", applies="toxic",
        text="The concentration limit of this refrigerant is very low for its toxicity. Compare "
        "the charge with the volume of the room before anything else.",
    ),
    Caution(
        key="room-air", work=frozenset({"planning", "charging"}),
        text="Compare charge over room volume with the concentration limit: a full leak takes "
        "oxygen away or poisons before it is noticed.",
    ),
    Caution(
        key="displacement", work=frozenset({"planning", "converting"}),
        text="In the same compressor R-290 in place of R-134a overloads the motor; R-600a in "
        "place of R-134a, or R-290 in place of R-410A, gives up much capacity.",
        status="COMPUTED",
    ),
    Caution(
        key="superheat-charts", work=frozenset({"charging"}),
        text="Superheat charts for charging are made for split and packaged air conditioners; "
        "they do not fit a dehumidifier or a refrigerator.",
    ),
    Caution(
        key="ranges", work=frozenset({"planning", "charging"}),
        text="Read the ranges, not the middle. A capillary passes 10 % more or less than its size "
        "says, its bore tolerance aside, and compressors of one type differ by as much. Values "
        "marked as not checked in print must be confirmed before use.",
    ),
)  # fmt: skip


def cautions_for(
    refrigerant: str | None, *, work: Collection[Work], clear: Collection[str] = ()
) -> tuple[Caution, ...]:
    """Cautions for a kind of work with a refrigerant, those that stop the work first.

    Parameters
    ----------
    refrigerant : str or None
        Name such as ``R-290``; None when unknown, which is taken for the worst.
    work : collection of str
        What is going to be done.
    clear : collection of str
        Keys of those that were looked into and do not apply to this machine.
    """
    applies: set[Applies] = {"any"}
    data = None if refrigerant is None else safety_data(refrigerant)
    if data is None or data.flammable:
        applies.add("flammable")
    if data is None or data.fluorinated:
        applies.add("fluorinated")
    if data is not None and data.rcl is not None and data.rcl < _VERY_LOW_LIMIT:
        applies.add("toxic")
    wanted = frozenset(work)
    found = [
        c
        for c in CAUTIONS
        if c.applies in applies and (not c.work or c.work & wanted) and c.key not in clear
    ]
    return tuple(sorted(found, key=lambda c: not c.stop))


def cautions_of(
    refrigerants: Iterable[str | None], *, work: Collection[Work], clear: Collection[str] = ()
) -> tuple[Caution, ...]:
    """Cautions for a kind of work with any of these refrigerants; None is one nobody knows."""
    found = {c.key: c for name in refrigerants for c in cautions_for(name, work=work, clear=clear)}
    # What stops the work first, and last the sentence that the law of the place decides.
    return tuple(sorted(found.values(), key=lambda c: (not c.stop, c.key == "no-approval")))
