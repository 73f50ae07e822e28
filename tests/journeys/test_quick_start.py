"""The quick start does what its page says, from the job it prints to a ranked answer."""

from pathlib import Path

import pytest

from sweatline.cli.main import main
from sweatline.job.reading import read_job_text

PAGE = Path(__file__).parents[2] / "docs" / "quick-start.md"
JOB, PLATE, COMPRESSOR = (
    part.split("```", 1)[0] for part in PAGE.read_text(encoding="utf-8").split("```toml\n")[1:]
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "my-machine.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def test_the_job_is_read(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(job)]) == 0
    out = capsys.readouterr().out
    assert "1 compressor" in out
    assert "2 capillaries" in out


def test_it_ranks_its_parts(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["match", str(job)]) == 0
    out = capsys.readouterr().out
    best = next(line for line in out.splitlines() if line.lstrip().startswith("1 "))
    assert "freezer" in best
    assert "pints/day" in out
    assert "psig" in out


def test_a_forgotten_unit_is_told_with_its_line(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job.write_text(JOB.replace('"62 °F"', '"62"'), encoding="utf-8")
    assert main(["check", str(job)]) == 2
    err = capsys.readouterr().err
    assert "my-machine.toml:6: room.temperature" in err
    assert len(err.strip().splitlines()) == 1


def test_what_makes_it_surer_is_read_too() -> None:
    table = '[[compressor]]\nname = "freezer"\n'
    assert table in JOB
    before = read_job_text(JOB)
    after = read_job_text(f"{JOB.replace(table, table + COMPRESSOR)}\n{PLATE}")
    assert after.fan.volume_flow.sd < before.fan.volume_flow.sd
    assert after.original is not None
    assert after.compressors[0].oil == "POE"
