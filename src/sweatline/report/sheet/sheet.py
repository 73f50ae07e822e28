"""What stands on the sheet of a machine, on the card beside the work, and on its label."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, ClassVar, Final

from sweatline.answers import Hidden, rows_of, told
from sweatline.bench.evacuation.evacuation import EvacuationAnswer
from sweatline.bench.proof.proof import NOT_CERTIFIED, ProofAnswer
from sweatline.bench.tightness.tightness import TightnessAnswer
from sweatline.charging.adviser import Adviser, ChargeAdvice
from sweatline.charging.preparation import prepare
from sweatline.charging.tracker import NEEDED
from sweatline.design.balance import BalanceAnswer, balance
from sweatline.design.charge_curve import ChargeAnswer
from sweatline.design.verdicts import cautions_clear
from sweatline.errors import SolveError
from sweatline.job.explanation import explain
from sweatline.job.model import Job
from sweatline.log.entries import Entry
from sweatline.log.logbook import open_log
from sweatline.refrigerant.safety_data import safety_data
from sweatline.report.axes import scale_for
from sweatline.report.course import WINDOW, charging_course, inked
from sweatline.report.figures import control_svg, svg_figures
from sweatline.report.proof import headline_of_proof, judged_told, rated_told, steady_told
from sweatline.report.sentences import judgement, outcome, parts_line, room_line, sentence
from sweatline.report.sheet.document import Document, PaperSize, Section
from sweatline.report.sheet.from_log import dry_by_log, proof_by_log, tight_by_log
from sweatline.report.sheet.readiness import Readiness, read_by, readiness
from sweatline.safety.cautions import Work, cautions_for
from sweatline.units import Scale, show

_SAMPLES: Final = 64
_BEFORE: Final = 120.0  # s before the first reading that the course of a charging shows
_CARD: Final = (0.5, 0.7, 0.85, 0.95, 1.0, 1.05, 1.1)  # of the charge to stop at
_READ: Final = (
    "suction_pressure", "discharge_pressure", "superheat", "subcooling", "total_power",
    "total_current",
)  # fmt: skip
_BUILT: Final[tuple[Work, ...]] = ("planning", "running", "electrical")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetAnswer(BalanceAnswer):
    """`sweatline sheet --json`: what the machine is now, and whether it is ready."""

    WORK: ClassVar[Work] = "charging"
    readiness: Readiness
    advice: ChargeAdvice
    """As the log stands."""
    tightness: TightnessAnswer | None
    """Of the last pressure test in the log."""
    evacuation: EvacuationAnswer | None
    """Of the last rise test in the log."""
    entries: Annotated[tuple[Entry, ...], Hidden()]
    proof: ProofAnswer | None
    """Of the last run in the log."""
    unproved: Annotated[str, Hidden()]  # why there is no proof


def sheet(
    job: Job,
    log: str,
    *,
    compressor: int,
    refrigerant: str,
    capillary: int,
    length: float | None = None,
) -> SheetAnswer:
    """Everything the sheet tells, from the job and the machine's log.

    Without a charge in the log the machine is taken as charged to the job's superheat, and it is
    not ready.

    Raises
    ------
    SolveError
        These parts have no balance.
    StoreError
        The log cannot be read.
    """
    prepared = prepare(
        job, compressor=compressor, refrigerant=refrigerant, capillary=capillary, length=length
    )
    with open_log(log) as book:
        adviser = Adviser(prepared, book.about())
        advice = adviser.advise_on(book)
        entries = tuple(adviser.quality.held())
        tight = tight_by_log(job, book, refrigerant, compressor)
        dry = dry_by_log(job, book, refrigerant, compressor)
        proof = proof_by_log(job, book, refrigerant, compressor, capillary, length)
    charged = advice.charge if advice.charge > 0.0 else None
    try:
        found = balance(
            job, compressor=compressor, refrigerant=refrigerant, capillary=capillary,
            length=length, charge=charged, draws=_SAMPLES,
        )  # fmt: skip
    except SolveError as error:
        if charged is None:
            raise
        mass = show(charged, "mass", job.unit_system)
        raise SolveError(
            condition=f"by the log {mass} is in, and so charged there is no balance: "
            f"{error.condition}. Correct what was let in, as `sweatline log correct`"
        ) from error
    ready = readiness(
        refrigerant=refrigerant,
        verdicts=found.verdicts,
        entries=entries,
        charged=advice.charge,
        tightness=tight,
        evacuation=dry,
    )
    return SheetAnswer(
        **{name: getattr(found, name) for name in BalanceAnswer.__dataclass_fields__},
        readiness=ready,
        advice=advice,
        tightness=None if isinstance(tight, str) else tight,
        evacuation=None if isinstance(dry, str) else dry,
        entries=entries,
        proof=None if isinstance(proof, str) else proof,
        unproved=proof if isinstance(proof, str) else "",
    )


def read_since(answer: SheetAnswer, entries: tuple[Entry, ...]) -> SheetAnswer:
    """The same sheet after more cautions were acknowledged, which changes none of its numbers.

    Parameters
    ----------
    entries : tuple of Entry
        Of its log, those that hold now.
    """
    return replace(answer, entries=entries, readiness=read_by(answer.readiness, entries))


def sheet_document(answer: SheetAnswer, scale: Scale, *, version: str, size: PaperSize) -> Document:
    """The sheet that stays with the machine."""
    gates = answer.readiness.held_up_by
    ready = answer.readiness.ready
    return Document(
        title=answer.job.title,
        subtitle=f"{parts_line(answer.parts, scale)}. {room_line(answer.job, scale)}",
        verdict="Ready" if ready else "Not ready",
        reasons=[f"{g.title}: {g.reason}" for g in gates],
        hatched=not ready,
        flammable=safety_data(answer.parts.refrigerant).flammable,
        sections=[
            Section(heading="What it was and what it is", rows=_identity(answer, scale)),
            Section(heading="Tight, dry, charged", rows=_work(answer, scale)),
            Section(heading="Limits", head=("limit", ""), table=_limits(answer, scale)),
            _proof(answer, scale),
            _switched(answer, scale),
            Section(
                heading="What it does in this room",
                rows=[("in short", outcome(answer, scale)), *_values(answer, scale)],
            ),
            Section(heading="How it was charged", table=_doses(answer, scale),
                    head=("time", "what", "value")),
        ],
        cautions=[
            c.text
            for c in cautions_for(
                answer.parts.refrigerant,
                work=_BUILT,
                clear=cautions_clear(answer.build, answer.advice.charge),
            )
        ],
        provenance=[
            *_provenance(answer, version),
            *(told(note, scale) for note in answer.steady.notes),
        ],
        sign=True,
        figure=_course(answer, scale),
        size=size,
    )  # fmt: skip


def _identity(answer: SheetAnswer, scale: Scale) -> list[tuple[str, str]]:
    job, parts = answer.build.job, answer.parts
    was = job.original
    rows: list[tuple[str, str]] = [("kind", job.kind)]
    if was.refrigerant:
        mass = "" if was.charge is None else f", {scale.show(was.charge.value, 'mass')}"
        rows.append(("it was built for", f"{was.refrigerant}{mass}"))
    oil = answer.build.compressor
    tube = f"{scale.show(parts.capillary_bore, 'bore')} inside"
    return [
        *rows,
        ("compressor", parts.compressor),
        ("capillary", f"{parts.capillary}, {tube}, "
                      f"{scale.show(parts.capillary_length, 'length')}"),
        ("refrigerant", f"{parts.refrigerant}, class {_safety_class(parts.refrigerant)}"),
        ("oil", oil.oil or "not known"),
    ]  # fmt: skip


def _safety_class(name: str) -> str:
    return safety_data(name).safety_class


def _work(answer: SheetAnswer, scale: Scale) -> list[tuple[str, str]]:
    gates = {g.key: g for g in answer.readiness.gates}
    charge = "none in the log"
    if answer.advice.charge > 0.0:
        sd = answer.advice.charge_sd
        mass = answer.advice.charge
        charge = f"{scale.show(mass, 'mass')} ± {scale.spread(max(sd, 5e-4), mass, 'mass', 1)}"
        best = answer.advice.best_charge
        if best is not None:
            charge += f"; best by its readings {scale.range(best, 'mass')} (likely range, 9 in 10)"
    tight, dry = gates["tight"].reason, gates["dry"].reason
    if answer.tightness is not None and answer.tightness.leak is not None:
        least = scale.show(answer.tightness.leak.smallest_seen, "leak rate", 2)
        tight += f"; the test shows {least} and more"
    if answer.evacuation is not None and answer.evacuation.rise is not None:
        rise = answer.evacuation.rise
        first, last = (scale.show(p, "absolute pressure") for p in (rise.first, rise.last))
        dry += f" From {first} to {last} in {scale.show(rise.duration, 'time', 2)}."
    return [("tight", tight), ("dry", dry), ("refrigerant in it", charge)]


def _limits(answer: SheetAnswer, scale: Scale) -> list[tuple[str, str]]:
    words = {"holds": "kept", "fails": "NOT KEPT", "note": "to be noted"}
    return [
        (judgement(v, scale, 0), words[v.state]) for v in answer.verdicts if v.limit is not None
    ]


def _switched(answer: SheetAnswer, scale: Scale) -> Section:
    """What the job says of the machine's control, and its wiring; nothing where it says nothing."""
    job = answer.build.job
    rows = [
        (item.label, item.shown(scale))
        for item in explain(job)
        if item.table == "control" and item.origin != "default"
    ]
    figure = control_svg(job.control, scale_for(answer.build, scale.system)) if rows else ""
    return Section(heading="How it is switched", rows=rows, figure=figure)


