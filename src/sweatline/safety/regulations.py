"""Which rules to read, by country. Pointers with their status, never legal advice.

A converted machine meets rules on three sides: whether a flammable refrigerant may be put into a
machine not built for it, what may be released or must be recovered, and who may do the work.
Where the project knows no rule of a country, it says so and points at the local code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sweatline.refrigerant.safety_data import SafetyData, safety_data

Jurisdiction = Literal["US", "EU", "other"]
Topic = Literal["conversion", "release", "people", "product", "charge"]
Scope = Literal["all", "flammable", "hydrocarbon", "fluorinated"]

NOT_LEGAL_ADVICE: Final = (
    "These are pointers to rules as far as they are known here, not legal advice; read the rule "
    "itself and ask the authority."
)

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
    jurisdiction: Jurisdiction
    topic: Topic
    scope: Scope  # refrigerants it concerns
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


_RULES: Final = (
    Rule(
        key="us-listed-use", jurisdiction="US", topic="conversion", scope="flammable",
        text="Listings of flammable substitutes are for new equipment designed, built and marked "
        "for that refrigerant. Converting a machine that was made for another is outside them.",
        source="40 CFR 82 Subpart G, appendices (SNAP)", status="PUBLISHED",
    ),
    Rule(
        key="us-dehumidifier-listing", jurisdiction="US", topic="product", scope="all",
        text="Residential dehumidifiers are an end use of their own with its own list and "
        "conditions; look up the refrigerant there.",
        source="88 FR 26382, effective 2023-05-30", status="PUBLISHED",
    ),
    Rule(
        key="us-no-hydrocarbon", jurisdiction="US", topic="conversion", scope="hydrocarbon",
        text="No hydrocarbon is known to be listed for dehumidifiers; verify before relying on it.",
        source="lists of acceptable substitutes (SNAP)", status="MEMORY 0.65",
    ),
    Rule(
        key="us-venting", jurisdiction="US", topic="release", scope="all",
        text="Knowingly venting a refrigerant or its substitute while working on a machine is "
        "barred; the small releases of a recovery done in good faith are not.",
        source="42 USC 7671g(c)", status="PUBLISHED",
    ),
    Rule(
        key="us-venting-exemptions", jurisdiction="US", topic="release", scope="hydrocarbon",
        text="Hydrocarbons are exempt from the venting bar only in the uses that are listed. A "
        "converted dehumidifier is not among them: treat it as not exempt.",
        source="79 FR 29682 and later listings; the last sentence is an inference",
        status="PUBLISHED",
    ),
    Rule(
        key="us-technician", jurisdiction="US", topic="people", scope="fluorinated",
        text="Opening a small appliance, factory charged and sealed with at most 5 lb, needs a "
        "technician certified for it (Type I or Universal).",
        source="40 CFR 82 Subpart F (section 608), from secondary texts", status="PUBLISHED",
    ),
    Rule(
        key="us-recovery", jurisdiction="US", topic="release", scope="fluorinated",
        text="Recover 90 % of the charge of a small appliance with its compressor working, 80 % "
        "without.",
        source="40 CFR 82 Subpart F (section 608)", status="PUBLISHED",
    ),
    Rule(
        key="us-gwp-700", jurisdiction="US", topic="product", scope="fluorinated",
        text="New self-contained residential air-conditioning products need a warming potential "
        "below 700 since 2025-01-01.",
        source="40 CFR 84.54(a)(1)", status="PUBLISHED",
    ),
    Rule(
        key="eu-f-gas", jurisdiction="EU", topic="people", scope="fluorinated",
        text="Work on a circuit with fluorinated gas needs a certified person; the regulation also "
        "rules release, recovery, leak checks and supply.",
        source="Regulation (EU) 2024/573, in force since 2024-03-11", status="PUBLISHED",
    ),
    Rule(
        key="eu-alternatives", jurisdiction="EU", topic="people", scope="hydrocarbon",
        text="Training under the regulation now also covers the alternatives to fluorinated gas; "
        "ask what your country requires for hydrocarbons.",
        source="Regulation (EU) 2024/573, Article 1", status="PUBLISHED",
    ),
    Rule(
        key="eu-movable-ac", jurisdiction="EU", topic="product", scope="fluorinated",
        text="Movable room air conditioners with a warming potential of 150 or more may not be "
        "placed on the market since 2020-01-01.",
        source="Regulation (EU) 517/2014, from accounts of it", status="PUBLISHED",
    ),
    Rule(
        key="eu-plug-in-ac", jurisdiction="EU", topic="product", scope="fluorinated",
        text="The same bound is to hold for plug-in room air conditioners from 2027.",
        source="Regulation (EU) 2024/573", status="MEMORY 0.65",
    ),
    Rule(
        key="eu-leak-check", jurisdiction="EU", topic="charge", scope="fluorinated",
        text="Regular leak checks start at 5 t of carbon dioxide equivalent, 10 t for machines "
        "labelled as sealed.",
        source="Regulation (EU) 2024/573", status="MEMORY 0.65",
    ),
    Rule(
        key="eu-conversion", jurisdiction="EU", topic="conversion", scope="flammable",
        text="Whoever converts a machine to a flammable refrigerant takes on the maker's duties "
        "for it, ignition sources and marking included.",
        source="product safety law and EN 378; no text was at hand", status="MEMORY 0.4",
    ),
    Rule(
        key="local-code", jurisdiction="other", topic="conversion", scope="all",
        text="No rule of this country is known here: read the local code on refrigerants, on "
        "flammable charge and on who may open a circuit before starting.",
        source="local code", status="unknown",
    ),
)  # fmt: skip


def jurisdiction(country: str) -> Jurisdiction:
    """Which set of rules a country falls under, from the way a person writes it."""
    word = " ".join(country.replace(".", "").upper().split())
    if word in _UNITED_STATES:
        return "US"
    if word in _UNION or word in _MEMBERS.split():
        return "EU"
    return "other"


def _concerns(rule: Rule, data: SafetyData) -> bool:
    return {
        "all": True,
        "flammable": data.flammable,
        "hydrocarbon": not data.fluorinated,
        "fluorinated": data.fluorinated,
    }[rule.scope]


def rules_for(country: str, refrigerant: str) -> tuple[Rule, ...]:
    """Rules pointed at for a refrigerant in a country, those on conversion first.

    Parameters
    ----------
    country : str
        As written by the person: ``US``, ``AT``, ``EU``; anything else gets the local code.
    refrigerant : str
        Name such as ``R-290``.
    """
    data = safety_data(refrigerant)
    place = jurisdiction(country)
    found = [r for r in _RULES if r.jurisdiction == place and _concerns(r, data)]
    return tuple(sorted(found, key=lambda r: r.topic != "conversion"))


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
    rule = next(r for r in rules_for(country, refrigerant) if r.topic == "conversion")
    barred = rule.jurisdiction == "US"
    reason = (
        f"{refrigerant} is flammable (class {data.safety_class}) and would go into a machine "
        f"{made}. {rule.text}"
    )
    return Gate(stop=barred or not accepted, barred=barred, reason=reason, rule=rule)


def carbon_dioxide_equivalent(refrigerant: str, *, charge: float) -> float | None:
    """Mass of carbon dioxide with the same warming over 100 years, after AR4. [kg]

    Parameters
    ----------
    refrigerant : str
        Name such as ``R-134a``.
    charge : float
        Charge. [kg]

    Notes
    -----
    Regulated gases are counted with AR4; for blends the sum of their components is used.
    """
    potential = safety_data(refrigerant).gwp_ar4
    return None if potential is None else charge * potential
