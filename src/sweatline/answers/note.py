"""Notes: remarks on an answer whose quantities are shown in the units of whoever reads them."""

from __future__ import annotations

from dataclasses import dataclass

from sweatline.units.kinds import Kind
from sweatline.units.showing import SI_SCALE, Scale


@dataclass(frozen=True, slots=True)
class Amount:
    """A quantity in a note, or both ends of a range; without a kind a pure number."""

    kind: Kind | None
    values: tuple[float, ...]
    digits: int = 3

    def shown(self, scale: Scale) -> str:
        """In the units of a scale, as in ``2.95 to 32 mm``."""
        return scale.plain(self.values, self.kind, self.digits)


class Note(str):
    """A remark on an answer: a text with SI units, as JSON has it, that knows its quantities.

    Parameters
    ----------
    words : str
        What is said, with {} in the place of each quantity.
    amounts : Amount
        The quantities, in their order.

    Examples
    --------
    >>> note = Note("bore {} is unusual", Amount("bore", (2.54e-3,)))
    >>> note
    'bore 2.54 mm is unusual'
    >>> told(note, Scale("US"))
    'bore 0.1 in is unusual'
    """

    words: str
    amounts: tuple[Amount, ...]

    def __new__(cls, words: str, *amounts: Amount) -> Note:
        """Text of the note in SI."""
        note = super().__new__(cls, words.format(*(a.shown(SI_SCALE) for a in amounts)))
        note.words, note.amounts = words, amounts
        return note


def told(note: str, scale: Scale) -> str:
    """A note in the units of a scale; any other text as it is."""
    if not isinstance(note, Note):
        return note
    return note.words.format(*(a.shown(scale) for a in note.amounts))
