"""Whether the oil of a compressor suits a refrigerant.

Oil leaves the compressor with the gas and must come back with it, so the liquid refrigerant has to
carry it through the evaporator. Which kinds do so is common practice of compressor makers, kept in
the safety data; what is not listed there falls under the general rules below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sweatline.errors import JobError
from sweatline.refrigerant.safety_data import SafetyData, safety_data

OILS: Final = {
    "MO": "mineral oil",
    "AB": "alkylbenzene",
    "POE": "polyol ester",
    "PAG": "polyalkylene glycol",
    "PVE": "polyvinyl ether",
}

_PRACTICE: Final = "common practice of compressor makers"
_THIRSTY: Final = (
    " It takes up water from the air within minutes: keep the circuit capped, fit a new drier."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OilVerdict:
    """Judgement on one oil with one refrigerant."""

    oil: str
    refrigerant: str
    verdict: Literal["ok", "marginal", "wrong"]
    sentence: str
    suitable: tuple[str, ...]  # kinds that suit the refrigerant
    source: str
    status: str


def _by_rule(oil: str, data: SafetyData) -> tuple[Literal["marginal", "wrong"], str, str]:
    """Verdict, sentence and status for a pair that no list names."""
    word = OILS[oil].capitalize()
    if oil in ("MO", "AB") and data.fluorinated:
        # list both kinds, so what comes here is free of chlorine
        return (
            "wrong",
            f"{word} hardly mixes with {data.name}: what leaves the compressor stays in the "
            "evaporator. Change the oil, or choose another refrigerant.",
            "MEMORY 0.85",
        )
    if oil == "PAG" and data.chlorinated:
        return (
            "wrong",
            f"{word} is attacked by chlorine, and {data.name} carries it.",
            "MEMORY 0.65",
        )
    return (
        "marginal",
        f"{word} is not among the oils listed for {data.name}: ask the maker of the compressor.",
        "MEMORY 0.65",
    )


def oil_verdict(oil: str, refrigerant: str) -> OilVerdict:
    """Judge the oil of a compressor against a refrigerant.

    Parameters
    ----------
    oil : str
        ``MO``, ``AB``, ``POE``, ``PAG``, ``PVE`` or ``unknown``.
    refrigerant : str
        Name such as ``R-134a``.

    Raises
    ------
    JobError
        No such oil or refrigerant.
    """
    data = safety_data(refrigerant)
    listed = data.provenance["oils"]
    verdict: Literal["ok", "marginal", "wrong"]
    status = listed.status
    if oil == "unknown":
        verdict = "marginal"
        sentence = (
            "The oil is not known. The plate or the compressor's first refrigerant tells its kind; "
            f"for {refrigerant} it has to be one of: {', '.join(data.oils)}."
        )
    elif oil not in OILS:
        raise JobError(
            what="no oil of this kind", read=oil[:40], allowed=f"known: {', '.join(OILS)}, unknown"
        )
    elif oil in data.oils:
        verdict = "ok"
        sentence = f"{OILS[oil].capitalize()} suits {refrigerant}."
    elif oil in data.oils_limited:
        verdict = "marginal"
        note = data.provenance["oils_limited"].note
        sentence = f"{OILS[oil].capitalize()} with {refrigerant}: {note}."
    else:
        verdict, sentence, status = _by_rule(oil, data)
    if oil in ("POE", "PAG", "PVE") and verdict != "wrong":
        sentence += _THIRSTY
    return OilVerdict(
        oil=oil,
        refrigerant=refrigerant,
        verdict=verdict,
        sentence=sentence,
        suitable=data.oils,
        source=_PRACTICE,
        status=status,
    )
