"""From what a technician writes to a value in SI: in a job file, behind an option, in a log."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Final

from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.errors import JobError, UnitError
from sweatline.units.kinds import (
    EXAMPLES,
    KINDS,
    Kind,
    Unit,
    bare_pressures,
    spellings,
    squeeze,
    units_of,
    with_article,
)
from sweatline.units.showing import Scale, System

_LONGEST: Final = 200  # characters; no quantity is longer, and a limit keeps hostile text cheap
_DIAL_ROUNDING: Final = 1e-3  # share of the atmosphere, about the third digit of a vacuum dial
_COMPOUND: Final[frozenset[Kind]] = frozenset({"mass", "length", "time", "volume"})
_PRESSURE_KINDS: Final[frozenset[Kind]] = frozenset(
    {"pressure", "gauge pressure", "absolute pressure"}
)

_DIGITS: Final = r"(?:\d+(?:[.,]\d+)*|[.,]\d+)"
_NUMBER: Final = re.compile(
    rf"""
    (?P<sign>[+-])?\s*
    (?:
      (?:(?P<whole>\d+)(?:\s+|-))?(?P<top>\d+)/(?P<bottom>\d+)(?![\d.,])
      | (?P<spaced>\d{{1,3}}(?:\ \d{{3}})+(?:[.,]\d+)?)(?![\d])
      | (?P<digits>{_DIGITS}\.?)(?P<exponent>[eE][+-]?\d+|\s*[x×]\s*10\^[+-]?\d+)?
    )
    """,
    re.VERBOSE,
)
_ABOUT: Final = re.compile(
    r"(?i)^(?:about|around|roughly|approximately|approx\.?|circa|ca\.?|~|≈)\s*(?=[-+.,\d½¼¾⅛⅜⅝⅞⅓⅔⅕⅙])"
)
_PLUS_MINUS: Final = re.compile(r"±|\+\s*/\s*-|\+-")
_NEXT_PART: Final = re.compile(r"[\s,]+(?:and\s+)?(?=[\d.]*\d)|$")

_VULGAR: Final = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3", "⅕": "1/5", "⅙": "1/6",
}  # fmt: skip
_SUPERSCRIPT: Final = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Parsed:
    """A quantity as read.

    Parameters
    ----------
    value : float
        Value in SI; pressures are absolute. [SI]
    sd : float or None
        Standard uncertainty the person stated after a plus-minus sign, None when none. [SI]
    text : str
        What was written, on one line.
    unit : str
        Unit it was written in, in its preferred spelling.
    about : bool
        The person wrote that it is a rough value: ``about 4 ft``, ``~4 ft``.
    """

    value: float
    sd: float | None
    text: str
    unit: str
    about: bool = False


def _plain(text: str) -> str:
    """Text in plain characters: one kind of minus, quote, space, degree and fraction."""
    for vulgar, fraction in _VULGAR.items():
        text = text.replace(vulgar, f" {fraction}")
    text = re.sub(r"10([⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)", lambda m: "10^" + m[1].translate(_SUPERSCRIPT), text)
    text = text.translate(_SUPERSCRIPT)
    for old, new in (
        ("″", '"'), ("”", '"'), ("“", '"'), ("''", '"'), ("′", "'"), ("’", "'"),
        ("º", "°"), ("˚", "°"), ("−", "-"), ("–", "-"), ("⁄", "/"), ("∕", "/"),
    ):  # fmt: skip
        text = text.replace(old, new)
    text = unicodedata.normalize("NFKC", text)
    text = text.replace("⁄", "/").replace('"', " in ").replace("'", " ft ")
    text = re.sub(r"\s*/\s*", "/", text)
    return " ".join(text.split())


def one_line(text: str) -> str:
    """Text on one line, without control characters that a terminal would obey."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _decimal(digits: str, text: str) -> float:
    """Number from digits with points and commas, refusing what can be read in two ways."""
    digits = digits.removesuffix(".") if digits.count(".") == 1 and "," not in digits else digits
    points, commas = digits.count("."), digits.count(",")
    if commas == 0 and points <= 1:
        return float(digits)
    if points == 0 and commas == 1:
        left, right = digits.split(",")
        if len(right) == 3 and 1 <= len(left) <= 3 and not left.startswith("0"):
            raise UnitError(
                what="a comma before three digits can mean thousands or a decimal comma",
                read=text,
                allowed=f"write {left}{right} or {left}.{right}",
            )
        return float(f"{left or '0'}.{right}")
    grouped = re.fullmatch(r"(\d{1,3}(?:([.,])\d{3})(?:\2\d{3})*)(?:([.,])(\d+))?", digits)
    if grouped and grouped[2] != grouped[3] and (grouped[3] or digits.count(grouped[2]) > 1):
        whole = grouped[1].replace(grouped[2], "")
        return float(f"{whole}.{grouped[4] or '0'}")
    raise UnitError(
        what="not a number that can be read in one way only",
        read=text,
        allowed="use one decimal point and no thousands separators",
    )


