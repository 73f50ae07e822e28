"""Settings of the documentation site; `make docs` builds it.

Pages that the program itself makes (commands, job file, evidence, API) are written by
`tools/build_site.py` into `docs/generated` before the site is built. Nothing is fetched from a
network, neither while building nor while reading: formulas become MathML, and type comes with
the theme.
"""

import dataclasses
import functools
import os
from typing import Any

from docutils import nodes
from docutils.utils.math import latex2mathml
from sphinx import addnodes

# Kernels are documented as the plain functions they are compiled from.
os.environ["NUMBA_DISABLE_JIT"] = "1"

from sweatline import __version__
from sweatline.answers import Answer
from sweatline.answers.fields import members_of

project = "sweatline"
author = "the authors of sweatline"
project_copyright = "the authors of sweatline, Apache License 2.0"
version = release = __version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
myst_enable_extensions = ["attrs_inline", "colon_fence"]
myst_heading_anchors = 3
exclude_patterns = ["generated/snippets"]
# Types in docstrings are words for a reader, also where two classes bear the same name.
suppress_warnings = ["ref.python"]

html_theme = "furo"
html_title = f"sweatline {version}"
html_copy_source = False
html_show_sphinx = False
html_math_renderer = "mathml"
html_extra_path = ["generated/extra"]
html_theme_options = {"top_of_page_buttons": []}

autodoc_member_order = "bysource"
autodoc_typehints = "none"  # the docstrings say types, shapes and units
autodoc_class_signature = "separated"
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_ivar = True
default_role = "code"  # `name` in a docstring is a name in the code
add_module_names = False


def _inline(writer: Any, node: nodes.math) -> None:
    writer.body.append(latex2mathml.tex2mathml(node.astext()))
    raise nodes.SkipNode


def _display(writer: Any, node: nodes.math_block) -> None:
    writer.body.append(
        f'<div class="math">{latex2mathml.tex2mathml(node.astext(), as_block=True)}</div>'
    )
    raise nodes.SkipNode


def _tell_answer(
    _app: object, what: str, _name: str, thing: object, _options: object, lines: list[str]
) -> None:
    """Put the JSON keys of an answer, with their labels, under its docstring."""
    if what != "class" or not isinstance(thing, type):
        return
    if lines and lines[0].startswith(f"{thing.__name__}("):
        lines.clear()  # made by the dataclass, and no sentence
    if not (issubclass(thing, Answer) and dataclasses.is_dataclass(thing)):
        return
    try:
        members = members_of(thing)
    except NameError:
        return  # its types are imported only when they are used: the door's own answers
    told = []
    for member in members:
        text = (
            ", ".join(part for part in (member.q.label, member.q.doc) if part) if member.q else ""
        )
        told.append(f"* ``{member.key}``" + (f": {text}" if text else ""))
    if told:
        lines += ["", "Keys in JSON:", "", *told, ""]


def _navigate(app: Any, _page: str, _form: str, context: dict[str, Any], _tree: object) -> None:
    """Make the navigation from titles, two deep, which is all there is of it.

    The theme keeps titles of pages only, but what stands on each would be copied before, for every
    page: that took most of the time of writing.
    """
    whole = context.get("toctree")
    if whole is None:
        return

    def of_titles(**asked: Any) -> Any:
        everything, app.env.tocs = app.env.tocs, _titles(app.env)
        try:
            return whole(**asked | {"maxdepth": 2})
        finally:
            app.env.tocs = everything

    context["toctree"] = of_titles


@functools.cache
def _titles(env: Any) -> dict[str, Any]:
    """Contents of every page without all but its title and the pages below it."""
    found = {}
    for page, contents in env.tocs.items():
        found[page] = contents.deepcopy()
        for top in found[page].children:
            if len(top) > 1:
                below = list(top.findall(addnodes.toctree))
                if below:
                    top[1][:] = below
                else:
                    top.pop(1)
    return found


def setup(app: Any) -> None:
    """Let Sphinx write formulas as MathML, tell what answers hold, and navigate by pages."""
    app.connect("autodoc-process-docstring", _tell_answer)
    app.connect("html-page-context", _navigate, priority=400)  # before the theme's own
    app.add_html_math_renderer("mathml", (_inline, None), (_display, None))
