"""The scripts of the documentation run as they stand there."""

import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = sorted((ROOT / "docs" / "scripts").glob("*.py"))


def test_there_is_a_script_for_each_subject() -> None:
    assert len(SCRIPTS) >= 9


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_a_script_runs(
    script: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    runpy.run_path(str(script), run_name="__main__")
    assert len(capsys.readouterr().out.splitlines()) >= 2