def _proof(answer: SheetAnswer, scale: Scale) -> Section:
    """What it showed and gave when it was proved, beside what such parts show."""
    proof = answer.proof
    if proof is None:
        told = sentence(answer.unproved or "the log holds no settled readings")
        return Section(heading="Proof", text=(f"Not proved. {told}",))
    rows = [(one.what, *judged_told(one, scale)) for one in proof.judged]
    rooms = [f"{name}: {value}." for name, value in rated_told(proof, scale)]
    return Section(
        heading="Proof", head=("reading", "read", "such parts show, 9 in 10", ""), table=rows,
        text=(
            headline_of_proof(proof, scale), sentence(proof.reason),
            steady_told(proof.steadiness, scale), *rooms,
            *([f"{NOT_CERTIFIED}."] if rooms else []),
        ),
    )  # fmt: skip


def _values(answer: BalanceAnswer, scale: Scale) -> list[tuple[str, str]]:
    found = []
    for r in rows_of(answer.steady, answer.bands):
        band = "" if r.range is None else f" ({scale.range(r.range, r.kind, r.digits)})"
        found.append((r.label, scale.show(r.value, r.kind, r.digits) + band))
    return found


def _doses(answer: SheetAnswer, scale: Scale) -> list[tuple[str, str, str]]:
    told = [e for e in answer.entries if e.kind in ("addition", "event")]
    return [
        (
            datetime.fromtimestamp(e.happened_at).strftime("%Y-%m-%d %H:%M"),
            "let in" if e.kind == "addition" else e.channel,
            scale.show(e.value, "mass") if e.kind == "addition" else e.text,
        )
        for e in told
    ]


