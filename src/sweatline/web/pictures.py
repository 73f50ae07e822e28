"""Figures inside a page: the paper's own drawings, in the page's colours, light or dark."""

from __future__ import annotations

import re
from collections.abc import Hashable
from typing import Final

from markupsafe import Markup
from starlette.responses import HTMLResponse

from sweatline.report.figures import Drawable, svg_figures
from sweatline.units import System
from sweatline.web.pages import part, render
from sweatline.web.workshop import Calculation, Workshop

# Ink of the paper and the variable of the page's style sheet that stands for it.
_INKS: Final = {
    "#1a1a1a": "ink",
    "#5c5c5c": "grey",
    "#b9b9b9": "faint",
    "#1d4f7c": "low",
    "#99400f": "high",
    "#ffffff": "paper",
    "white": "paper",
    "#dfe5ea": "band",
}
# Numbered names of groups, the same in every figure; nothing refers to them.
_NUMBERED: Final = re.compile(r'(<g) id="[A-Za-z0-9.]+_\d+"')
_STYLE: Final = re.compile(r'\sstyle="([^"]*)"')
_HEAD: Final = re.compile(r"^.*?(?=<svg)", re.DOTALL)
_EXTRA: Final = re.compile(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>", re.DOTALL)
_SIZE: Final = re.compile(r'(<svg[^>]*?)\swidth="[^"]*"|(<svg[^>]*?)\sheight="[^"]*"')


def _attributes(match: re.Match[str]) -> str:
    """Declarations as attributes and classes: the page's policy takes no styles in the markup."""
    classes, attributes = [], []
    for declaration in match[1].split(";"):
        name, _colon, value = (part.strip() for part in declaration.partition(":"))
        if name in ("fill", "stroke") and value.casefold() in _INKS:
            classes.append(f"{name}-{_INKS[value.casefold()]}")
        elif name:
            attributes.append(f'{name}="{value}"')
    if classes:
        attributes.append(f'class="{" ".join(classes)}"')
    return "".join(f" {a}" for a in attributes)


def themed(svg: str) -> str:
    """An SVG file as an element of a page, whose inks follow the page's."""
    text = _EXTRA.sub("", _HEAD.sub("", svg, count=1))
    text = _SIZE.sub(lambda m: m[1] or m[2], _SIZE.sub(lambda m: m[1] or m[2], text, 1), 1)
    text = _NUMBERED.sub(r"\1", _STYLE.sub(_attributes, text))
    return text.replace("<svg", '<svg class="drawing"', 1)


def pictures(answer: Drawable, system: System | None = None) -> list[tuple[str, Markup]]:
    """Name and drawing of each figure of an answer."""
    return [(name, Markup(themed(svg))) for name, svg in svg_figures(answer, system=system)]


def drawing(workshop: Workshop, key: Hashable, answer: Drawable) -> Calculation:
    """The figures of an answer on their way, for a page that shows its words at once."""
    return workshop.calculations.ask(("pictures", key), lambda _tell: pictures(answer))


def picture_part(calculation: Calculation) -> HTMLResponse:
    """Figures as a part of a page."""
    return part(calculation, lambda found: render("pictures.html", pictures=found))
