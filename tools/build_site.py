"""Build the documentation site from docs/ and from the program itself, without a network.

Writes the pages that the program makes (commands, job file, evidence, API, scripts, examples)
into docs/generated, lets Sphinx build build/docs with warnings as errors, and looks at every link
of the pages that came out: one that leads nowhere inside the site, or a picture, script or type
that would have to be fetched from elsewhere, fails the build. `--record FILE` names what the tests
against print left behind (`make test` leaves build/evidence.jsonl); without it they are run.
"""

import argparse
import ast
import shutil
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

ROOT = Path(__file__).resolve().parent.parent
# Run as a script, Python sees only the folder of the script.
sys.path.insert(0, str(ROOT))

from tools import build_command_page, build_evidence, build_job_file_page  # noqa: E402
from tools.examples import snippets  # noqa: E402

DOCS = ROOT / "docs"
MADE = DOCS / "generated"
SNIPPETS = MADE / "snippets"
SITE = ROOT / "build" / "docs"
PACKAGE = ROOT / "src" / "sweatline"
# The commands have a page of their own.
NOT_IN_THE_API = ("cli",)


def heading(text: str, mark: str) -> str:
    """A heading in reStructuredText."""
    return f"{text}\n{mark * len(text)}\n\n"


def modules(folder: Path) -> Iterator[str]:
    """Dotted names of the modules below a folder, packages before what they hold."""
    for path in sorted(folder.iterdir()):
        dotted = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        if path.is_dir() and (path / "__init__.py").exists():
            yield dotted
            yield from modules(path)
        elif path.suffix == ".py" and path.stem not in ("__init__", "__main__"):
            yield dotted


def room_page(name: str, inside: list[str]) -> str:
    """The page of one room, or of one module that stands alone."""
    text = heading(f"sweatline.{name}", "=")
    text += f".. automodule:: sweatline.{name}\n"
    text += "\n" if inside else "   :members:\n\n"
    for module in inside:
        text += heading(module.removeprefix(f"sweatline.{name}."), "-")
        text += f".. automodule:: {module}\n   :members:\n\n"
    return text


def api() -> dict[str, str]:
    """Pages of the API by their names."""
    door = heading("From Python", "=") + (
        "What a script imports is in ``sweatline`` itself. The rooms below it hold the models; "
        "their functions take and return plain numbers in SI units.\n\n"
        ".. automodule:: sweatline\n   :members:\n\n"
    )
    pages = {}
    for path in sorted(PACKAGE.iterdir()):
        if path.stem in NOT_IN_THE_API or path.stem.startswith("_"):
            continue
        if path.is_dir() and (path / "__init__.py").exists():
            pages[path.stem] = room_page(path.stem, list(modules(path)))
        elif path.suffix == ".py":
            pages[path.stem] = room_page(path.stem, [])
    door += ".. toctree::\n   :caption: Rooms\n   :maxdepth: 1\n\n"
    door += "".join(f"   {name}\n" for name in pages)
    return {"index": door} | pages


def scripts() -> str:
    """The page of the example scripts, each under the first line of its docstring."""
    lines = ["# Scripts", "", "Each of these runs as it stands from the folder of the project."]
    for path in sorted((DOCS / "scripts").glob("*.py")):
        told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or path.stem
        title = told.splitlines()[0].rstrip(".")
        lines += ["", f"## {title}", "", f"```{{literalinclude}} ../scripts/{path.name}"]
        lines += [":language: python", "```"]
    return "\n".join(lines) + "\n"


def write(path: Path, text: str) -> None:
    """Write a page, unless it says the same already: Sphinx then need not read it again."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8")


def make_pages(record: Path | None) -> None:
    """Everything that stands in docs/generated."""
    pages = {f"api/{name}.rst": text for name, text in api().items()}
    pages["commands.md"] = build_command_page.page()
    pages["job-file.md"] = build_job_file_page.page()
    pages["scripts.md"] = scripts()
    pages["extra/evidence-values.html"] = build_evidence.web_page(build_evidence.collect(record))
    for name, text in pages.items():
        write(MADE / name, text)
    for path in MADE.rglob("*.*"):
        if path.relative_to(MADE).as_posix() not in pages and path.parent != SNIPPETS:
            path.unlink()
    snippets(SNIPPETS)


class Links(HTMLParser):
    """Anchors of a page, and what it points at and loads."""

    def __init__(self) -> None:
        super().__init__()
        self.anchors: set[str] = set()
        self.links: set[str] = set()
        self.loaded: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take note of what the tag names."""
        for name, value in attrs:
            if not value:
                continue
            if name == "id" or (tag == "a" and name == "name"):
                self.anchors.add(value)
            elif name == "src" or (tag == "link" and name == "href"):
                self.loaded.add(value)
            elif tag == "a" and name == "href":
                self.links.add(value)


def dead_links(site: Path) -> list[str]:
    """Links that lead nowhere inside the site, and things it would load from elsewhere."""
    pages: dict[Path, Links] = {}
    for path in site.rglob("*.html"):
        pages[path] = Links()
        pages[path].feed(path.read_text(encoding="utf-8"))
    found = []
    for path, page in pages.items():
        for link in sorted(page.links | page.loaded):
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                if link in page.loaded and parts.scheme != "data":
                    found.append(f"{path.relative_to(site)}: loads {link}")
                continue
            target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
            if target.is_dir():
                target /= "index.html"
            known = pages[target].anchors if target in pages else None
            fragment = unquote(parts.fragment)
            if not target.exists() or (fragment and known is not None and fragment not in known):
                found.append(f"{path.relative_to(site)}: {link}")
    return found


def main() -> int:
    """Build the site and look at its links."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--record", type=Path, metavar="FILE", help="what the tests left behind")
    options = parser.parse_args()
    make_pages(options.record)
    shutil.rmtree(SITE, ignore_errors=True)
    command = [sys.executable, "-m", "sphinx", "--quiet", "--fail-on-warning", "--keep-going"]
    command += ["--jobs", "auto", "--doctree-dir", str(SITE.parent / "doctrees")]
    code = subprocess.run([*command, str(DOCS), str(SITE)], cwd=ROOT, check=False).returncode
    if code != 0:
        return code
    dead = dead_links(SITE)
    for line in dead:
        print(f"dead link: {line}", file=sys.stderr)
    if not dead:
        print(f"build/docs/index.html: {len(list(SITE.rglob('*.html')))} pages")
    return 1 if dead else 0


if __name__ == "__main__":
    raise SystemExit(main())
