"""What parts made for one refrigerant allow with another: the pressure, and the oil.

A coil carries no drawing with it. What it was designed for follows from the refrigerant of the
machine it came from: standards set the design pressure to the saturation pressure of that
refrigerant at stated temperatures. The functions take saturation pressures as numbers, so that
they serve any refrigerant that has a table.

Factory strength tests go far beyond the design pressure, but they are made on new samples of a
type; they say nothing about one old coil. In service and under a nitrogen hold the whole circuit
stays at or below what the plate says for the low side.

Oil leaves the compressor with the gas and must come back with it, so the liquid refrigerant has to
carry it through the evaporator. Which kinds do so is common practice of compressor makers, kept in
the safety data; what is not listed there falls under the general rules below.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final, Literal

from sweatline.constants import ZERO_CELSIUS
from sweatline.errors import JobError, check_positive
from sweatline.refrigerant.safety_data import SafetyData, safety_data

Side = Literal["low", "high"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRule:
    """Temperature at which saturation pressure sets the design pressure of one side."""

    key: str
    side: Side
    temperature: float  # K
    applies: str
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthTest:
    """Type test of new samples: a multiple of a saturation pressure, as gauge pressure."""

    key: str
    side: Side
    temperature: float  # K
    factor: float
    source: str
    status: str

    def gauge_pressure(self, saturation: float, atmosphere: float) -> float:
        """Test pressure from the saturation pressure at the rule's temperature. [Pa gauge]

        Parameters
        ----------
        saturation : float
            Of the refrigerant at `temperature`, absolute. [Pa]
        atmosphere : float
            [Pa]
        """
        return self.factor * (saturation - atmosphere)


_ASHRAE: Final = ("ASHRAE 15, design pressures", "MEMORY 0.65")
_EN: Final = ("EN 378-2, design temperatures", "MEMORY 0.85")
_HOUSEHOLD: Final = ("IEC 60335-2-24, clause 22.7", "MEMORY 0.85")
_HOTTER: Final = (
    "air-cooled high side; hotter where the 1 % summer design air is above 35 °C, by 16.7 K over "
    "that air"
)

# Key, side, temperature in degrees Celsius, what it applies to, source with status.
_RULE_ROWS: Final[tuple[tuple[str, Side, float, str, tuple[str, str]], ...]] = (
    ("ashrae15-low", "low", 26.7, "any low side", _ASHRAE),
    ("ashrae15-high", "high", 51.7, _HOTTER, _ASHRAE),
    ("en378-low-32", "low", 32.0, "low side, ambient up to 32 °C", _EN),
    ("en378-low-43", "low", 43.0, "low side, ambient up to 43 °C", _EN),
    ("en378-high-32", "high", 55.0, "air-cooled condenser, ambient up to 32 °C", _EN),
    ("en378-high-38", "high", 59.0, "air-cooled condenser, ambient up to 38 °C", _EN),
    ("en378-high-43", "high", 63.0, "air-cooled condenser, ambient up to 43 °C", _EN),
)
# Key, side, temperature in degrees Celsius, factor, source with status.
_TEST_ROWS: Final[tuple[tuple[str, Side, float, float, tuple[str, str]], ...]] = (
    ("household-high", "high", 70.0, 3.5, _HOUSEHOLD),
    ("household-low", "low", 20.0, 5.0, _HOUSEHOLD),
)

DESIGN_RULES: Final = tuple(
    DesignRule(
        key=key,
        side=side,
        temperature=celsius + ZERO_CELSIUS,
        applies=applies,
        source=source,
        status=status,
    )
    for key, side, celsius, applies, (source, status) in _RULE_ROWS
)
STRENGTH_TESTS: Final = tuple(
    StrengthTest(
        key=key,
        side=side,
        temperature=celsius + ZERO_CELSIUS,
        factor=factor,
        source=source,
        status=status,
    )
    for key, side, celsius, factor, (source, status) in _TEST_ROWS
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureVerdict:
    """A pressure against what a part may be trusted with, both absolute."""

    pressure: float  # Pa
    limit: float  # Pa
    holds: bool
    sentence: str
    source: str
    status: str

    @property
    def share(self) -> float:
        """Pressure over limit."""
        return self.pressure / self.limit


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLimit:
    """Highest gauge pressure for a nitrogen hold, and what set it."""

    pressure: float  # Pa gauge
    sentence: str


_positive = functools.partial(check_positive, "pressure limit cannot be judged", unit="Pa")


def _rule(key: str) -> DesignRule:
    for rule in DESIGN_RULES:
        if rule.key == key:
            return rule
    raise ValueError(f"no design rule {key}")


def part_verdict(*, pressure: float, rated: float, part: str) -> PressureVerdict:
    """Judge a working pressure against the rating on a plate, both absolute.

    Parameters
    ----------
    pressure : float
        Highest pressure to be expected. [Pa]
    rated : float
        What the plate allows. [Pa]
    part : str
        Name of the part, for the sentence.
    """
    _positive("pressure", pressure)
    _positive("rated pressure", rated)
    holds = pressure <= rated
    return PressureVerdict(
        pressure=pressure,
        limit=rated,
        holds=holds,
        sentence=f"{part}: {'within' if holds else 'above'} the pressure on its plate",
        source="plate of the part",
        status="as written by the person",
    )


def substitution_verdict(
    *,
    side: Side,
    rule: str,
    original: str,
    substitute: str,
    original_saturation: float,
    substitute_pressure: float,
) -> PressureVerdict:
    """Judge another refrigerant in a coil made for the original, both pressures absolute.

    The coil is trusted with the saturation pressure of its original refrigerant at the rule's
    temperature, the design pressure a maker had to assume, and with no more.

    Parameters
    ----------
    side : str
        ``low`` or ``high``.
    rule : str
        Key of one of `DESIGN_RULES` for that side.
    original, substitute : str
        Names, for the sentence.
    original_saturation : float
        Bubble pressure of the original at the rule's temperature. [Pa]
    substitute_pressure : float
        What the substitute will show: its head pressure in operation on the high side, its bubble
        pressure at the hottest room on either side with the machine at rest. [Pa]

    Raises
    ------
    OutOfRange
        A pressure that is not positive.
    ValueError
        The rule is not one for this side.
    """
    chosen = _rule(rule)
    if chosen.side != side:
        raise ValueError(f"rule {rule} is for the {chosen.side} side")
    _positive("saturation pressure", original_saturation)
    _positive("pressure", substitute_pressure)
    holds = substitute_pressure <= original_saturation
    celsius = chosen.temperature - ZERO_CELSIUS
    word = "stays within" if holds else "goes beyond"
    return PressureVerdict(
        pressure=substitute_pressure,
        limit=original_saturation,
        holds=holds,
        sentence=f"{substitute} {word} what the {side} side had to be designed for with "
        f"{original}: saturation at {celsius:.4g} °C",
        source=f"{chosen.source} ({chosen.applies})",
        status=chosen.status,
    )


def hold_pressure_limit(
    *, low_side_gauge: float | None, original_low_saturation: float, atmosphere: float
) -> HoldLimit:
    """Highest gauge pressure for a nitrogen hold of the whole circuit.

    Parameters
    ----------
    low_side_gauge : float or None
        Low-side test pressure on the plate, gauge; None when there is none. [Pa]
    original_low_saturation : float
        Bubble pressure of the original refrigerant at 26.7 °C, absolute. [Pa]
    atmosphere : float
        [Pa]

    Notes
    -----
    The plate decides. Without a plate the low-side design pressure of the original refrigerant is
    the most that anyone can vouch for. The shell of a reciprocating hermetic compressor belongs to
    the low side, and a hold pressurises the whole circuit.
    """
    if low_side_gauge is not None:
        _positive("low-side test pressure", low_side_gauge)
        return HoldLimit(
            pressure=low_side_gauge,
            sentence="the low-side test pressure on the plate, for the whole circuit",
        )
    _positive("saturation pressure", original_low_saturation)
    _positive("atmosphere", atmosphere)
    return HoldLimit(
        pressure=max(original_low_saturation - atmosphere, 0.0),
        sentence="no plate: saturation of the original refrigerant at 26.7 °C, the low-side "
        "design pressure of ASHRAE 15, not checked in print",
    )


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
