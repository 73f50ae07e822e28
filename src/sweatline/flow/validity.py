"""Where each correlation was fitted, and a note for every value outside.

The kernels return a number everywhere, continued sensibly, because a solver must be able to stray.
Whoever reports a result asks here whether the state it rests on lies within the authors' data.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from sweatline.answers import Amount, Kind, Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Range of one quantity in the data a correlation was fitted to.

    Parameters
    ----------
    quantity : str
        Key by which the value is handed over.
    words : str
        How the quantity is called in a sentence.
    low, high : float
        Ends of the range, as the authors state them.
    kind : str, optional
        Kind of quantity; none for a pure number.
    scale : float
        Factor from the SI value to the authors' unit.
    """

    quantity: str
    words: str
    low: float
    high: float
    kind: Kind | None = None
    scale: float = 1.0


def _mm(quantity: str, words: str, low: float, high: float) -> Span:
    return Span(quantity=quantity, words=words, low=low, high=high, kind="bore", scale=1e3)


def _flux(low: float, high: float) -> Span:
    return Span(
        quantity="mass_flux", words="mass flux", low=low, high=high, kind="mass flux"
    )  # fmt: skip


def _reduced(low: float, high: float) -> Span:
    return Span(quantity="reduced_pressure", words="reduced pressure", low=low, high=high)


VALIDITY: Final[Mapping[str, tuple[Span, ...]]] = MappingProxyType(
    {
        "air over plain fins (Wang, Chi and Chang 2000)": (
            Span(quantity="Re", words="Reynolds number of the air", low=300.0, high=20000.0),
            Span(quantity="rows", words="number of rows", low=1.0, high=6.0),
            _mm("tube_diameter", "tube diameter", 6.35, 12.7),
            _mm("fin_pitch", "fin pitch", 1.19, 8.7),
            _mm("Pt", "tube pitch across the air", 17.7, 31.75),
            _mm("Pl", "row pitch along the air", 12.4, 27.5),
        ),
        "boiling (Liu and Winterton 1991)": (
            _flux(12.4, 8179.0),
            _mm("diameter", "bore", 2.95, 32.0),
            Span(
                quantity="heat_flux", words="heat flux", low=0.348, high=2620.0, kind="heat flux",
                scale=1e-3,
            ),
            _reduced(0.0023, 0.895),
        ),
        "dry-out (Wojtan and others 2005)": (
            _flux(70.0, 700.0),
            _mm("diameter", "bore", 8.0, 13.84),
            Span(
                quantity="heat_flux", words="heat flux", low=2.0, high=57.5, kind="heat flux",
                scale=1e-3,
            ),
        ),
        "condensation (Shah 2009)": (
            _flux(4.0, 820.0),
            _mm("diameter", "bore", 2.0, 49.0),
            _reduced(0.0008, 0.9),
            Span(quantity="Re", words="all-liquid Reynolds number", low=68.0, high=85000.0),
        ),
        "two-phase friction (Müller-Steinhagen and Heck 1986)": (
            _flux(50.0, 2490.0),
            _mm("diameter", "bore", 4.0, 392.0),
        ),
    }
)  # fmt: skip


def range_notes(model: str, values: Mapping[str, float]) -> tuple[Note, ...]:
    """Notes on the values that lie outside the data of a correlation.

    Parameters
    ----------
    model : str
        Key of `VALIDITY`.
    values : Mapping[str, float]
        SI values by `Span.quantity`; quantities not handed over are not judged.

    Returns
    -------
    tuple of Note
        One for each value outside, in the order of the table; empty if all lie within.
    """
    notes = []
    for span in VALIDITY[model]:
        if span.quantity not in values:
            continue
        value = values[span.quantity]
        if span.low <= value * span.scale <= span.high:
            continue
        ends = (span.low / span.scale, span.high / span.scale)
        notes.append(
            Note(
                f"{span.words} {{}} is outside the data of {model}: {{}}",
                Amount(span.kind, (value,)),
                Amount(span.kind, ends, digits=4),
            )
        )
    return tuple(notes)
