"""A study: one job, what is varied in it, and the cases that follow.

::

    job = "timber-store.toml"
    answer = "balance"                     # or "year"

    [vary]                                 # every combination of these
    compressor = "all"                     # parts of the job, by name, or all of them
    refrigerant = ["R-134a", "R-513A"]
    "room.temperature" = ["12 °C", "16 °C", "20 °C"]      # any key of a job file

    [draw]                                 # and of each, so many draws of these
    samples = 64
    "fan.airflow" = "200 m3/h to 300 m3/h" # anywhere between
    "room.humidity" = "70 %RH ± 5 %RH"     # about this, one standard deviation
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, get_args

from sweatline.errors import JobError
from sweatline.job.model import PARTS
from sweatline.job.reading import read_job, read_job_text, read_text, tree_of
from sweatline.units import System

Kind = Literal["balance", "year"]
_KINDS: Final = get_args(Kind)
_TOP: Final = ("title", "job", "answer", "trial_runs", "rank_by", "vary", "draw")
_MOST: Final = 2_000_000  # cases
_SAMPLES: Final = "samples"
_BETWEEN: Final = re.compile(r"\s*([-+.\d]+)\s*(\S.*?)\s+to\s+([-+.\d]+)\s*(\S.*?)\s*")
_ABOUT: Final = re.compile(r"\s*([-+.\d]+)\s*(\S.*?)\s*(?:±|\+-)\s*([.\d]+)\s*(\S.*?)\s*")

Changes = tuple[tuple[str, str], ...]
"""Keys of the job file with what stands there instead."""


@dataclass(frozen=True, slots=True)
class Case:
    """One machine in one place.

    Parameters
    ----------
    number : int
        From 0, in the order of the study.
    parts : tuple of str
        Compressor, refrigerant, capillary; by name.
    changes : tuple
        Keys of the job file with what stands there instead.
    """

    number: int
    parts: tuple[str, str, str]
    changes: Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """What a drawn key can be: anywhere between two values, or about one."""

    key: str
    form: Literal["between", "about"]
    low: float  # or the middle
    high: float  # or the standard deviation
    unit: str

    def at(self, share: float) -> str:
        """What is written at a share of the distribution, 0 to 1."""
        if self.form == "between":
            number = self.low + share * (self.high - self.low)
        else:
            from scipy.special import ndtri

            number = self.low + self.high * float(ndtri(share))
        return f"{number:.5g} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A study as read; its cases are numbered and always the same."""

    title: str
    path: str
    job_path: str
    job_text: str
    unit_system: System
    answer: Kind
    trial_runs: int
    rank_by: str
    parts: tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]
    varied: tuple[tuple[str, tuple[str, ...]], ...]
    drawn: tuple[Spread, ...]
    samples: int

    @property
    def count(self) -> int:
        """Cases."""
        lists = [len(names) for names in self.parts] + [len(v) for _k, v in self.varied]
        return math.prod(lists) * max(self.samples, 1)

    @property
    def digest(self) -> str:
        """Of everything that a result depends on."""
        said = json.dumps(
            [
                self.job_text, self.answer, self.trial_runs, self.parts, self.varied,
                [[s.key, s.form, s.low, s.high, s.unit] for s in self.drawn], self.samples,
            ],
            ensure_ascii=False,
        )  # fmt: skip
        return hashlib.sha256(said.encode()).hexdigest()

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of the job that differ from case to case."""
        return (*(key for key, _values in self.varied), *(s.key for s in self.drawn))

    def cases(self) -> Iterator[Case]:
        """All cases: places slowest, then draws, then parts, so that neighbours share a job."""
        number = 0
        draws = self._draws()
        for place in itertools.product(*(values for _key, values in self.varied)):
            fixed = tuple(zip((key for key, _v in self.varied), place, strict=True))
            for drawn in draws:
                for parts in itertools.product(*self.parts):
                    yield Case(number, parts, (*fixed, *drawn))
                    number += 1

    def _draws(self) -> Sequence[Changes]:
        """The same draws in every place: a difference between places is then one of places."""
        if not self.drawn:
            return ((),)
        from scipy.stats import qmc

        exponent = max(math.ceil(math.log2(self.samples)), 0)
        points = qmc.Sobol(len(self.drawn), seed=0).random_base2(exponent)[: self.samples]
        return [
            tuple((s.key, s.at(float(x))) for s, x in zip(self.drawn, row, strict=True))
            for row in points
        ]


def read_study(path: str) -> Study:
    """Study of a file.

    Raises
    ------
    JobError
        It cannot be read, or something in it cannot be used; also where one of its cases would
        be refused as a job.
    """
    tree = tree_of(read_text(path), path)

    def wrong(what: str, field: str, allowed: str = "", read: object = "") -> JobError:
        return JobError(what=what, field=field, path=path, allowed=allowed, read=str(read)[:60])

    for key in tree:
        if key not in _TOP:
            raise wrong("no such key", key, f"allowed here: {', '.join(_TOP)}")
    name = tree.get("job")
    if not isinstance(name, str):
        raise wrong("the job file is missing", "job", 'write job = "my-machine.toml"')
    job_path = str(Path(path).parent / name)
    job = read_job(job_path)
    answer = tree.get("answer", "balance")
    if answer not in _KINDS:
        raise wrong("no such answer", "answer", f"one of {', '.join(_KINDS)}", answer)
    runs = tree.get("trial_runs", 0)
    if isinstance(runs, bool) or not isinstance(runs, int) or not 0 <= runs <= 4096:
        raise wrong("a whole number is wanted", "trial_runs", "0 to 4096", runs)
    vary, draw = tree.get("vary", {}), tree.get("draw", {})
    for table, field in ((vary, "vary"), (draw, "draw")):
        if not isinstance(table, Mapping):
            raise wrong("a table is wanted", field, f"write [{field}] and its keys below")
    there = (
        tuple(c.name for c in job.compressors), job.refrigerants,
        tuple(c.name for c in job.capillaries),
    )  # fmt: skip
    parts = []
    for part, names in zip(PARTS, there, strict=True):
        chosen = vary.get(part, "all")
        if chosen == "all":
            parts.append(names)
        else:
            parts.append(_parts(job, part, chosen, wrong))
    flat_vary, flat_draw = dict(_flat(vary)), dict(_flat(draw))
    varied = []
    for key, values in flat_vary.items():
        if key in PARTS:
            continue
        if not isinstance(values, list) or not values:
            raise wrong("a list of values is wanted", f"vary.{key}", 'write ["12 °C", "16 °C"]')
        varied.append((key, tuple(str(value) for value in values)))
    samples = flat_draw.pop(_SAMPLES, 32 if flat_draw else 0)
    if isinstance(samples, bool) or not isinstance(samples, int) or not 0 <= samples <= 1 << 20:
        raise wrong("a whole number is wanted", f"draw.{_SAMPLES}", "1 to 1048576", samples)
    drawn = tuple(_spread(key, value, wrong) for key, value in flat_draw.items())
    study = Study(
        title=str(tree.get("title", job.title))[:80],
        path=path,
        job_path=job_path,
        job_text=read_text(job_path),
        unit_system=job.unit_system,
        answer=answer,
        trial_runs=runs,
        rank_by=str(tree.get("rank_by", "")),
        parts=(parts[0], parts[1], parts[2]),
        varied=tuple(varied),
        drawn=drawn,
        samples=samples if drawn else 0,
    )
    if study.count > _MOST:
        raise wrong(f"{study.count} cases are too many", "vary", f"at most {_MOST}")
    _try(study)
    return study


def _flat(table: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Keys with their full names: ``room.temperature = ...`` and ``"room.temperature" = ...``."""
    for key, value in table.items():
        name = f"{before}.{key}" if before else key
        if isinstance(value, Mapping):
            yield from _flat(value, name)
        else:
            yield name, value


