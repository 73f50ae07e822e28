"""What is on the bench? The job as an interview: plates first, one question at a time or a form.

The file stays the truth. An answer is written where the file still says what the form was drawn
from; what was changed outside meanwhile is shown, and nothing that was typed is lost.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from sweatline.errors import JobError
from sweatline.job.document import JobDocument, digest_of, write_whole
from sweatline.job.explanation import Check, check
from sweatline.job.interview import (
    GROUPS,
    Group,
    Question,
    beside,
    matters,
    stand_in,
    table_of,
    understood,
)
from sweatline.job.reading import read_text
from sweatline.job.values import NOT_KNOWN
from sweatline.units import EXAMPLES, Kind, Scale, parse, written_system
from sweatline.web.pages import render, workshop_of
from sweatline.web.workshop import Workshop

routes = APIRouter()

TOP: Final = "job"
"""Name of the part that stands above the tables."""

_LONGEST: Final = 200  # letters of an answer
_writing = threading.Lock()  # one answer at a time between reading a file and writing it


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question as the page shows it."""

    question: Question
    said: str
    """In the file."""
    typed: str
    """In the field."""
    understood: str
    wrong: str
    needed: bool
    """Nothing can stand in for it."""
    stands_in: str
    matters: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the bench as the overview shows it."""

    name: str
    """Path in the file; ``job`` for the top."""
    group: Group
    title: str
    answered: int
    of: int
    needed: int
    wrong: tuple[str, ...]
    removable: bool


@dataclass(slots=True)
class Reading:
    """A file as it stands, and what can be told of it."""

    document: JobDocument
    faults: Mapping[str, str]
    """By the name of the question or part."""
    due: tuple[Question, ...]
    """The questions that are put one after the other."""
    unfinished: frozenset[str]
    """Parts in which something is missing that no single question says."""
    check: Check | None

    @classmethod
    def of(cls, document: JobDocument) -> Reading:
        """Read what stands there as far as it can be read."""
        questions = {question.name: question for question in document.questions}
        parts = {question.part for question in document.questions}
        known = questions | dict.fromkeys(parts)
        found: dict[str, str] = {}
        unfinished: set[str] = set()
        due = document.asked
        waiting = {one.part for one in due if not document.answer(one)}
        job, faults = document.judged()
        for fault in faults:
            name = beside(fault, known)
            asked = questions.get(name)
            # What is only missing yet is no mistake: the question itself says that it is needed.
            if asked is not None and document.is_open(asked):
                continue
            of_part = fault.field in (name, name.removesuffix("[1]"))
            if asked is None and of_part and name in waiting:
                unfinished.add(name)
                continue
            where = "" if of_part or asked is not None else f"{fault.field}: "
            told = f"{where}{fault.sentence}"
            found[name] = f"{found[name]} {told}" if name in found else told
        whole = check(job) if job is not None else None
        return cls(document, found, due, frozenset(unfinished), whole)

    def asked(self, question: Question, typed: str | None = None, wrong: str = "") -> Asked:
        """A question with what is said, typed and understood."""
        scale, said = self.document.scale, self.document.answer(question)
        text = said if typed is None else typed
        try:
            meant = understood(question, text, scale)
        except JobError as error:
            meant, wrong = "", wrong or error.sentence
        return Asked(
            question=question,
            said=said,
            typed=text,
            understood=meant,
            wrong=wrong or self.faults.get(question.name, ""),
            needed=question.needed and not question.rating and question in self.due,
            stands_in=stand_in(question, self.check, scale),
            matters=matters(question, scale),
        )

    def parts(self) -> list[Part]:
        """Every part of the bench, in the order of the interview."""
        parts: dict[str, list[Question]] = {}
        for question in self.document.questions:
            parts.setdefault(question.part or TOP, []).append(question)
        return [self._part(name, every) for name, every in parts.items()]

    def _part(self, name: str, every: list[Question]) -> Part:
        own = [one for one in every if one in self.due] or every
        group, table = own[0].group, table_of(own[0].group)
        said = [self.document.answer(one) for one in own]
        title = group.title
        if table.many:
            called = next((a for one, a in zip(own, said, strict=True) if one.names_the_part), "")
            title = f"{title}: {called}" if called else f"{title} {int(own[0].path[1]) + 1}"
        names = {own[0].part, *(one.name for one in every)}
        return Part(
            name=name,
            group=group,
            title=title,
            answered=sum(map(bool, said)),
            of=len(own),
            needed=sum(one.needed and self.document.is_open(one) for one in own)
            or int(own[0].part in self.unfinished),
            wrong=tuple(text for at, text in self.faults.items() if at in names),
            removable=bool(table.many)
            and (not table.needed or self.document.counts[group.table] > 1),
        )


def _of_name(document: JobDocument, name: str) -> Question:
    """Question of a name in an address.

    Raises
    ------
    JobError
        There is none.
    """
    found = next((one for one in document.questions if one.name == name), None)
    if found is None:
        raise JobError(what="there is no such question", read=name[:60])
    return found


def _of_part(document: JobDocument, part: str) -> list[Question]:
    """Questions of a part, in the order in which they are asked.

    Raises
    ------
    JobError
        There is no such part.
    """
    found = [one for one in document.questions if (one.part or TOP) == part]
    if not found:
        raise JobError(what="there is no such part", read=part[:60])
    return found


def _document(workshop: Workshop, name: str) -> JobDocument:
    return JobDocument.of_file(workshop.job_path(name))


def _place(name: str, *steps: str) -> str:
    return "/".join(["", "job", quote(name), "survey", *(quote(one, safe="") for one in steps)])


async def _typed(request: Request) -> dict[str, str]:
    """Fields of a form, none of them longer than an answer."""
    form = await request.form()
    return {k: v[:_LONGEST] for k, v in form.items() if not isinstance(v, UploadFile)}


Typed = Annotated[dict[str, str], Depends(_typed)]


@routes.get("/new")
def new(_request: Request) -> HTMLResponse:
    """A machine nobody has described yet: its name, and the units of who asks."""
    return render("new.html", title="", units="", wrong="")


@routes.post("/new")
def begin(
    request: Request, title: Annotated[str, Form()] = "", units: Annotated[str, Form()] = ""
) -> Response:
    """Make the file, and ask the first question."""
    workshop = workshop_of(request)
    title = " ".join(title.split())[:60]
    try:
        if units not in ("US", "SI"):
            raise JobError(what="choose the units that you read in")
        name = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
        text = JobDocument.new(title=title, units=units).text
        if name in workshop.jobs and read_text(workshop.job_path(name)) == text:
            return RedirectResponse(_place(name, "next"), 303)  # the button was pressed twice
        write_whole(workshop.new_path(name, ".toml"), text)
    except JobError as error:
        wrong = error.sentence
        return render("new.html", status=400, title=title, units=units, wrong=wrong)
    return RedirectResponse(_place(name, "next"), 303)


@routes.get("/job/{name}/survey")
def overview(request: Request, name: str) -> HTMLResponse:
    """What is there, what is needed, and what is worth measuring."""
    path = workshop_of(request).job_path(name)
    try:
        document = JobDocument.of_file(path)
    except JobError as error:
        return render("survey-broken.html", status=400, name=name, here="survey",
                      lines=str(error).splitlines(), digest=digest_of(path))  # fmt: skip
    reading = Reading.of(document)
    parts = reading.parts()
    return render(
        "survey.html", scale=document.scale, name=name, here="survey", parts=parts,
        ready=reading.check is not None, needed=sum(one.needed for one in parts),
        wrong=[text for at, text in reading.faults.items() if not at],
        title=reading.check.job.title if reading.check else name,
        lists=[group for group in GROUPS if table_of(group).many],
        next=document.next_open(), digest=document.digest,
    )  # fmt: skip


@routes.get("/job/{name}/survey/next")
def next_one(request: Request, name: str, after: str = "") -> RedirectResponse:
    """To the next question that nobody was asked, or back to what there is."""
    found = _document(workshop_of(request), name).next_open(after)
    return RedirectResponse(_place(name, "one", found.name) if found else _place(name), 303)


@routes.get("/job/{name}/survey/one/{question}")
def one(request: Request, name: str, question: str) -> HTMLResponse:
    """One question."""
    document = _document(workshop_of(request), name)
    return _form(name, Reading.of(document), [_of_name(document, question)], question)


@routes.get("/job/{name}/survey/part/{part}")
def form(request: Request, name: str, part: str) -> HTMLResponse:
    """All questions of one part as a form."""
    document = _document(workshop_of(request), name)
    return _form(name, Reading.of(document), _of_part(document, part), "", part=part)


@routes.get("/job/{name}/survey/digest")
def digest(request: Request, name: str) -> PlainTextResponse:
    """Digest of the file as it stands, for a page that looks whether it was changed."""
    return PlainTextResponse(digest_of(workshop_of(request).job_path(name)))


@routes.post("/job/{name}/survey/add")
def add(request: Request, name: str, table: Annotated[str, Form()]) -> RedirectResponse:
    """One more of a part."""
    path = workshop_of(request).job_path(name)
    group = next((one for one in GROUPS if one.table == table and table_of(one).many), None)
    if group is None:
        raise JobError(what="there is no list of such parts", read=table[:60])
    with _writing:
        document = JobDocument.of_file(path)
        # A list of which one is needed begins with it, whether its table stands there or not.
        if table_of(group).needed and not document.counts[table]:
            document.add(table)
        if document.counts[table] >= table_of(group).many:
            raise JobError(what="the list is full", allowed=f"at most {table_of(group).many}")
        number = document.add(table)
        write_whole(path, document.text)
    first = next(one for one in document.questions if one.part == f"{table}[{number}]")
    return RedirectResponse(_place(name, "one", first.name), 303)


@routes.post("/job/{name}/survey/remove")
def remove(request: Request, name: str, part: Annotated[str, Form()]) -> RedirectResponse:
    """One part less."""
    path = workshop_of(request).job_path(name)
    with _writing:
        document = JobDocument.of_file(path)
        table, number = _of_part(document, part)[0].path[:2]
        if not isinstance(number, int):
            raise JobError(what="this part belongs to every machine", read=part[:60])
        document.remove(str(table), number + 1)
        write_whole(path, document.text)
    return RedirectResponse(_place(name), 303)


@routes.post("/job/{name}/survey/save")
def save(request: Request, name: str, typed: Typed) -> Response:
    """Write what was typed; what cannot be used, or was changed outside, comes back with a word."""
    path = workshop_of(request).job_path(name)
    single = typed.get("one", "")
    with _writing:
        document = JobDocument.of_file(path)
        asked = (
            [_of_name(document, single)] if single else _of_part(document, typed.get("part", ""))
        )
        wrong, changed = {}, False
        for question in asked:
            answer = typed.get(f"a:{question.name}", "").strip()
            if typed.get("unknown") == question.name:
                answer = NOT_KNOWN
            drawn = typed.get(f"w:{question.name}", "")
            if answer == drawn:
                continue
            try:
                _check(document, question, answer, drawn)
            except JobError as error:
                wrong[question.name] = error.sentence
                continue
            document.put(question, answer)
            changed = True
        if changed:
            write_whole(path, document.text)
            document = JobDocument.of_file(path)
    reading = Reading.of(document)
    part = bool(request.headers.get("x-part"))
    if wrong:
        kept = {key[2:]: text for key, text in typed.items() if key.startswith("a:")}
        return _form(name, reading, asked, single, part=typed.get("part", ""), bare=part,
                     kept=kept, wrong=wrong, status=422)  # fmt: skip
    if not single:
        if not part:
            return RedirectResponse(_place(name, "part", typed.get("part", "")), 303)
        return _form(name, reading, _of_part(document, typed.get("part", "")), "",
                     part=typed.get("part", ""), bare=True, saved=True)  # fmt: skip
    following = document.next_open(single)
    if not part:
        return RedirectResponse(_place(name, "next") + f"?after={quote(single, safe='')}", 303)
    if following is None:
        return render("survey-end.html", name=name)
    return _form(name, reading, [following], following.name, bare=True)


def _check(document: JobDocument, question: Question, answer: str, drawn: str) -> None:
    """Refuse what cannot be read, and what would overwrite a change that nobody here has seen.

    Raises
    ------
    JobError
        As said.
    """
    stands = document.answer(question)
    if stands not in (drawn, answer):
        what = f'the file was changed meanwhile and says "{stands}" here'
        raise JobError(what=what if stands else "the file was changed: this line was taken out",
                       allowed="save again to write yours")  # fmt: skip
    if answer != NOT_KNOWN:
        understood(question, answer, document.scale)


def _form(
    name: str,
    reading: Reading,
    asked: list[Question],
    single: str,
    *,
    part: str = "",
    bare: bool = False,
    saved: bool = False,
    kept: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Questions as a page, or as its form alone."""
    document, kept, wrong = reading.document, kept or {}, wrong or {}
    group = asked[0].group
    shown = [
        reading.asked(question, kept.get(question.name), wrong.get(question.name, ""))
        for question in asked
    ]
    part = part or asked[0].part or TOP
    found = next((one for one in reading.parts() if one.name == part), None)
    names = [question.name for question in reading.due]
    at = names.index(single) if single in names else -1
    return render(
        "survey-form.html" if bare else "survey-page.html",
        status=status, scale=document.scale, name=name, here="survey", group=group,
        title=found.title if found else group.title, part=part, single=single, saved=saved,
        main=[one for one in shown if single or not one.question.words.detail],
        details=[one for one in shown if not single and one.question.words.detail],
        trouble=reading.faults.get(asked[0].part, ""), digest=document.digest,
        back=names[at - 1] if at > 0 else "",
        last=single and (at + 1 == len(names) or not names[at + 1].startswith(f"{asked[0].part}.")),
        many=bool(table_of(group).many), count=len(names), number=at + 1,
        removable=found is not None and found.removable,
    )  # fmt: skip


@routes.get("/understood")
def how_understood(
    request: Request, text: str = "", kind: str = "", key: str = "", job: str = ""
) -> PlainTextResponse:
    """How a typed text is understood: of a kind of quantity, or of a question of a job."""
    text = text[:_LONGEST]
    if not text.strip():
        return PlainTextResponse("")
    try:
        document = _document(workshop_of(request), job) if job else None
        scale = document.scale if document is not None else Scale(written_system(text))
        if document is not None and key:
            return PlainTextResponse(_means(understood(_of_name(document, key), text, scale)))
        if kind not in EXAMPLES:
            raise JobError(what="no kind of quantity", read=kind[:40])
        of_kind: Kind = kind  # type: ignore[assignment]
        found = parse(text, of_kind, atmosphere=scale.atmosphere)
        return PlainTextResponse(_means(scale.show(found.value, of_kind)))
    except JobError as error:
        return PlainTextResponse(error.sentence)


def _means(shown: str) -> str:
    return f"= {shown}" if shown else ""