def _number(match: re.Match[str], text: str) -> float:
    if match["top"]:
        bottom = int(match["bottom"])
        if bottom == 0:
            raise UnitError(what="a fraction with zero below the bar", read=text)
        value = int(match["whole"] or 0) + int(match["top"]) / bottom
    elif match["spaced"]:
        value = float(match["spaced"].replace(" ", "").replace(",", "."))
    else:
        value = _decimal(match["digits"], text)
        if match["exponent"]:
            power = re.sub(r"^\s*(?:[eE]|[x×]\s*10\^)", "", match["exponent"])
            value = float(f"{value!r}e{power}") if math.isfinite(value) else value
    if not math.isfinite(value):
        raise UnitError(what="the number is too large", read=text)
    return -value if match["sign"] == "-" else value


def _find(spelled: str, kind: Kind) -> Unit | None:
    table = spellings(kind)
    key = squeeze(spelled)
    return table.get(key) or table.get(key.casefold())


def _unit(spelled: str, kind: Kind, text: str) -> Unit:
    unit = _find(spelled, kind)
    if unit is not None:
        return unit
    wanted = f"write for example {EXAMPLES[kind]}"
    if not spelled:
        raise UnitError(what=f"{with_article(kind)} without a unit", read=text, allowed=wanted)
    if kind in _PRESSURE_KINDS:
        advice = bare_pressures().get(squeeze(spelled).casefold())
        if advice:
            raise UnitError(
                what=f"{spelled} does not say whether it is gauge or absolute",
                read=text,
                allowed=advice,
            )
    for other in KINDS:
        if _find(spelled, other) is not None:
            raise UnitError(
                what=f"{spelled} is a unit of {other}, and {with_article(kind)} is wanted here",
                read=text,
                allowed=wanted,
            )
    import difflib  # only a mistake pays for it

    near = difflib.get_close_matches(squeeze(spelled), list(spellings(kind)), n=3, cutoff=0.5)
    names = list(dict.fromkeys(spellings(kind)[n].name for n in near))
    if names:
        wanted = "nearest: " + ", ".join(names) + f"; {wanted}"
    raise UnitError(what=f"unknown unit {spelled!r} of {kind}", read=text, allowed=wanted)


def _parts(body: str, text: str, kind: Kind) -> list[tuple[float, str]]:
    """Pairs of number and unit spelling: one, or several as in 1 lb 2 oz."""
    out: list[tuple[float, str]] = []
    at = 0
    while True:
        match = _NUMBER.match(body, at)
        if match is None:
            raise UnitError(
                what=f"no number where {with_article(kind)} is wanted"
                if not out
                else "not a quantity",
                read=text,
                allowed=f"write for example {EXAMPLES[kind]}",
            )
        number = _number(match, text)
        if kind not in _COMPOUND:
            return [(number, body[match.end() :].strip())]
        end = _NEXT_PART.search(body, match.end())
        stop = end.start() if end else len(body)
        out.append((number, body[match.end() : stop].strip()))
        if end is None or end.end() >= len(body):
            return out
        at = end.end()


def _whole(parts: list[tuple[float, str]], kind: Kind, text: str) -> tuple[float, Unit, float]:
    """Sum of the parts in SI, the unit of the last part and the number in that unit."""
    units = [_unit(spelled, kind, text) for _, spelled in parts]
    total = 0.0
    for (number, _), unit, before in zip(parts, units, [None, *units[:-1]], strict=True):
        if before is not None and (unit.factor >= before.factor or number < 0.0):
            raise UnitError(
                what="the parts of a compound quantity go from large unit to small",
                read=text,
                allowed="write for example 1 lb 2 oz",
            )
        total += number * unit.factor
    return total, units[-1], total / units[-1].factor