def _course(answer: SheetAnswer, scale: Scale) -> str:
    """The charging as it was done; empty when the log holds no readings of it."""
    read = [e for e in answer.entries if e.kind == "reading" and e.channel in NEEDED]
    if not read:
        return ""
    now = read[-1].happened_at
    table = answer.build.refrigerant.table
    back = max(now - read[0].happened_at + _BEFORE, WINDOW)
    return inked(charging_course(answer.entries, answer.advice, table, scale, now=now, back=back))


def _provenance(answer: BalanceAnswer, version: str) -> list[str]:
    return [
        f"sweatline {version}; job {answer.job.digest_sha256[:16]}; "
        f"{answer.draws} trial runs. Computed values with likely ranges (9 in 10); "
        "local codes and licensed practice decide."
    ]


def card_document(answer: ChargeAnswer, scale: Scale, *, version: str, size: PaperSize) -> Document:
    """The card to pin on the wall before the work: what gauges show at each charge, and when to
    stop."""
    stop, name = answer.stop, answer.parts.refrigerant
    head = ("charge", "of it", *(r.label for r in rows_of(stop) if r.name in _READ))
    table = []
    for share in _CARD:
        at = min(answer.curve, key=lambda b: abs(b.charge - share * stop.charge))
        cells = (scale.show(r.value, r.kind, r.digits) for r in rows_of(at) if r.name in _READ)
        table.append((scale.show(at.charge, "mass"), f"{100 * at.charge / stop.charge:.0f} %",
                      *cells))  # fmt: skip
    superheat = scale.show(answer.job.target_superheat, "temperature difference", 2)
    bands = {r.name: r.range for r in rows_of(stop, answer.stop_bands)}
    charge = bands.get("charge")
    reach = "" if charge is None else f" (likely range {scale.range(charge, 'mass')})"
    return Document(
        title=f"Charging {answer.job.title}",
        subtitle=f"{parts_line(answer.parts, scale)}. {room_line(answer.job, scale)}",
        verdict=f"Stop at {superheat} of superheat, about {scale.show(stop.charge, 'mass')}",
        reasons=[
            f"The machine in hand will differ{reach}: the readings decide, not the mass.",
            "Let in half of it, start, wait until the readings stand, then small doses; after "
            "each one wait again.",
        ],
        flammable=safety_data(name).flammable,
        sections=[
            Section(heading="Gauges and thermometers at each charge", head=head, table=table),
            Section(
                heading="What happens as the charge rises",
                rows=[(f"at {scale.show(e.charge, 'mass')}", e.what) for e in answer.events],
            ),
            Section(heading="Stop and look", text=_stop_and_look(answer, scale)),
        ],
        cautions=[
            c.text
            for c in cautions_for(
                name,
                work=("charging", "running"),
                clear=cautions_clear(answer.build, stop.charge),
            )
        ],
        figure=svg_figures(answer, system=scale.system)[0][1],
        provenance=[f"sweatline {version}; job {answer.job.digest_sha256[:16]}."],
        size=size,
    )


