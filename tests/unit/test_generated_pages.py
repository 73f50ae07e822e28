"""Pages made from the program say what the program says."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

from sweatline import errors
from sweatline.job.explanation import glossary

ROOT = Path(__file__).resolve().parents[2]


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_key_stands_on_the_page_of_the_job_file() -> None:
    text = tool("build_job_file_page").page()
    for key in glossary():
        assert f"| `{key.name}` | {key.key.meaning} |" in text


def test_every_exit_code_stands_on_the_page_of_the_commands() -> None:
    text = tool("build_command_page").page()
    for kind in (
        errors.JobError,
        errors.PhysicsError,
        errors.SolveError,
        errors.StoreError,
        errors.MissingExtra,
    ):
        assert f"\n| {kind.exit_code} |" in text


def test_a_dead_link_and_a_foreign_picture_are_found(tmp_path: Path) -> None:
    page = (
        '<a href="b.html">ok</a><a href="b.html#there">ok</a><a href="#here">ok</a>'
        '<a href="https://example.org">not looked at</a><p id="here">'
        '<a href="c.html">dead</a><a href="b.html#nowhere">dead</a>'
        '<img src="https://example.org/x.png">'
    )
    (tmp_path / "a.html").write_text(page, encoding="utf-8")
    (tmp_path / "b.html").write_text('<p id="there">', encoding="utf-8")
    assert sorted(tool("build_site").dead_links(tmp_path)) == [
        "a.html: b.html#nowhere",
        "a.html: c.html",
        "a.html: loads https://example.org/x.png",
    ]


def test_every_room_has_a_page() -> None:
    pages = tool("build_site").api()
    assert "automodule:: sweatline.parts.capillary" in pages["parts"]
    assert set(pages) >= {"index", "answers", "flow", "machine", "units", "errors"}


def test_pages_name_no_place_on_this_machine() -> None:
    for name in ("build_job_file_page", "build_command_page"):
        assert str(ROOT) not in tool(name).page()


def test_the_readme_is_short_and_its_example_is_one() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(text.split()) <= 1200
    assert text.count("![") == 1
    assert text.count("\n$ sweatline ") == 1


def test_every_example_is_shown_once_and_there_is_no_other() -> None:
    named = tool("examples").EXAMPLES
    pages = [*(ROOT / "docs" / "howto").glob("*.md"), ROOT / "docs" / "quick-start.md"]
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    shown = re.findall(r"generated/snippets/([\w-]+)\.md", text)
    assert set(shown) == {name for name, example in named.items() if example.lines}
    assert len(shown) == len(set(shown))


def test_options_named_on_the_pages_exist() -> None:
    known = set(re.findall(r"--[a-z][a-z-]+", tool("build_command_page").page()))
    pages = [*(ROOT / "docs" / "howto").glob("*.md"), ROOT / "docs" / "quick-start.md"]
    for page in [*pages, ROOT / "README.md", ROOT / "docs" / "trust.md"]:
        text = page.read_text(encoding="utf-8")
        for option in re.findall(r"(?<![\w-])--[a-z][a-z-]+", text):
            assert option in known, f"{page.name}: {option}"