def parse(text: str, kind: Kind, *, atmosphere: float = STANDARD_ATMOSPHERE) -> Parsed:
    """Quantity of one kind as a technician writes it.

    Strict in meaning, forgiving in spelling: upper and lower case, spaces, dots, unicode signs,
    fractions, a decimal comma that cannot be a thousands separator, a plus-minus uncertainty
    (taken as one standard deviation), a word such as ``about`` before a rough value, and, for
    masses, lengths, times and volumes, compounds such as ``1 lb 2 oz``.

    Parameters
    ----------
    text : str
        What was written.
    kind : str
        Kind of quantity wanted, one of :data:`~sweatline.units.kinds.KINDS`.
    atmosphere : float
        Local atmospheric pressure, the zero of every gauge. [Pa]

    Returns
    -------
    Parsed
        Value in SI (pressures absolute), stated standard uncertainty or None, text and unit.

    Raises
    ------
    UnitError
        No number, no unit, a unit of another kind, an ambiguous number, or an absolute pressure
        or temperature below zero.
    """
    text = one_line(text[: _LONGEST + 1])
    shown = text if len(text) <= 60 else text[:57] + "..."
    if len(text) > _LONGEST:
        raise UnitError(what=f"too long for {with_article(kind)}", read=shown)
    rough = _ABOUT.match(text)
    plain = _plain(text[rough.end() :] if rough else text)
    body, sd_text = plain, ""
    sign = _PLUS_MINUS.search(plain)
    if sign:
        body, sd_text = plain[: sign.start()].strip(), plain[sign.end() :].strip()
        if body.startswith("(") and ")" in sd_text:
            body = body[1:].strip()
            sd_text = " ".join(sd_text.replace(")", " ", 1).split())

    parts = _parts(body, shown, kind)
    sd_number: float | None = None
    relative = False
    if sign:
        match = _NUMBER.match(sd_text)
        if match is None or match["sign"]:
            raise UnitError(
                what="no number after the plus-minus sign",
                read=shown,
                allowed="write for example 4.9 ± 0.1 cc",
            )
        sd_number = _number(match, shown)
        sd_unit = sd_text[match.end() :].strip()
        last = parts[-1][1]
        if not last and not (sd_unit == "%" and _find("%", kind) is None):
            parts[-1] = (parts[-1][0], sd_unit)
        elif sd_unit == "%" and squeeze(last) not in {"%", "%RH"}:
            relative = True
        elif sd_unit and _sd_unit(sd_unit, last, kind, shown) is None:
            raise UnitError(
                what="the uncertainty is in another unit than the value",
                read=shown,
                allowed="write both in one unit, for example 4.9 ± 0.1 cc",
            )

    if len(parts) == 1:
        number = parts[0][0]
        unit = _unit(parts[0][1], kind, shown)
        if unit.reference == "vacuum" and number < 0.0:
            raise UnitError(
                what="a vacuum is counted downward and takes no minus sign",
                read=shown,
                allowed=f"write {-number:g} {unit.name}",
            )
        if unit.reciprocal and number <= 0.0:
            raise UnitError(
                what=f"{with_article(kind)} in {unit.name} must be above zero", read=shown
            )
        value = unit.si(number, atmosphere)
    else:
        value, unit, number = _whole(parts, kind, shown)

    sd: float | None = None
    if sd_number is not None:
        sd = unit.spread(sd_number, number)
        if relative:
            sd = abs(value) * sd_number / 100.0
    if not math.isfinite(value) or (sd is not None and not math.isfinite(sd)):
        raise UnitError(what="the number is too large", read=shown)
    value = _physical(value, kind, shown, atmosphere)
    return Parsed(value=value, sd=sd, text=text, unit=unit.name, about=rough is not None)


def _sd_unit(spelled: str, of_value: str, kind: Kind, text: str) -> Unit | None:
    """Unit of the uncertainty when it is the value's unit or, for a temperature, its difference."""
    unit = _unit(of_value, kind, text)
    if _find(spelled, kind) == unit:
        return unit
    if kind == "temperature" or kind in _PRESSURE_KINDS:
        difference: Kind = (
            "temperature difference" if kind == "temperature" else "pressure difference"
        )
        step = _find(spelled, difference)
        if step is not None and step.factor == unit.factor:
            return unit
    return None


