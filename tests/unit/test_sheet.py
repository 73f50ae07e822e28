"""The papers of a machine: what they say, when they say ready, and that they are PDF."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sweatline.bench.proof.proof import ProofAnswer
from sweatline.cli.main import main
from sweatline.cli.schemas import read_back
from sweatline.errors import JobError, SolveError
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.log.lines import acknowledgement
from sweatline.log.logbook import keep, open_log
from sweatline.report.proof import headline_of_proof
from sweatline.report.sheet.document import Document, Section, typeset
from sweatline.report.sheet.from_log import proof_by_log, tight_by_log
from sweatline.report.sheet.readiness import TO_ACKNOWLEDGE, readiness
from sweatline.report.sheet.sheet import (
    SheetAnswer,
    label_document,
    paper_size,
    sheet,
    sheet_document,
)
from sweatline.units import Scale
from sweatline.web.app import make_app
from sweatline.web.security import Access
from sweatline.web.workshop import Workshop

PARTS = {"compressor": 0, "refrigerant": "R-134a", "capillary": 0}
TEST = (
    ("event", "pressurised", "nitrogen", 0.0),
    ("reading", "suction gauge", "10.00 bar(g)", 900.0),
    ("reading", "circuit", "15.0 C", 900.0),
    ("reading", "suction gauge", "10.00 bar(g)", 87300.0),
    ("reading", "circuit", "15.0 C", 87300.0),
    ("event", "evacuating", "", 90000.0),
    ("reading", "vacuum gauge", "250 micron", 97000.0),
    ("event", "isolated", "", 97200.0),
    ("reading", "vacuum gauge", "250 micron", 97260.0),
    ("reading", "vacuum gauge", "252 micron", 98400.0),
    ("reading", "vacuum gauge", "253 micron", 99600.0),
    ("reading", "vacuum gauge", "254 micron", 100800.0),
    ("event", "vacuum broken", "R-134a vapour", 101000.0),
    ("addition", "", "300 g", 101100.0),
    ("event", "started", "", 101200.0),
)


@pytest.fixture(scope="module")
def job() -> Job:
    return read_job("examples/seed-store.toml")


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory, job: Job) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "shelf.log"
    book = open_log(
        str(path), new=True, refrigerant="R-134a", system="SI",
        atmosphere=job.place.atmospheric_pressure,
    )  # fmt: skip
    with book:
        for kind, channel, text, at in TEST:
            keep(book, kind=kind, channel=channel, text=text, at=1.7e9 + at)  # type: ignore[arg-type]
    return path


@pytest.fixture(scope="module")
def found(job: Job, log: Path) -> SheetAnswer:
    return sheet(job, str(log), **PARTS)  # type: ignore[arg-type]


def words(document: Document) -> str:
    cells = [document.title, document.subtitle, document.verdict, *document.reasons]
    for section in document.sections:
        cells += [section.heading, *section.text, *(c for row in section.rows for c in row)]
        cells += [c for row in section.table for c in row]
    return "\n".join([*cells, *document.cautions, *document.provenance])


def told(found: SheetAnswer, job: Job) -> Document:
    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    return sheet_document(found, scale, version="0", size=paper_size(job))


def test_the_sheet_tells_what_was_done(found: SheetAnswer, job: Job) -> None:
    text = words(told(found, job))
    for wanted in ("R-22, 330 g", "R-134a, class A1", "no leak seen", "300 g", "POE"):
        assert wanted in text
    assert {g.key: g.state for g in found.readiness.gates}["dry"] == "clear"


def test_a_mass_that_no_machine_holds_is_told_with_what_to_correct(
    job: Job, tmp_path: Path
) -> None:
    path = str(tmp_path / "drum.log")
    with open_log(path, new=True, refrigerant="R-134a", atmosphere=95e3) as book:
        keep(book, kind="addition", text="9 kg", at=1.7e9)
    with pytest.raises(SolveError, match=r"by the log 9\.00 kg is in.*log correct"):
        sheet(job, path, **PARTS)  # type: ignore[arg-type]


def test_it_is_not_ready_before_the_cautions_are_read(found: SheetAnswer, job: Job) -> None:
    document = told(found, job)
    assert document.verdict == "Not ready"
    assert all(g.caution is not None for g in found.readiness.held_up_by)
    assert len(document.reasons) == len(found.readiness.held_up_by) > 0


def test_it_is_ready_when_every_gate_is_clear(found: SheetAnswer, log: Path, job: Job) -> None:
    entries = list(found.entries)
    for key in TO_ACKNOWLEDGE:
        event = next(e for e in entries if e.kind == "event")
        entries.append(replace(event, channel="acknowledged", text=f"{key} by the bench"))
    ready = readiness(
        refrigerant="R-134a", verdicts=found.verdicts, entries=entries,
        charged=found.advice.charge, tightness=found.tightness, evacuation=found.evacuation,
    )  # fmt: skip
    assert ready.ready, ready.held_up_by
    document = told(replace(found, readiness=ready), job)
    assert (document.verdict, document.reasons) == ("Ready", [])


@pytest.mark.parametrize("missing", ["tightness", "evacuation", "charged"])
def test_what_nothing_shows_holds_it_up(found: SheetAnswer, missing: str) -> None:
    given = {
        "tightness": found.tightness,
        "evacuation": found.evacuation,
        "charged": found.advice.charge,
    }
    given[missing] = 0.0 if missing == "charged" else "why there is none"  # type: ignore[assignment]
    gates = readiness(
        refrigerant="R-134a",
        verdicts=found.verdicts,
        entries=(),
        **given,  # type: ignore[arg-type]
    ).gates
    key = {"tightness": "tight", "evacuation": "dry", "charged": "charged"}[missing]
    assert {g.key: g.state for g in gates}[key] == "open"


def test_a_verdict_on_safety_that_fails_is_a_red_gate(found: SheetAnswer) -> None:
    worst = replace(next(v for v in found.verdicts if v.safety), state="fails")
    gates = readiness(
        refrigerant="R-134a", verdicts=[worst], entries=(), charged=0.3, tightness="",
        evacuation="",
    )  # fmt: skip
    assert gates.held_up_by[0].state == "red"
    assert gates.held_up_by[0].reason == worst.sentence


@pytest.mark.parametrize("text", ["", "label", "by me", "wheel by me", "label by "])
def test_a_caution_is_acknowledged_by_name(text: str) -> None:
    with pytest.raises(JobError, match="which caution"):
        acknowledgement(text)


def test_papers_are_pdf(found: SheetAnswer, job: Job) -> None:
    made = typeset(told(found, job), "paper")
    assert made.startswith(b"%PDF")
    pages = re.search(rb"/Count (\d+)", made)
    assert pages is not None
    assert int(pages[1]) <= 2
    scale = Scale(job.unit_system, job.place.atmospheric_pressure)
    label = label_document(found, scale)
    assert typeset(label, "label").startswith(b"%PDF")
    assert not label.flammable


def test_what_people_write_is_set_as_it_stands() -> None:
    nasty = '#import "x" *a* _b_ `c` $d$ <e> @f \\ // "'
    document = Document(
        title=nasty, subtitle=nasty, verdict=nasty, reasons=[nasty], cautions=[nasty] * 3,
        sections=[Section(heading=nasty, rows=[(nasty, nasty)], head=("a",), table=[(nasty,)])],
    )  # fmt: skip
    assert typeset(document, "paper").startswith(b"%PDF")


@pytest.fixture
def page(log: Path) -> Iterator[TestClient]:
    (log.parent / "seed-store.toml").write_text(
        Path("examples/seed-store.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    with open_log(str(log)) as book:
        book.set_about({"compressor": "1", "capillary": "1", "job": "seed-store"})
    app = make_app(Workshop(log.parent), Access())
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5)) as client:
        yield client


def test_the_page_shows_gates_and_takes_acknowledgements(page: TestClient, log: Path) -> None:
    base = "/job/seed-store/paper"
    assert "The card for the wall" in page.get(base).text
    for _ in range(600):
        answer = page.get(f"{base}/{log.stem}/gates")
        if answer.status_code != 202:
            break
    assert "Not ready" in answer.text
    told = {"key": "label", "by": "the bench"}
    page.post(f"{base}/{log.stem}/acknowledge", data=told)
    with open_log(str(log)) as book:
        assert book.entries()[-1].text == "label by the bench"
    # The numbers are those of before: nothing is calculated again, and the gate is clear.
    at_once = page.get(f"{base}/{log.stem}/gates")
    assert at_once.status_code == 200
    assert "read by the bench" in at_once.text
    assert "read by the bench" not in answer.text
    wrong = page.post(f"{base}/{log.stem}/acknowledge", data={"key": "wheel", "by": "me"})
    assert wrong.status_code == 400
    pdf = page.get(f"{base}/{log.stem}/sheet.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF")


def test_a_test_that_cannot_be_read_holds_it_up_with_its_reason(job: Job, tmp_path: Path) -> None:
    book = open_log(
        str(tmp_path / "too-high.log"), new=True, refrigerant="R-134a", system="SI",
        atmosphere=job.place.atmospheric_pressure,
    )  # fmt: skip
    with book:
        keep(book, kind="event", channel="pressurised", text="nitrogen", at=1.7e9)
        for hours in (1.0, 25.0):
            at = 1.7e9 + 3600.0 * hours
            keep(book, kind="reading", channel="suction gauge", text="24 bar(g)", at=at)
            keep(book, kind="reading", channel="circuit", text="15 C", at=at)
    with open_log(str(tmp_path / "too-high.log")) as book:
        told = tight_by_log(job, book, "R-134a", 0)
    assert isinstance(told, str)
    assert "bar" in told


ONE = ("--compressor", "1", "--refrigerant", "R-134a", "--capillary", "1")


def test_the_command_writes_each_paper(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["sheet", "examples/seed-store.toml", *ONE]
    for paper in ("sheet", "card", "label"):
        path = tmp_path / f"{paper}.pdf"
        more = [] if paper == "card" else ["--log", str(log)]
        assert main([*asked, *more, "--paper", paper, "--to", str(path)]) == 0
        assert path.read_bytes().startswith(b"%PDF")
    assert "Not ready" in capsys.readouterr().out
    assert main([*asked, "--log", str(log), "--json"]) == 0
    assert read_back("sheet", capsys.readouterr().out).readiness.ready is False
    assert main(asked) == 2
    assert "--log" in capsys.readouterr().err


def test_a_sheet_without_a_run_says_why_it_is_not_proved(found: SheetAnswer) -> None:
    assert found.proof is None
    told = words(sheet_document(found, Scale("SI"), version="0", size="a4"))
    assert "Not proved. Nothing was read since it was started" in told


def test_the_readings_of_the_sheet_are_those_of_the_proof(
    job: Job, tmp_path: Path, found: SheetAnswer
) -> None:
    path = str(tmp_path / "run.log")
    with open_log(path, new=True, refrigerant="R-134a", system="SI",
                  atmosphere=job.place.atmospheric_pressure) as book:  # fmt: skip
        keep(book, kind="event", channel="started", text="", at=1.7e9)
        for minutes in range(40, 81, 5):
            keep(book, kind="reading", channel="watts", text="250 W", at=1.7e9 + 60.0 * minutes)
        for minutes, text in ((40, "0.1 L"), (80, "0.3 L")):
            keep(book, kind="reading", channel="water", text=text, at=1.7e9 + 60.0 * minutes)
    proof = proof_by_log(job, open_log(path), "R-134a", 0, 0, None)
    assert isinstance(proof, ProofAnswer)
    assert proof.steadiness.verdict == "steady"
    told = words(sheet_document(replace(found, proof=proof), Scale("SI"), version="0", size="a4"))
    assert headline_of_proof(proof, Scale("SI")) in told
    assert "250 W" in told
    assert "This is no certified rating" in told
