"""The evidence page as one HTML file that needs nothing else: pictures and style are inside."""

import html
import re
from collections.abc import Mapping, Sequence
from itertools import groupby
from pathlib import Path

from tests.evidence import BASES, Section
from tools.evidence import markdown, marks, strips
from tools.evidence.values import HEADINGS, Record, Value, by_basis
from tools.evidence.words import (
    capital,
    deviation,
    sentence,
    tolerance,
    total,
    verdict,
    with_unit,
)

from sweatline.report import paper

INTRO = """\
Every value that a model is held against is here, with its source and our deviation. Nothing is left out because it looks bad; what is *not met* is a finding and stays on the page. [Back to the site](index.html), [one line for each model](evidence.html).
"""  # noqa: E501 - a paragraph is one line
STYLE = Path(__file__).with_name("page.css")

# Colours of the pictures, and the page's own that follow the reader's light or dark screen.
_COLOURS = {
    paper.INK: "ink",
    paper.GREY: "grey",
    paper.FAINT: "faint",
    paper.COLD: "cold",
    paper.WARM: "warm",
    marks.BAND: "band",
    marks.WHITE: "paper",
}
_COLOUR = re.compile("|".join(_COLOURS))
_OUTSIDE = re.compile(r"^.*?(?=<svg )|<metadata>.*?</metadata>", re.DOTALL)
_IDENTITY = re.compile(r'\b(id="|href="#|url\(#)')
_SIZE = re.compile(r'(<svg [^>]*?) width="[^"]*" height="[^"]*"')
_BLACK_TEXT = re.compile(r'<text style="(?![^"]*fill:)')
_STYLE_OF_ALL = re.compile(r"<style[^>]*>.*?</style>", re.DOTALL)
_MARKUP = re.compile(r"\*\*(.+?)\*\*|\*(.+?)\*|`(.+?)`|\[(.+?)\]\((.+?)\)")


def inline(svg: str, stem: str, text: str) -> str:
    """A picture as part of the page: its colours follow the page, its names are its own."""
    svg = _STYLE_OF_ALL.sub("", _OUTSIDE.sub("", svg))
    svg = _IDENTITY.sub(rf"\g<1>{stem}.", svg)
    svg = _SIZE.sub(r"\1", svg)
    svg = _BLACK_TEXT.sub('<text style="fill: #000000; ', svg).replace("#000000", paper.INK)
    svg = _COLOUR.sub(lambda found: f"var(--{_COLOURS[found[0]]})", svg)
    label = html.escape(text, quote=True)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1).strip()


def prose(text: str) -> str:
    """A paragraph with the little Markdown that the page's own texts use."""

    def mark(found: re.Match[str]) -> str:
        strong, weak, code, name, link = found.groups()
        if link:
            return f'<a href="{link}">{name}</a>'
        tag, inner = ("strong", strong) if strong else ("em", weak) if weak else ("code", code)
        return f"<{tag}>{inner}</{tag}>"

    return f"<p>{_MARKUP.sub(mark, html.escape(text.strip(), quote=False))}</p>"


def figure(stem: str, text: str, pictures: Mapping[str, str]) -> str:
    """A picture in its frame."""
    return f"<figure>{inline(pictures[stem], stem, text)}</figure>"


