"""Quantities as a person writes them, behind an option or in an entry of a log."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from sweatline.constants import STANDARD_ATMOSPHERE

if TYPE_CHECKING:
    from sweatline.units import Kind

__all__ = ["quantity", "split_fields", "written_system"]


def quantity(
    text: str,
    kind: Kind,
    option: str,
    *,
    atmosphere: float = STANDARD_ATMOSPHERE,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """Value in SI of what stands behind an option; pressures absolute.

    Raises
    ------
    JobError
        Not a quantity of this kind, or outside `low` to `high`; the sentence names the option.
    """
    from sweatline.errors import JobError
    from sweatline.units import parse, show

    try:
        value = parse(text, kind, atmosphere=atmosphere).value
    except JobError as error:
        error.field = option
        raise
    if (low is not None and value < low) or (high is not None and value > high):
        system = written_system(text)
        ends = [
            show(end, kind, system, atmosphere=atmosphere) for end in (low, high) if end is not None
        ]
        if len(ends) == 2:
            allowed = f"{ends[0]} to {ends[1]}"
        else:
            allowed = f"{'at least' if low is not None else 'at most'} {ends[0]}"
        raise JobError(what="out of all proportion", read=text, allowed=allowed, field=option)
    return value


# Units that only the US trade writes.
_US = re.compile(r"(?i)\b(psi[ag]?|inhg|micron|oz|lb|ft|in|btu|cfm|mil|fpi)\b|°?\s*F\b|[\"']")


def written_system(*texts: str | None, wanted: str | None = None) -> Any:
    """Unit system of what a person wrote, unless another is wanted."""
    if wanted is not None:
        return wanted.upper()
    return "US" if any(text and _US.search(re.sub(r"\d", " ", text)) for text in texts) else "SI"


def split_fields(
    text: str, option: str, needed: tuple[str, ...], optional: tuple[str, ...] = ()
) -> dict[str, str]:
    """Fields of an option that holds several, divided by semicolons or by a comma and a space.

    Raises
    ------
    JobError
        Too few or too many of them; the sentence names what belongs there.
    """
    from sweatline.errors import JobError

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
