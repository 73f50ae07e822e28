"""The combination that a person looks at, as links carry it from page to page."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Any
from urllib.parse import urlencode

from fastapi import Request

from sweatline.assembly.build import choose
from sweatline.design.match import Choice, MatchAnswer, match
from sweatline.errors import JobError
from sweatline.job.model import Job, in_other_room, with_bore
from sweatline.web.workshop import Calculation, Workshop

_LONGEST = 200  # letters of a name


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Parts by name, and what was moved; empty and None: as the ranking and the job have it.

    Numbers are those of the page's own sliders, in SI, with the unit in their names.
    """

    compressor: str = ""
    refrigerant: str = ""
    capillary: str = ""
    length_m: float | None = None
    bore_m: float | None = None
    charge_kg: float | None = None
    room_temperature_K: float | None = None
    room_humidity: float | None = None

    @property
    def query(self) -> str:
        """For the end of an address; empty when nothing is chosen."""
        named = {f.name: getattr(self, f.name) for f in fields(self)}
        return urlencode({k: v for k, v in named.items() if v not in ("", None)})

    @property
    def parts(self) -> Chosen:
        """Compressor, refrigerant and capillary alone."""
        return Chosen(
            compressor=self.compressor, refrigerant=self.refrigerant, capillary=self.capillary
        )

    def moved(self, job: Job, capillary: int) -> Job:
        """The job with its room and the bore of a capillary moved."""
        room = in_other_room(
            job, temperature=self.room_temperature_K, relative_humidity=self.room_humidity
        )
        return room if self.bore_m is None else with_bore(room, capillary, self.bore_m)


# Least and most of what a slider may send, as the options of the commands have it. [SI]
_BOUNDS = {
    "length_m": (0.05, 50.0),
    "bore_m": (0.1e-3, 6e-3),
    "charge_kg": (1e-3, 20.0),
    "room_temperature_K": (243.15, 333.15),
    "room_humidity": (0.01, 1.0),
}


def chosen_of(request: Request) -> Chosen:
    """What an address says of the combination.

    Raises
    ------
    JobError
        A number that is none, or is out of bounds.
    """
    found: dict[str, Any] = {}
    for f in fields(Chosen):
        text = request.query_params.get(f.name, "")[:_LONGEST]
        if not text:
            continue
        if f.name not in _BOUNDS:
            found[f.name] = text
            continue
        low, high = _BOUNDS[f.name]
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise JobError(
                what="not believable here", read=text[:20], allowed=f"{low:g} to {high:g}",
                field=f.name,
            )  # fmt: skip
        found[f.name] = value
    return Chosen(**found)


def ranking(workshop: Workshop, job: Job, *, draws: int = 0) -> Calculation:
    """The ranking of a job's parts: quick without trial runs, or on its way with them."""
    return workshop.calculations.ask(
        ("match", job.digest, draws),
        lambda tell: match(workshop.taught(job), draws=draws, progress=tell),
    )


def resolved(job: Job, chosen: Chosen, ranked: MatchAnswer | None) -> tuple[Choice, Chosen]:
    """Positions and names of the parts: of those that fit the names, the best.

    Raises
    ------
    JobError
        A name fits nothing.
    """
    wanted: tuple[int | None, str | None, int | None] = (None, None, None)
    if chosen.compressor or chosen.refrigerant or chosen.capillary:
        i, name, j = choose(
            job,
            compressor=chosen.compressor or "1",
            refrigerant=chosen.refrigerant or "1",
            capillary=chosen.capillary or "1",
        )
        wanted = (
            i if chosen.compressor else None,
            name if chosen.refrigerant else None,
            j if chosen.capillary else None,
        )
    choices = [c.choice for c in ranked.ranked] if ranked is not None else []
    fits = (c for c in choices if all(w is None or w == p for w, p in zip(wanted, c, strict=True)))
    i, name, j = next(fits, (wanted[0] or 0, wanted[1] or job.refrigerants[0], wanted[2] or 0))
    return (i, name, j), replace(
        chosen,
        compressor=job.compressors[i].name,
        refrigerant=name,
        capillary=job.capillaries[j].name,
    )


def best_of(
    workshop: Workshop, job: Job, chosen: Chosen, *, capillary: bool = True
) -> tuple[Choice, Chosen]:
    """The parts that are named, and the best of the ranking for those that are not.

    For work that is on its way: where a part is not named, every combination may be solved for it.

    Raises
    ------
    JobError
        A name fits nothing.
    """
    named = chosen.compressor and chosen.refrigerant and (chosen.capillary or not capillary)
    ranked = None if named else match(workshop.taught(job), draws=0)
    return resolved(job, chosen, ranked)
