"""From what a file says to the job: readings with their uncertainty, and what is assumed."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from sweatline.job.conventions import in_celsius
from sweatline.job.keys import Assumed, Field, Key, Known, fields_of
from sweatline.job.model import (
    CapillaryStock,
    Compressor,
    CompressorMap,
    Job,
    Original,
)
from sweatline.job.tables import Section
from sweatline.job.values import Quantity
from sweatline.uncertainty.measured import Measured
from sweatline.units import Parsed, Scale


def build_job(file: Section, scale: Scale, *, path: str, digest: str) -> Job:
    """Job of a file in which nothing was refused."""
    return _Builder(scale).job(file, path=path, digest=digest)


class _Builder:
    """Makes parts of one job, and notes what was written and what was assumed."""

    def __init__(self, scale: Scale) -> None:
        self.scale = scale
        self.written: list[tuple[str, str]] = []
        self.assumed: list[tuple[str, str]] = []
        self.parts: dict[str, Any] = {}  # parts of the job made so far

    def job(self, file: Section, *, path: str, digest: str) -> Job:
        """The whole job."""
        made = self._fields(Job, file, "", {"path": path, "digest": digest}, of_job=True)
        made["original"] = self._ran_with(file["original"], made)
        return Job(**made, written=tuple(self.written), assumed=tuple(self.assumed))

    def _fields(
        self,
        part: type,
        section: Section,
        path: str,
        preset: Mapping[str, Any],
        *,
        number: int = 0,
        of_job: bool = False,
    ) -> dict[str, Any]:
        """Every field of a part, from the keys of its table or by default."""
        made: dict[str, Any] = self.parts if of_job else {}
        made.update(preset)
        known = Known(made, self.parts, self.scale, number)
        dot = f"{path}." if path else ""
        for key, value in section.values.items():
            if isinstance(value, Parsed):
                self.written.append((dot + key, value.text))
        for field in fields_of(part):
            if field.name in made:
                continue
            if field.table is not None:
                made[field.name] = self._table(field, section[field.table.name], dot)
            else:
                made[field.name] = self._value(field, section, dot, known)
        return made

    def _part(self, part: type, section: Section, path: str, number: int = 0) -> Any:
        preset = {"compressor": None, "capillary": None} if part is Original else {}
        made = self._fields(part, section, path, preset, number=number)
        if part is CompressorMap and section["coefficients"] == "BTU/h, °F":
            made["capacity"], made["power"] = in_celsius(made["capacity"], made["power"])
        return part(**made)

    def _table(self, field: Field, found: Any, dot: str) -> Any:
        assert field.table is not None
        assert field.part is not None
        if field.table.many:
            name = dot + field.table.name
            return tuple(
                self._part(field.part, one, f"{name}[{n}]", n)
                for n, one in enumerate(found or (), 1)
            )
        if found is None:
            return field.default
        return self._part(field.part, found, dot + field.table.name)

    def _value(self, field: Field, section: Section, dot: str, known: Known) -> Any:
        """A field from the first of its keys that stands in the file, or by default."""
        ways = [key for key in field.keys if not key.beside]
        for key in ways:
            read = section[key.name]
            if read is not None:
                if key.many:
                    return tuple(key.value.made(one, self.scale) for one in read)
                value = key.value.made(read, self.scale)
                return value if key.turn is None else key.turn(value, known)
        return self._default(field, ways[0], dot, known)

    def _default(self, field: Field, key: Key, dot: str, known: Known) -> Any:
        assumed = key.default(known) if callable(key.default) else key.default
        if not isinstance(assumed, Assumed):
            own = assumed is None and field.default is not dataclasses.MISSING
            return field.default if own else assumed
        note = assumed.note_in(self.scale.system)
        if isinstance(key.value, Quantity) and key.value.tool:
            return Measured(value=assumed.value, sd=assumed.sd, origin=assumed.origin, note=note)
        if note:
            self.assumed.append((dot + key.name, note))
        return assumed.value

    def _ran_with(self, section: Section, made: Mapping[str, Any]) -> Original:
        """The plate with the parts the machine ran with: described, or one of the bench named."""
        original = cast(Original, made["original"])
        compressor, capillary = section["compressor"], section["capillary"]
        stock: tuple[CapillaryStock, ...] = made["capillaries"]
        if capillary is None:
            ran = next((one for one in stock if one.fitted), None)
        elif capillary["bore"] is None:
            ran = _named(stock, capillary["name"])
        else:
            preset = {"name": capillary["name"] or "original capillary", "fitted": True}
            path = "original.capillary"
            ran = CapillaryStock(**self._fields(CapillaryStock, capillary, path, preset))
        pump = None
        if compressor is not None:
            pump = _named(made["compressors"], compressor["name"])
            if pump is None or compressor["kind"] is not None:
                preset = {"name": compressor["name"] or "original compressor"}
                path = "original.compressor"
                pump = Compressor(**self._fields(Compressor, compressor, path, preset))
        return replace(original, compressor=pump, capillary=ran)


def _named(bench: Any, name: str | None) -> Any:
    """Part of the bench of a name, however it is capitalised."""
    wanted = (name or "").casefold()
    return next((one for one in bench if one.name.casefold() == wanted), None)