def plain_table(columns: Sequence[str], rows: Sequence[Sequence[str]], kind: str) -> list[str]:
    """A table of texts."""
    lines = [f'<table class="{kind}"><thead><tr>']
    lines += [f"<th>{html.escape(c)}</th>" for c in columns]
    lines.append("</tr></thead><tbody>")
    for row in rows:
        lines.append("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in row) + "</tr>")
    lines.append("</tbody></table>")
    return lines


def _value(number: int, value: Value, anchor: str, reason: str) -> str:
    missed = "" if value.met else " missed"
    figures = (
        ("printed", "printed", with_unit(value.printed, value.unit, 6)),
        ("ours", "ours", with_unit(value.ours, value.unit)),
        ("off", "off by", deviation(value)),
        ("allowed", "allowed", tolerance(value)),
    )
    cells = [
        f'<td class="number">{number}</td>',
        f'<td class="quantity">{html.escape(value.quantity)}</td>',
        *(
            f'<td class="figure {kind}" data-label="{label}">{html.escape(text)}</td>'
            for kind, label, text in figures
        ),
        f'<td class="verdict">{verdict(value)}</td>',
        f'<td class="reason">{html.escape(reason)}</td>',
    ]
    return f'<tr class="value{missed}" id="{anchor}-{number}">{"".join(cells)}</tr>'


def values_table(values: Sequence[Value], anchor: str) -> list[str]:
    """Values of a model under the sources they come from; a reason that all share is told once."""
    heads = (
        ("", "no."),
        ("", "quantity"),
        ("figure", "printed"),
        ("figure", "ours"),
        ("figure", "off by"),
        ("figure", "allowed"),
        ("", "verdict"),
        ("", "why this tolerance"),
    )
    lines = ['<table class="values"><thead><tr>']
    lines += [f'<th class="{kind}">{text}</th>' for kind, text in heads]
    lines.append("</tr></thead><tbody>")
    numbered = enumerate(values, start=1)
    for (source, status, basis, own), group in groupby(
        numbered, key=lambda n: (n[1].source, n[1].status, n[1].basis, n[1].in_sample)
    ):
        members = list(group)
        reasons = {v.reason for _, v in members}
        shared = f" Tolerance: {next(iter(reasons))}." if len(reasons) == 1 else ""
        fitted = " A number of ours was fitted to these." * own
        about = f"{status}, {basis}: {BASES[basis]}.{fitted}{shared}"
        lines.append(
            f'<tr class="source"><th colspan="8">{html.escape(source)}'
            f"<span>{html.escape(about)}</span></th></tr>"
        )
        before = ""
        for i, value in members:
            told = "" if shared else "as above" if value.reason == before else value.reason
            lines.append(_value(i, value, anchor, told))
            before = value.reason
    lines.append("</tbody></table>")
    return lines


def _section(section: Section, pictures: Mapping[str, str]) -> list[str]:
    stem = marks.slug(section.title)
    lines = [f'<h2 id="{stem}">{html.escape(section.title)}</h2>']
    lines += [prose(paragraph) for paragraph in section.text]
    if section.columns:
        lines += plain_table(section.columns, section.rows, "other")
    if section.series:
        text = f"{section.y} over {section.x}"
        lines.append(f'<div class="pictures">{figure(stem, text, pictures)}</div>')
    return lines


def _outcomes(models: Mapping[str, list[Value]]) -> list[str]:
    lines = ['<ul class="outcomes">']
    for model, values in models.items():
        kind = "" if all(v.met for v in values) else ' class="missed"'
        link = f'<a href="#{marks.slug(model)}">{html.escape(capital(model))}</a>'
        lines.append(f"<li{kind}>{html.escape(sentence(values))} <small>{link}</small></li>")
    lines.append("</ul>")
    return lines


def _contents(record: Record) -> list[str]:
    names = [section.title for section in record.sections] + list(record.models)
    items = (f'<li><a href="#{marks.slug(n)}">{html.escape(capital(n))}</a></li>' for n in names)
    return ["<nav><h2>Contents</h2><ul>", *items, "</ul></nav>"]


def page(record: Record, pictures: Mapping[str, str]) -> str:
    """The whole page from the record and the pictures, by their names."""
    lines = [
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>Every value</title>\n<style>\n{STYLE.read_text(encoding='utf-8')}</style>",
        "</head>\n<body>\n<h1>Every value from print against ours</h1>",
        prose(INTRO),
        "<h2>In short</h2>",
        prose(total(record)),
    ]
    for basis, models in by_basis(record.values).items():
        lines.append(f"<h3>{html.escape(HEADINGS[basis])}</h3>")
        lines.append(f'<p class="faint">{html.escape(capital(BASES[basis]))}.</p>')
        lines += _outcomes(models)
    lines += ["<h2>What the values are</h2>", prose(markdown.LEGEND)]
    lines += plain_table(markdown.count_columns(), markdown.counts(record), "counts")
    lines += ["<h2>Farthest off</h2>", prose(markdown.FARTHEST_TEXT)]
    lines += plain_table(markdown.FARTHEST_COLUMNS, markdown.farthest(record), "other farthest")
    lines.append('<h2>All deviations</h2>\n<div class="pictures">')
    for name in strips.STRIPS:
        text = f"{strips.STRIP_TITLES[name]}: deviations in tolerances"
        lines.append(figure(f"strip-{name}", text, pictures))
    lines.append("</div>")
    lines += _contents(record)
    for section in record.sections:
        lines += _section(section, pictures)
    panels = markdown.by_model(record)
    for model, values in record.models.items():
        anchor = marks.slug(model)
        lines.append(f'<h2 id="{anchor}">{html.escape(capital(model))}</h2>')
        lines += [f"<p>{html.escape(told)}</p>" for told in markdown.outcomes(values)]
        if panels[model]:
            lines.append('<div class="pictures">')
            for panel in panels[model]:
                text = f"Ours against printed, {panel.unit or 'no unit'}"
                lines.append(figure(panel.stem, text, pictures))
            lines.append("</div>")
        if reason := markdown.without_plot(values, panels[model]):
            lines.append(f'<p class="faint">{html.escape(reason)}</p>')
        lines += values_table(values, anchor)
    lines.append("</body>\n</html>")
    return "\n".join(lines) + "\n"
