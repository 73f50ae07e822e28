"""What cannot be about a machine that ran: its parts unnamed, its readings against one another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sweatline.job.bounds import Refusal
from sweatline.job.locator import Path
from sweatline.job.refusals import entries, pumping
from sweatline.job.schema import JobFile, OriginalSection, RanWellSection

__all__ = ["refusals_of_the_original"]


def refusals_of_the_original(file: JobFile) -> Iterator[Refusal]:
    """Everything about the machine as it ran, and about its readings, that cannot be."""
    for n, run in entries(file, "ran_well"):
        yield from _ran_well(run, ("ran_well", n))
    yield from _original(file)


def _original(file: JobFile) -> Iterator[Refusal]:
    """The machine as it ran: what its readings mean nothing without."""
    original = getattr(file, "original", None)
    if original is None:
        return
    path: Path = ("original",)
    runs = [r for _, r in entries(file, "ran_well")]
    if original.refrigerant is None and (runs or original.compressor is not None):
        yield Refusal(
            path=path,
            what="what ran in the original is not said",
            allowed='write refrigerant = "R-22" or whatever its plate says',
        )
    if runs and original.compressor is None:
        yield Refusal(
            path=path,
            what="readings of a machine mean nothing without the compressor that ran",
            allowed="write [original.compressor] with its displacement or rating, or only with the "
            "name of one on the bench",
        )
    bench = {c.name.casefold() for _, c in entries(file, "compressor")}
    own = original.compressor
    if own is not None:
        known = own.name is not None and own.name.casefold() in bench
        described = own.displacement or own.rating or own.map
        if known and (own.kind is not None or described):
            yield Refusal(
                path=(*path, "compressor", "name"),
                what="a compressor of this name is on the bench already",
                read=own.name,
                allowed="write the name alone when it is the same one, or another name",
            )
        elif not known and own.kind is None:
            yield Refusal(
                path=(*path, "compressor"),
                what="the original's compressor is neither described nor on the bench",
                read=own.name or "",
                allowed="write its kind and its displacement, or the name of a [[compressor]]",
            )
        elif not known:
            yield from pumping(own, (*path, "compressor"))
    yield from _original_capillary(file, original, runs)


def _original_capillary(
    file: JobFile, original: OriginalSection, runs: list[Any]
) -> Iterator[Refusal]:
    stock = [c for _, c in entries(file, "capillary")]
    own, path = original.capillary, ("original", "capillary")
    if own is None:
        if (runs or original.compressor is not None) and not any(c.fitted for c in stock):
            yield Refusal(
                path=("original",),
                what="the capillary that it ran with is not said",
                allowed="write [original.capillary] with bore and length, or fitted = true in the "
                "[[capillary]] that is still in the machine",
            )
        return
    names = {c.name.casefold(): c for c in stock}
    twin = names.get((own.name or "").casefold())
    if own.bore is None and twin is None:
        yield Refusal(
            path=path,
            what="the original's capillary is neither described nor on the bench",
            read=own.name or "",
            allowed="write its bore and length, or the name of a [[capillary]]",
        )
    elif own.bore is not None and twin is not None:
        yield Refusal(
            path=(*path, "name"),
            what="a capillary of this name is on the bench already",
            read=own.name or "",
            allowed="write the name alone when it is the same one, or another name",
        )
    elif (own.length if own.bore is not None else twin and twin.length) is None:
        yield Refusal(
            path=path, what="its length is missing", allowed='write for example length = "0.95 m"'
        )


def _ran_well(section: RanWellSection, path: Path) -> Iterator[Refusal]:
    readings = [
        key
        for key in RanWellSection.model_fields
        if key not in ("name", "room_temperature", "room_humidity", "charge")
        and getattr(section, key) is not None
    ]
    if not readings:
        yield Refusal(
            path=path,
            what="a room without a reading of the machine",
            allowed="write at least one of suction_pressure, head_pressure, power, water ...",
        )
    for low, high, what in (
        ("suction_pressure", "head_pressure", "the head gauge is not above the suction gauge"),
        (
            "liquid_temperature",
            "discharge_temperature",
            "the discharge tube is not hotter than the liquid tube",
        ),
    ):
        a, b = getattr(section, low), getattr(section, high)
        if a is not None and b is not None and b.value <= a.value:
            yield Refusal(path=(*path, high), what=what, read=b.text, allowed=f"more than {a.text}")