def _stop_and_look(answer: ChargeAnswer, scale: Scale) -> list[str]:
    limits = answer.build.job.limits
    told = [
        "The head rises with a dose and the superheat does not fall: a tight or blocked tube, or "
        "gas that does not condense.",
        "The suction line sweats or frosts up to the compressor: liquid comes back; add no more.",
        "The suction gauge falls into vacuum: no refrigerant passes the tube.",
    ]
    if limits.high_side_pressure is not None:
        most = scale.show(limits.high_side_pressure.value, "pressure")
        told.insert(0, f"The head gauge comes near {most}: switch off.")
    return told


def label_document(answer: SheetAnswer, scale: Scale) -> Document:
    """The label: refrigerant, class, mass, oil, date, and the sign where it applies."""
    name = answer.parts.refrigerant
    charge = answer.advice.charge
    last = max((e.happened_at for e in answer.entries), default=0.0)
    return Document(
        title=name,
        subtitle=f"class {_safety_class(name)}",
        verdict="",
        flammable=safety_data(name).flammable,
        sections=[
            Section(
                heading="",
                rows=[
                    ("mass", scale.show(charge, "mass") if charge > 0.0 else "________"),
                    ("oil", answer.build.compressor.oil or "not known"),
                    ("compressor", answer.parts.compressor),
                    ("date", f"{datetime.fromtimestamp(last):%Y-%m-%d}" if last else "________"),
                ],
            )
        ],
        cautions=["Flammable refrigerant. No flame, no spark; ventilate at floor level."]
        if safety_data(name).flammable
        else [],
    )


def paper_size(job: Job) -> PaperSize:
    """Paper of the country: Letter where US units are shown."""
    return "us-letter" if job.unit_system == "US" else "a4"
