"""Dose timing: whether readings that still move are good enough to act on, and what doses are.

A dose that is safe whatever the readings come to needs no waiting; the weighing of the samples has
the width of every outlook in it already, so a bold dose that it allows is safe now. Only where
little is allowed, near the end, does a narrower outlook change what can be said.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sweatline.charging.dosing import DoseAdvice
from sweatline.charging.settling import Character, Outlook

SHORTEST: Final = 120.0  # s after anything was done before which no outlook is acted on
LONGEST: Final = 600.0  # s after which an outlook is taken as it is
LAST: Final = 1200.0  # s before a machine that may still be short is called done
_SMALLEST: Final = 1e-3  # kg, what a kitchen scale still weighs out
_LEAST_SHARE: Final = 0.012  # of the best charge: less changes nothing that can be read
_LARGEST: Final = 0.12  # of the best charge, at once
_WIDE: Final = 5.0  # tolerances: an outlook wider than this is worth waiting for
_SHORT: Final = 0.05  # chance of being short that is left without waiting any longer
_BOLD: Final = 0.05  # of the charge in the machine: a dose as large as this shows in every reading


def unsure(outlooks: Mapping[str, Outlook], characters: Mapping[str, Character]) -> tuple[str, ...]:
    """Channels of which it cannot be told well yet where they settle."""
    return tuple(n for n, o in outlooks.items() if o.high - o.low > _WIDE * characters[n].tolerance)


def smallest_dose(best: float) -> float:
    """What is worth letting in at all, when the best charge is about so much. [kg]"""
    return max(_SMALLEST, _LEAST_SHARE * best)


def largest_dose(best: float) -> float:
    """What may be let in at once, when the best charge is about so much. [kg]"""
    return _LARGEST * best


def still_moving(
    advice: DoseAdvice,
    charge: float,
    outlooks: Mapping[str, Outlook],
    characters: Mapping[str, Character],
    waited: float,
    *,
    bold: bool = True,
) -> tuple[str, ...]:
    """Channels whose outlook is worth waiting for before the advice is followed.

    Parameters
    ----------
    advice : DoseAdvice
        By the outlooks as they are.
    charge : float
        In the machine. [kg]
    outlooks, characters : mapping
        Of the channels that are weighed.
    waited : float
        Since anything was done. [s]
    bold : bool
        Whether a bold dose may be followed on a wide outlook; not where a limit speaks against it.

    Returns
    -------
    tuple of str
        Empty where the advice can be followed now.
    """
    disturbed = tuple(n for n, o in outlooks.items() if o.state == "disturbed")
    if disturbed and waited < LONGEST:
        return disturbed
    wide = unsure(outlooks, characters)
    if waited < SHORTEST:
        return wide or tuple(outlooks)
    if advice.action == "stop" and waited < (LAST if advice.chance_short > _SHORT else LONGEST):
        # After a dose superheat dips and comes back for many minutes while the shell warms: what
        # settles further may still allow a dose.
        return wide or tuple(outlooks)
    if waited >= LONGEST:
        return ()
    if not wide:
        return ()
    if bold and advice.action == "add" and advice.dose >= _BOLD * charge:
        return ()
    return wide
