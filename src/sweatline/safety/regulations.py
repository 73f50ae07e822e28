"""Whether a flammable refrigerant may go into a machine not built for it, by country.

Pointers with their status, never legal advice. Where no rule of a country is known here, the local
code is pointed at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sweatline.refrigerant.safety_data import safety_data

Jurisdiction = Literal["US", "EU", "other"]

# Member states as people write them: ISO 3166 codes (EL is also used for Greece) and names.
_MEMBERS: Final = (
    "AT BE BG CY CZ DE DK EE EL ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK AUSTRIA "
    "BELGIUM BULGARIA CROATIA CYPRUS CZECHIA DENMARK ESTONIA FINLAND FRANCE GERMANY GREECE HUNGARY "
    "IRELAND ITALY LATVIA LITHUANIA LUXEMBOURG MALTA NETHERLANDS POLAND PORTUGAL ROMANIA SLOVAKIA "
    "SLOVENIA SPAIN SWEDEN"
)
_UNITED_STATES: Final = frozenset({"US", "USA", "UNITED STATES", "UNITED STATES OF AMERICA"})
_UNION: Final = frozenset({"EU", "EUROPEAN UNION"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule pointed at."""

    key: str
    text: str
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Whether the tool goes on without the person taking an explicit decision."""

    stop: bool
    barred: bool  # a known rule forbids it, so no decision of the person opens the gate
    reason: str
    rule: Rule | None


# On putting a flammable refrigerant into a machine that was not built for it.
_RULES: Final = {
    "US": Rule(
        key="us-listed-use",
        text="Listings of flammable substitutes are for new equipment designed, built and marked "
        "for that refrigerant. Converting a machine that was made for another is outside them.",
        source="40 CFR 82 Subpart G, appendices (SNAP)",
        status="PUBLISHED",
    ),
    "EU": Rule(
        key="eu-conversion",
        text="Whoever converts a machine to a flammable refrigerant takes on the maker's duties "
        "for it, ignition sources and marking included.",
        source="product safety law and EN 378; no text was at hand",
        status="MEMORY 0.4",
    ),
    "other": Rule(
        key="local-code",
        text="No rule of this country is known here: read the local code on refrigerants, on "
        "flammable charge and on who may open a circuit before starting.",
        source="local code",
        status="unknown",
    ),
}


def jurisdiction(country: str) -> Jurisdiction:
    """Which set of rules a country falls under, from the way a person writes it."""
    word = " ".join(country.replace(".", "").upper().split())
    if word in _UNITED_STATES:
        return "US"
    if word in _UNION or word in _MEMBERS.split():
        return "EU"
    return "other"


def conversion_gate(
    refrigerant: str, *, built_for: str | None, country: str, accepted: bool = False
) -> Gate:
    """Whether to stop before a flammable refrigerant goes into a machine not built for it.

    Parameters
    ----------
    refrigerant : str
        The one to be charged.
    built_for : str or None
        The one on the machine's plate, None when it cannot be read.
    country : str
        As written by the person.
    accepted : bool
        The person has read the rule for this country and takes the decision; it opens the gate
        only where no rule is known to bar the conversion outright.
    """
    data = safety_data(refrigerant)
    if not data.flammable or refrigerant == built_for:
        return Gate(stop=False, barred=False, reason="", rule=None)
    made = f"made for {built_for}" if built_for else "whose own refrigerant is not known"
    place = jurisdiction(country)
    rule = _RULES[place]
    barred = place == "US"
    reason = (
        f"{refrigerant} is flammable (class {data.safety_class}) and would go into a machine "
        f"{made}. {rule.text}"
    )
    return Gate(stop=barred or not accepted, barred=barred, reason=reason, rule=rule)
