"""Names as people type them: channels and events by the beginnings of their words, and times."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from sweatline.errors import JobError
from sweatline.log.channels import CHANNELS
from sweatline.units import Kind, parse

# What can happen, and what it means for the circuit.
EVENTS: Final[Mapping[str, str]] = {
    "started": "the compressor was switched on",
    "stopped": "the compressor was switched off",
    "opened": "the circuit was opened to the air",
    "pressurised": "nitrogen or another test gas was let in",
    "evacuating": "the vacuum pump was started",
    "isolated": "the pump was valved off",
    "vacuum broken": "refrigerant or dry gas was let in on the vacuum",
    "cylinder changed": "another cylinder stands on the scale",
    "hose left": "a hose was taken off: its bore, length, state and pressure",
    "can emptied": "a small can nobody weighed: its label, volume and pressure at the end",
    "vented": "refrigerant was let out: its mass",
}

# Events after which what was in the circuit is no longer there.
EMPTIED: Final = ("opened", "evacuating", "pressurised")


def channel_named(text: str, value: str = "") -> str:
    """A channel by its name or the beginnings of its words.

    Parameters
    ----------
    value : str
        What was read, with its unit: where several names begin like that, the unit may decide.

    Raises
    ------
    JobError
        None or several fit.
    """
    return _named(text, tuple(CHANNELS), "reading", value)


def event_named(text: str) -> str:
    """An event by its name or the beginning of it.

    Raises
    ------
    JobError
        None or several fit.
    """
    return _named(text, tuple(EVENTS), "event")


def plain_name(text: str) -> str:
    """Small letters, single blanks, no hyphens."""
    return " ".join(text.replace("-", " ").casefold().split())


def _named(text: str, names: Sequence[str], what: str, value: str = "") -> str:
    wanted = plain_name(text)
    if wanted in names:
        return wanted
    if what == "reading":
        whole = [n for n, c in CHANNELS.items() if wanted in c.also]
        if whole:
            return whole[0]
    near = [n for n in names if n.startswith(wanted)] if wanted else []
    if not near and wanted:
        near = [n for n in names if _begins_like(n.split(), wanted.split())]
    if len(near) > 1 and value:
        near = [n for n in near if _is_of(value, CHANNELS[n].kind)] or near
    if len(near) == 1:
        return near[0]
    raise JobError(
        what=f"no {what} of that name" if not near else f"several {what}s begin like that",
        read=text,
        allowed=f"choose one of: {', '.join(near or names)}",
    )


def _begins_like(name: Sequence[str], typed: Sequence[str]) -> bool:
    return len(typed) <= len(name) and all(
        n.startswith(t) for n, t in zip(name, typed, strict=False)
    )


def _is_of(value: str, kind: Kind) -> bool:
    """Whether a value is one of a kind; of a pressure that need not say gauge or absolute."""
    kinds: tuple[Kind, ...] = (kind,)
    if kind == "pressure":
        kinds = (kind, "pressure difference")
    for one in kinds:
        try:
            parse(value, one)
        except JobError:
            continue
        return True
    return False


def moment(text: str | None, *, now: float | None = None) -> float:
    """Seconds since 1970 (UTC) of a time as typed: ``14:05``, ``14:05:30``, a full date and time.

    Times without a date are today's, times without a zone are local; nothing is now.

    Raises
    ------
    JobError
        Not a time.
    """
    current = time.time() if now is None else now
    if text is None:
        return current
    today = datetime.fromtimestamp(current).astimezone()
    typed = " ".join(text.split())
    try:
        if len(typed) <= 8 and ":" in typed:
            hour, minute, *rest = (int(part) for part in typed.split(":"))
            second = rest[0] if rest else 0
            found = today.replace(hour=hour, minute=minute, second=second, microsecond=0)
        else:
            found = datetime.fromisoformat(typed)
            if found.tzinfo is None:
                found = found.astimezone()
    except (ValueError, IndexError) as error:
        raise JobError(
            what="not a time", read=text, allowed="write 14:05, 14:05:30 or 2026-03-14 14:05"
        ) from error
    return found.timestamp()
