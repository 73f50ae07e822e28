"""What may be wrong with a machine, as hypotheses that readings are weighed between.

One table. A cause of the machine names the kind of fault whose physics it is, so that a simulated
machine has the same one; a cause of the charge is a stretch of shares of the right charge; one in
time shows only between rounds; one of an instrument is a reading that shows something else. `usual`
says how often it is met, against machines in which nothing is wrong: orders of magnitude from
practice (MEMORY 0.4), and readings soon outweigh them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.log.channels import BLOCKED_TUBE
from sweatline.safety.cautions import Work

Part = Literal["none", "charge", "machine", "time", "instrument", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may be wrong, and what to do about it."""

    key: str
    part: Part
    usual: float
    """Odds against nothing being wrong."""
    name: str
    """With {} for the instruments that it is about."""
    do: str
    fault: str = ""
    """Kind of fault whose physics it is."""
    sizes: tuple[float, ...] = ()
    """Looked at, from mild to severe; for the charge, shares of the right one."""
    size_means: str = ""
    """What a size means, with {} where it stands in per cent."""
    ruled_out: str = ""
    """What a log calls it once it was looked for and is not there; {} for the instrument."""
    work: frozenset[Work] = frozenset()
    """Whose cautions apply to mending it."""

    def ruled_out_as(self, channels: Sequence[str]) -> tuple[str, ...]:
        """What a log calls it ruled out, where it is about these instruments."""
        named = (self.ruled_out.format(c) for c in channels or ("",))
        return tuple(dict.fromkeys(named)) if self.ruled_out else ()


_OPENED: Final[frozenset[Work]] = frozenset({"recovering", "brazing", "evacuating", "charging"})
_CLEANED: Final[frozenset[Work]] = frozenset({"electrical"})

_ALL: Final = (
    Cause(
        key="nothing", part="none", usual=1.0,
        name="nothing is wrong that these readings could show",
        do="leave it as it is; what still bothers you, measure with the readings named below",
    ),
    Cause(
        key="short", part="charge", usual=0.5, sizes=(0.35, 0.92),
        size_means="{} of the right charge is in",
        name="too little refrigerant",
        do="look for the leak first, mend it, then charge with `sweatline charge`",
        work=frozenset({"charging", "pressurising"}),
    ),
    Cause(
        key="over", part="charge", usual=0.2, sizes=(1.08, 1.7),
        size_means="{} of the right charge is in",
        name="too much refrigerant",
        do="recover some into a cylinder on a scale, a little at a time, and read again",
        work=frozenset({"recovering"}),
    ),
    Cause(
        key="restriction", part="machine", usual=0.2, fault="restriction",
        sizes=(0.9, 0.8, 0.68, 0.54, 0.4), size_means="the tube passes {} of what it should",
        name="capillary or drier partly blocked", ruled_out=BLOCKED_TUBE,
        do="do not charge it away: recover, change drier and capillary, evacuate, charge by weight",
        work=_OPENED,
    ),
    Cause(
        key="dirty condenser", part="machine", usual=0.25, fault="fouled-condenser",
        sizes=(0.8, 0.65, 0.5, 0.36, 0.22),
        size_means="{} of the condenser's heat transfer is left",
        name="dirty condenser", do="wash the condenser, then read again", work=_CLEANED,
    ),
    Cause(
        key="little air", part="machine", usual=0.25, fault="little-air",
        sizes=(0.9, 0.78, 0.65, 0.5, 0.35), size_means="{} of the air comes through",
        name="too little air",
        do="look at filter, grille, fan wheel and fan capacitor; clean both coils, then read again",
        work=_CLEANED,
    ),
    Cause(
        key="dirty evaporator", part="machine", usual=0.2, fault="fouled-evaporator",
        sizes=(0.8, 0.65, 0.5, 0.36, 0.22),
        size_means="{} of the evaporator's heat transfer is left",
        name="evaporator dirty or frosted",
        do="let it thaw with the fan on, wash it if it is dirty, then read again", work=_CLEANED,
    ),
    Cause(
        key="weak valves", part="machine", usual=0.15, fault="worn-valves",
        sizes=(0.9, 0.8, 0.68, 0.56, 0.45), size_means="it pumps {} of what it should",
        name="compressor with weak or leaking valves",
        do="stop it and see whether the gauges meet within seconds; if they do, another compressor",
        work=_OPENED,
    ),
    Cause(
        key="foreign gas", part="machine", usual=0.12, fault="non-condensable",
        sizes=(0.06, 0.14, 0.24, 0.36, 0.55), size_means="as much as {} of a circuit full of air",
        name="air or nitrogen in the circuit", ruled_out="air",
        do="recover, find how it came in, evacuate, charge by weight", work=_OPENED,
    ),
    Cause(
        key="compressor too small", part="machine", usual=0.04, fault="other-compressor",
        sizes=(0.9, 0.8, 0.7, 0.6, 0.5), size_means="its displacement is {} of the job's",
        name="compressor smaller than the job says, too small for these coils",
        do="read its plate again; run `sweatline match` with what it says",
    ),
    Cause(
        key="compressor too large", part="machine", usual=0.04, fault="other-compressor",
        sizes=(1.1, 1.22, 1.35, 1.5, 1.7), size_means="its displacement is {} of the job's",
        name="compressor larger than the job says, too large for these coils",
        do="read its plate again; run `sweatline match` with what it says",
    ),
    Cause(
        key="leak", part="time", usual=0.1, sizes=(0.0008, 0.0016, 0.003, 0.005),
        size_means="it loses {} of its charge a minute",
        name="a leak", ruled_out="leak",
        do="less is in than was weighed in, and less every minute: let nothing more in, look for "
        "it at every joint, recover, mend it, evacuate, charge by weight",
        work=_OPENED,
    ),
    Cause(
        key="wrong instrument", part="instrument", usual=0.08,
        name="the {} reads wrong", ruled_out="{}",
        do="read it with another instrument, or set its zero: a gauge open to the air, a "
        "thermometer in ice water or clamped on bare metal and wrapped",
    ),
    Cause(
        key="swapped", part="instrument", usual=0.04,
        name="{} look swapped", ruled_out="{}",
        do="look which is which, and enter both again",
    ),
    Cause(
        key="unknown", part="unknown", usual=0.08,
        name="something that is not known here",
        do="do not act on these readings: check every instrument, whether they had settled, and "
        "whether the job describes this machine; then take the readings named below",
    ),
)  # fmt: skip
CAUSES: Final[Mapping[str, Cause]] = {c.key: c for c in _ALL}
