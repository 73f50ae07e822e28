"""A paper before it is set: headings, rows, tables, figures; and its setting as PDF."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from pathlib import Path
from typing import Final, Literal

from sweatline.errors import MissingExtra
from sweatline.units import unbroken

PaperSize = Literal["a4", "us-letter"]
_FORMS: Final = "sweatline.report.sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a paper; what is empty is left out."""

    heading: str
    rows: Sequence[tuple[str, str]] = ()
    head: Sequence[str] = ()  # of the table
    table: Sequence[Sequence[str]] = ()
    text: Sequence[str] = ()
    figure: str = ""  # SVG


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A paper."""

    title: str
    subtitle: str
    verdict: str  # large, on top
    reasons: Sequence[str] = ()  # under it
    hatched: bool = False  # the verdict forbids
    flammable: bool = False  # the sign stands beside the title
    sections: Sequence[Section] = ()
    cautions: Sequence[str] = ()
    provenance: Sequence[str] = ()
    sign: bool = False  # space to sign
    figure: str = ""  # SVG, on a page of its own
    size: PaperSize = "a4"


def typeset(document: Document, form: Literal["paper", "label"]) -> bytes:
    """The document as PDF.

    Parameters
    ----------
    form : str
        ``paper`` for pages, ``label`` for a label of 100 mm by 70 mm.

    Raises
    ------
    MissingExtra
        The typesetter is not installed.
    """
    try:
        import typst
    except ImportError as error:
        raise MissingExtra("typst", "page") from error
    told = asdict(document)
    with tempfile.TemporaryDirectory(prefix="sweatline-") as name:
        folder = Path(name)
        (folder / "figure.svg").write_text(told["figure"], encoding="utf-8")
        for n, section in enumerate(document.sections):
            (folder / f"section-{n}.svg").write_text(section.figure, encoding="utf-8")
        text = unbroken(json.dumps(told, ensure_ascii=False))
        (folder / "document.json").write_text(text, encoding="utf-8")
        for file in (f"{form}.typ", "flame.svg"):
            content = resources.files(_FORMS).joinpath(file).read_bytes()
            (folder / file).write_bytes(content)
        made = typst.compile(folder / f"{form}.typ", root=folder, ignore_system_fonts=True)
    assert isinstance(made, bytes)
    return made
