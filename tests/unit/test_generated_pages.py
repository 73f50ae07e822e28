"""Pages made from the program say what the program says."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from sweatline import errors
from sweatline.job.glossary import glossary

ROOT = Path(__file__).resolve().parents[2]


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("name", "page"),
    [("build_job_file_page", "job-file.md"), ("build_command_page", "commands.md")],
)
def test_the_page_is_current(name: str, page: str) -> None:
    kept = (ROOT / "docs" / page).read_text(encoding="utf-8")
    assert tool(name).page() == kept, f"run tools/{name}.py"


def test_every_key_stands_on_the_page_of_the_job_file() -> None:
    text = tool("build_job_file_page").page()
    for key in glossary():
        assert f"| `{key.name}` | {key.meaning} |" in text


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


def test_pages_name_no_place_on_this_machine() -> None:
    for name in ("build_job_file_page", "build_command_page"):
        assert str(ROOT) not in tool(name).page()
