"""Is it ready? Every gate that must be clear, from the verdicts, the log and what was acknowledged.

A gate is clear, red (something is wrong) or open (nothing shows yet that it is right). The machine
is ready when all are clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from sweatline.answers import Answer, Shown
from sweatline.bench.evacuation.evacuation import EvacuationAnswer
from sweatline.bench.tightness.tightness import TightnessAnswer
from sweatline.design.verdict import Verdict
from sweatline.log.channels import ACKNOWLEDGED
from sweatline.log.entries import Entry
from sweatline.log.lines import acknowledgement
from sweatline.safety.cautions import CAUTIONS, Caution, Work, cautions_for

State = Literal["clear", "red", "open"]

# Cautions that somebody has to have read by name before the machine is called ready.
TO_ACKNOWLEDGE: Final = (
    "conversion", "flammable-gas", "like-for-like", "before-the-torch", "vacuum-no-power",
    "isolate", "label",
)  # fmt: skip
_WORK: Final[tuple[Work, ...]] = (
    "planning", "converting", "recovering", "brazing", "pressurising", "evacuating", "charging",
    "electrical", "running",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate(Answer):
    """One thing that must be clear."""

    key: str
    title: str
    state: State
    reason: str
    """Why it stands so."""
    caution: Caution | None = None
    """To be acknowledged by name; null for a gate that numbers decide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness(Answer):
    """Whether a machine may be called ready."""

    gates: tuple[Gate, ...]

    @property
    def ready(self) -> Annotated[bool, Shown()]:
        """Every gate is clear."""
        return all(g.state == "clear" for g in self.gates)

    @property
    def held_up_by(self) -> tuple[Gate, ...]:
        """Gates that are not clear, red ones first."""
        return tuple(sorted((g for g in self.gates if g.state != "clear"),
                            key=lambda g: g.state != "red"))  # fmt: skip


def readiness(
    *,
    refrigerant: str,
    verdicts: Iterable[Verdict],
    entries: Sequence[Entry],
    charged: float,
    tightness: TightnessAnswer | str,
    evacuation: EvacuationAnswer | str,
) -> Readiness:
    """Gates of a machine.

    Parameters
    ----------
    refrigerant : str
        In the machine.
    verdicts : iterable of Verdict
        Of these parts with the mass that was let in.
    entries : sequence of Entry
        Of its log, those that hold.
    charged : float
        In the machine by the log. [kg]
    tightness, evacuation : answer or str
        Of the pressure test and the rise test in the log, or why there is none.
    """
    found = {v.key: v for v in verdicts}
    gates = [_of_verdict(v) for v in found.values() if v.safety or v.key == "oil"]
    gates += [_tight(tightness), _dry(evacuation), _charged(charged)]
    known = acknowledged(entries)
    clear = {"conversion"} - set(found)  # built for it: nothing is converted
    wanted = cautions_for(refrigerant, work=_WORK, clear=clear)
    gates += [_of_caution(c, known) for c in wanted if c.key in TO_ACKNOWLEDGE]
    return Readiness(gates=tuple(gates))


def read_by(found: Readiness, entries: Iterable[Entry]) -> Readiness:
    """The same gates, with the cautions that were acknowledged in these entries."""
    known = acknowledged(entries)
    gates = (g if g.caution is None else _of_caution(g.caution, known) for g in found.gates)
    return Readiness(gates=tuple(gates))


def acknowledged(entries: Iterable[Entry]) -> dict[str, str]:
    """Who acknowledged each caution, by its key."""
    found = (
        acknowledgement(e.text) for e in entries if e.kind == "event" and e.channel == ACKNOWLEDGED
    )
    return dict(found)


def caution_named(key: str) -> Caution:
    """A caution by its key."""
    return next(c for c in CAUTIONS if c.key == key)


def _of_verdict(verdict: Verdict) -> Gate:
    state: State = "red" if verdict.state == "fails" else "clear"
    title = verdict.fault if state == "red" else f"{verdict.fault}?"
    return Gate(key=verdict.key, title=title, state=state, reason=verdict.sentence)


def _tight(found: TightnessAnswer | str) -> Gate:
    if isinstance(found, str):
        return Gate(key="tight", title="tight", state="open", reason=found)
    hold = found.hold
    state: State = "clear"
    reason = "no leak seen in the pressure test"
    if hold is None:
        state, reason = "open", "the log holds no pressure test"
    elif hold.rose or hold.settling:
        state, reason = "open", "the pressure test in the log gives no verdict yet"
    elif hold.found:
        state, reason = "red", "the pressure test in the log shows a leak"
    return Gate(key="tight", title="tight", state=state, reason=reason)


_AFTER_A_RISE: Final[Mapping[str, State]] = {
    "none": "clear", "outgassing": "clear", "undecided": "open", "fell": "open", "leak": "red",
    "leak and moisture": "red", "moisture": "red",
}  # fmt: skip


def _dry(found: EvacuationAnswer | str) -> Gate:
    if isinstance(found, str):
        return Gate(key="dry", title="dry", state="open", reason=found)
    rise = found.rise
    if rise is None:
        return Gate(key="dry", title="dry", state="open", reason="the log holds no rise test")
    state = _AFTER_A_RISE[rise.likeliest]
    return Gate(key="dry", title="dry", state=state, reason=rise.what_to_do)


def _charged(mass: float) -> Gate:
    if mass > 0.0:
        return Gate(key="charged", title="charged", state="clear", reason="by weight, in the log")
    return Gate(key="charged", title="charged", state="open", reason="the log holds no charge")


def _of_caution(caution: Caution, known: Mapping[str, str]) -> Gate:
    name = known.get(caution.key, "")
    return Gate(
        key=caution.key,
        title=caution.key.replace("-", " "),
        state="clear" if name else "open",
        reason=f"read by {name}" if name else "nobody has said that it was read",
        caution=caution,
    )
