"""Every mistake at the command line: one sentence, the right exit code, never a traceback."""

import contextlib
import io
from pathlib import Path
from typing import Any

import pytest

from sweatline.cli.main import main

BOAT = str(Path(__file__).parents[2] / "examples" / "boat-shed.toml")
TUBE = (
    *("capillary", "--refrigerant", "R-134a", "--bore", "0.9 mm"),
    *("--inlet-pressure", "9 bar(g)", "--outlet-pressure", "2 bar(g)"),
)
WET = ("--subcooling", "5 K")


def run(*arguments: str) -> tuple[int, str, list[str]]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    # Where the kernels are not kept yet, a line about that stands before what is looked at here.
    told = [line for line in err.getvalue().splitlines() if not line.startswith("Compiling ")]
    return code, out.getvalue(), told


@pytest.fixture(autouse=True)
def not_debugging(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SWEATLINE_DEBUG", raising=False)


MISTAKES: tuple[tuple[tuple[str, ...], int, tuple[str, ...]], ...] = (
    # what was typed, exit code, words of the one sentence
    (("saturation", "R-134a", "--pressure", "27"), 2, ("--pressure", "without a unit", "psig")),
    (("saturation", "R-134a", "--pressure", "27 psi"), 2, ("gauge or absolute", "psig or psia")),
    (("saturation", "R-134a", "--pressure", "40 inHg vacuum"), 2, ("below a perfect vacuum",)),
    (
        ("saturation", "R-134a", "--pressure", "29 inHg vacuum", "--altitude", "2000 m"),
        2,
        ("below a perfect vacuum", "altitude"),
    ),
    (("saturation", "R-134a", "--pressure", "-3 bar(g)"), 2, ("below a perfect vacuum",)),
    (("saturation", "R-134a", "--pressure", "lots"), 2, ("no number",)),
    (("saturation", "R-134a", "--pressure", "5 K"), 2, ("unit of temperature",)),
    (("saturation", "R-134a", "--pressure", "900 psig"), 3, ("R-134a", "900 psig", "allowed")),
    (("saturation", "R-134a", "--pressure", "200 bar(g)"), 3, ("R-134a", "200 bar(g)")),
    (("saturation", "R-134a", "--pressure", "20 micron"), 3, ("outside the table",)),
    (("saturation", "R-134a", "--temperature", "300 C"), 3, ("outside the table", "300 °C")),
    (("saturation", "R-134a", "--temperature=-300 C"), 2, ("below absolute zero",)),
    (("saturation", "R-134a", "--temperature", "nan C"), 2, ("no number",)),
    (("saturation", "R-134a"), 2, ("either --pressure or --temperature",)),
    (
        ("saturation", "R-134a", "--pressure", "1 bar(g)", "--temperature", "0 C"),
        2,
        ("either --pressure or --temperature",),
    ),
    (("saturation", "R-134a", "--pressure", "1 bar(g)", "--altitude", "30 km"), 2, ("--altitude",)),
    (("saturation", "R-135a", "--pressure", "1 bar(g)"), 2, ("no such refrigerant", "R-134a")),
    (("saturation", "", "--pressure", "1 bar(g)"), 2, ("no such refrigerant",)),
    (("saturation",), 2, ("missing argument",)),
    (("saturation", "R-134a", "--presure", "1 bar(g)"), 2, ("--presure",)),
    (("saturate",), 2, ("saturate",)),
    (("refrigerants", "--units", "cubits"), 2, ("cubits",)),
    (("schema", "nothing"), 2, ("no schema", "charge-curve")),
    (("check", "no-such-file.toml"), 2, ("no-such-file.toml", "no file")),
    (("check", "."), 2, ("folder",)),
    (("check",), 2, ("missing argument",)),
    (("match", "no-such-file.toml"), 2, ("no file",)),
    (("match", BOAT, "--draws", "many"), 2, ("--draws", "many")),
    (("match", BOAT, "--draws", "-1"), 2, ("--draws",)),
    (("match", BOAT, "--top", "0"), 2, ("--top",)),
    (("balance", BOAT), 2, ("capillary", "1 old one", "2 reel")),
    (("balance", BOAT, "--capillary", "reel"), 2, ("refrigerant", "R-134a")),
    (("balance", BOAT, "--capillary", "hose"), 2, ("no capillary of that name", "hose")),
    (("balance", BOAT, "--capillary", "3"), 2, ("no capillary", "2 reel")),
    (("balance", BOAT, "--capillary", "2", "--refrigerant", "R-1"), 2, ("refrigerant",)),
    (("balance", BOAT, "--compressor", "fridge", "--capillary", "2"), 2, ("no compressor",)),
    (
        ("balance", BOAT, "--capillary", "2", "--refrigerant", "1", "--charge", "8"),
        2,
        ("--charge", "without a unit"),
    ),
    (
        ("balance", BOAT, "--capillary", "2", "--refrigerant", "1", "--charge", "0 g"),
        2,
        ("--charge", "not believable here"),
    ),
    (
        ("balance", BOAT, "--capillary", "2", "--refrigerant", "1", "--length", "-1 m"),
        2,
        ("--length", "not believable here"),
    ),
    (("balance", BOAT, "--room-humidity", "140 %"), 2, ("--room-humidity",)),
    (("balance", BOAT, "--room-temperature", "500 C"), 2, ("--room-temperature",)),
    (("calibrate", BOAT), 2, ("which compressor ran", "[original.compressor]", "[[ran_well]]")),
    (("calibrate", BOAT, "--draws", "2"), 2, ("--draws",)),
    (("calibrate", BOAT, "--capillary", "hose"), 2, ("no capillary of that name", "hose")),
    (("metering", BOAT), 2, ("refrigerant",)),
    ((*TUBE, *WET), 2, ("either --length or --flow",)),
    ((*TUBE, *WET, "--length", "1 m", "--flow", "3 kg/h"), 2, ("either --length or --flow",)),
    ((*TUBE, "--length", "1 m"), 2, ("either --subcooling or --quality",)),
    ((*TUBE, "--length", "1 m", "--subcooling", "5"), 2, ("--subcooling", "without a unit")),
    ((*TUBE, "--length", "1 m", "--quality", "1.4"), 2, ("--quality",)),
    ((*TUBE, *WET, "--length", "1 furlong"), 2, ("--length", "furlong")),
    ((*TUBE, *WET, "--flow", "900 kg/h"), 2, ("--flow", "cannot pass")),
    ((*TUBE, *WET, "--length", "1 m", "--outlet-pressure", "10 bar(g)"), 2, ("must be below",)),
    ((*TUBE, *WET, "--length", "1 m", "--inlet-pressure", "90 bar(g)"), 3, ("outside the table",)),
    (
        (*TUBE, "--inlet-pressure", "3 bar(g)", "--length", "1 m", "--subcooling", "99 K"),
        3,
        ("outside the table",),
    ),
    (("room-map", BOAT, "--temperatures", "8:32"), 2, ("--temperatures", "8:32:2 C")),
    (("room-map", BOAT, "--temperatures", "8:32:2"), 2, ("--temperatures", "one unit")),
    (("room-map", BOAT, "--temperatures", "32:8:2 C"), 2, ("must rise",)),
    (("room-map", BOAT, "--temperatures", "8:32:0 C"), 2, ("must rise",)),
    (("room-map", BOAT, "--temperatures", "8:32:0.001 C"), 2, ("too many",)),
    (("room-map", BOAT, "--temperatures", "8:32:2 %"), 2, ("--temperatures", "%")),
    (("room-map", BOAT, "--humidities", "40:140:10 %"), 2, ("--humidities", "110 %")),
)


@pytest.mark.parametrize(
    ("typed", "code", "words"), MISTAKES, ids=[" ".join(m[0])[-60:] for m in MISTAKES]
)
def test_a_mistake_is_one_sentence(
    typed: tuple[str, ...], code: int, words: tuple[str, ...]
) -> None:
    got, out, err = run(*typed)
    assert got == code, err
    assert out == ""
    assert len(err) == 1, err
    assert "Traceback" not in err[0]
    for word in words:
        assert word in err[0], err[0]


def test_json_changes_nothing_about_a_mistake() -> None:
    plain = run("saturation", "R-134a", "--pressure", "27")
    assert run("saturation", "R-134a", "--pressure", "27", "--json") == plain


def test_every_mistake_of_a_job_file_has_its_line(tmp_path: Path) -> None:
    text = Path(BOAT).read_text(encoding="utf-8")
    text = text.replace('bore = "0.042 in"', 'bore = "0.042"').replace('"64 °F"', '"64 psig"')
    job = tmp_path / "two-mistakes.toml"
    job.write_text(text, encoding="utf-8")
    for command in ("check", "match", "balance", "metering", "charge-curve", "room-map"):
        code, out, err = run(command, str(job))
        assert code == 2
        assert out == ""
        assert len(err) == 2
        assert all(line.startswith(f"{job}:") for line in err)


def test_a_machine_without_a_balance_says_so_in_the_trades_words(tmp_path: Path) -> None:
    from sweatline.design import balance
    from sweatline.errors import SolveError

    def none(*_args: Any, **_kwargs: Any) -> None:
        raise SolveError(
            condition="the condenser cannot shed the heat",
            residuals={"charge (relative)": 0.3},
            tried=("design",),
        )

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(balance, "balance", none)
        code, out, err = run("balance", BOAT, "--capillary", "reel", "--refrigerant", "R-134a")
    assert (code, out, err) == (4, "", ["the condenser cannot shed the heat"])


def _broken(*_args: Any, **_kwargs: Any) -> None:
    raise ZeroDivisionError("of the\nprogram itself")


def test_a_fault_of_the_program_is_one_sentence_too(monkeypatch: pytest.MonkeyPatch) -> None:
    from sweatline.design import refrigerants

    monkeypatch.setattr(refrigerants, "refrigerants", _broken)
    code, out, err = run("refrigerants")
    assert code == 70
    assert out == ""
    (line,) = err
    assert "ZeroDivisionError: of the program itself" in line
    assert "SWEATLINE_DEBUG=1" in line


def test_debugging_lets_the_traceback_through(monkeypatch: pytest.MonkeyPatch) -> None:
    from sweatline.design import refrigerants
    from sweatline.errors import UnitError

    monkeypatch.setenv("SWEATLINE_DEBUG", "1")
    monkeypatch.setattr(refrigerants, "refrigerants", _broken)
    with pytest.raises(ZeroDivisionError):
        main(["refrigerants"])
    with pytest.raises(UnitError):
        main(["saturation", "R-134a", "--pressure", "27"])
    monkeypatch.setenv("SWEATLINE_DEBUG", "0")
    assert run("refrigerants")[0] == 70


def test_a_file_that_cannot_be_written_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from sweatline.design import refrigerants

    def full(*_args: Any, **_kwargs: Any) -> None:
        raise OSError(28, "No space left on device", str(tmp_path / "cache"))

    monkeypatch.setattr(refrigerants, "refrigerants", full)
    code, _, err = run("refrigerants")
    assert code == 5
    assert err == [f"{tmp_path / 'cache'}: No space left on device"]


def test_a_folder_for_figures_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("in the way", encoding="utf-8")
    code, out, err = run(
        *("balance", BOAT, "--capillary", "reel", "--refrigerant", "R-134a", "--draws", "0"),
        *("--figures", str(file / "folder")),
    )
    assert code == 5
    assert "What it settles at" in out  # the answer itself is not lost
    assert len(err) == 1
    assert str(file) in err[0]


def test_no_command_at_all_shows_the_help() -> None:
    code, _, err = run()
    assert code == 2
    assert err[0].startswith("Usage: sweatline")