def _parts(job: Any, part: str, chosen: object, wrong: Any) -> tuple[str, ...]:
    from sweatline.assembly.build import choose

    if isinstance(chosen, str):
        chosen = [chosen]
    if not isinstance(chosen, list) or not chosen or not all(isinstance(c, str) for c in chosen):
        raise wrong("names of parts are wanted", f"vary.{part}", '"all", or a list of names')
    found = []
    for one in chosen:
        usual = {"compressor": "1", "refrigerant": job.refrigerants[0], "capillary": "1"}
        i, name, j = choose(job, **(usual | {part: one}))
        found.append(
            {"compressor": job.compressors[i].name, "refrigerant": name,
             "capillary": job.capillaries[j].name}[part]
        )  # fmt: skip
    return tuple(found)


def _spread(key: str, value: object, wrong: Any) -> Spread:
    text = value if isinstance(value, str) else ""
    between, about = _BETWEEN.fullmatch(text), _ABOUT.fullmatch(text)
    found = between or about
    try:
        if found is None or found[2] != found[4]:
            raise ValueError
        low, high = float(found[1]), float(found[3])
    except ValueError:
        raise wrong(
            "a range or a spread is wanted", f"draw.{key}",
            '"200 m3/h to 300 m3/h" or "17 °C ± 2 °C", twice in the same unit', value,
        ) from None  # fmt: skip
    if between is not None and not low < high:
        raise wrong("the lower end comes first", f"draw.{key}", read=value)
    form: Literal["between", "about"] = "between" if between is not None else "about"
    return Spread(key=key, form=form, low=low, high=high, unit=found[2])


def changed(text: str, changes: Changes) -> str:
    """Text of a job file with other values at some of its keys.

    Raises
    ------
    JobError
        A key names a part that is not there.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for key, value in changes:
        *tables, last = key.split(".")
        here: Any = document
        for name in tables:
            number = re.fullmatch(r"(\w+)\[(\d+)\]", name)
            try:
                if number is not None:
                    here = here[number[1]][int(number[2]) - 1]
                else:
                    if name not in here:
                        here[name] = tomlkit.table()
                    here = here[name]
            except (KeyError, IndexError, TypeError):
                raise JobError(what="no such part in the job file", field=key) from None
        here[last] = value
    return tomlkit.dumps(document)


def _try(study: Study) -> None:
    """Read the job at every end of what is varied: a mistake is told before anything is computed.

    Raises
    ------
    JobError
        One of the values cannot be used.
    """
    ends = [(key, value) for key, values in study.varied for value in values]
    for spread in study.drawn:
        ends += [(spread.key, spread.at(share)) for share in (0.001, 0.999)]
    for key, value in ends:
        try:
            read_job_text(changed(study.job_text, ((key, value),)), study.job_path)
        except JobError as error:
            raise JobError(
                what=f"{key} = {value!r} cannot be used: {error.what}",
                path=study.path,
                field=key,
                allowed=error.allowed,
            ) from None