def _physical(value: float, kind: Kind, text: str, atmosphere: float) -> float:
    """Value if it can exist; a vacuum too deep by the rounding of a dial is a perfect one."""
    if kind in _PRESSURE_KINDS and value < 0.0:
        if value > -_DIAL_ROUNDING * atmosphere:
            return 0.0
        mercury = next(u for u in units_of("pressure") if u.name == "inHg vacuum")
        raise UnitError(
            what="below a perfect vacuum",
            read=text,
            allowed=(
                f"the deepest vacuum at this altitude is {atmosphere / mercury.factor:.2f} inHg "
                f"({atmosphere / 1e5:.3f} bar below the atmosphere)"
            ),
        )
    if kind == "temperature" and value < 0.0:
        raise UnitError(what="below absolute zero", read=text)
    return value


def quantity(
    written: float | str,
    kind: Kind,
    option: str,
    *,
    atmosphere: float = STANDARD_ATMOSPHERE,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """Value in SI of what stands behind an option or a keyword; pressures absolute.

    Raises
    ------
    JobError
        Neither a quantity of this kind nor a number in SI, or outside `low` to `high`; the
        sentence names the option.
    """
    if isinstance(written, str):
        try:
            value = parse(written, kind, atmosphere=atmosphere).value
        except JobError as error:
            error.field = option
            raise
    elif isinstance(written, bool) or not isinstance(written, int | float):
        raise UnitError(
            what="not a quantity",
            read=repr(written)[:40],
            allowed=f"a number in SI, or a text with its unit as {EXAMPLES[kind]}",
            field=option,
        )
    else:
        value = float(written)
    if (low is not None and value < low) or (high is not None and value > high):
        allowed = Scale(written_system(str(written)), atmosphere).limits(low, high, kind)
        read = str(written)
        raise JobError(what="not believable here", read=read, allowed=allowed, field=option)
    return value


# Units that only the US trade writes.
_US: Final = re.compile(
    r"(?i)\b(psi[ag]?|inhg|inh|micron|oz|lb|ft|in|btu|cfm|mil|microinch|fpi|pints?|gal|fpm|mph)\b"
    r"|(?<![A-Za-z])°?\s*F\b|[\"']"
)


def written_system(*texts: str | None, wanted: str | None = None) -> System:
    """Unit system of what a person wrote, unless another is wanted."""
    if wanted is not None:
        return "US" if wanted.upper() == "US" else "SI"
    return "US" if any(text and _US.search(re.sub(r"\d", " ", text)) for text in texts) else "SI"


def example_of(
    kind: Kind, system: System, *, low: float = -math.inf, high: float = math.inf
) -> str:
    """How a quantity of a kind is written in a unit system, or in any where both write alike.

    Parameters
    ----------
    low, high : float
        Between which it is wanted: of several examples the one nearest to their middle. [SI]
    """
    examples = EXAMPLES[kind].split(", ")
    examples = [e for e in examples if written_system(e) == system] or examples[:1]
    if not (low > 0.0 and high < math.inf):
        return examples[0]
    middle = math.sqrt(low * high)
    return min(examples, key=lambda e: abs(math.log(parse(e, kind).value / middle)))


def split_fields(
    text: str, option: str, needed: tuple[str, ...], optional: tuple[str, ...] = ()
) -> dict[str, str]:
    """Fields of an option that holds several, divided by semicolons or by a comma and a space.

    Raises
    ------
    JobError
        Too few or too many of them; the sentence names what belongs there.
    """
    parts = re.split(r";|,\s", text)
    fields = [part.strip() for part in parts]
    names = (*needed, *optional)
    if not len(needed) <= len(fields) <= len(names) or not all(fields):
        count = "one field" if len(fields) == 1 else f"{len(fields)} fields"
        more = f" and, if you like, {', '.join(optional)}" if optional else ""
        raise JobError(
            what=f"{', '.join(needed)}{more} belong here, not {count}",
            read=text[:80],
            allowed="divide them by a comma and a space",
            field=option,
        )
    return dict(zip(names, fields, strict=False))
