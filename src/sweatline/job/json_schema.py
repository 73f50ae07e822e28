"""The JSON schema of a job file, for editors that complete and check TOML by one.

It is made from the glossary of the reader, so that it cannot name a key the reader does not know.
Quantities are strings with a unit; what units a kind takes is told in the description, and only
the reader checks it.
"""

from __future__ import annotations

from typing import Any, Final

__all__ = ["job_schema"]

_UNQUOTED: Final = {"true or false": {"type": "boolean"}}


def job_schema() -> dict[str, Any]:
    """JSON schema of a job file."""
    from sweatline.job.glossary import Key, glossary
    from sweatline.job.schema import LISTS

    def value(key: Key) -> dict[str, Any]:
        described = f"{key.meaning}; written as {key.written}"
        if key.uncertainty:
            described += f"; without a stated uncertainty taken as {key.uncertainty}"
        return {**_type(key.written), "description": described}

    root: dict[str, Any] = _table()
    for key in glossary():
        here = root
        for name in [n for n in key.table.strip("[]").split(".") if n]:
            inner = here["properties"].get(name)
            if inner is None:
                table = _table()
                inner = table
                if here is root and name in LISTS:
                    inner = {"type": "array", "minItems": 1, "items": table}
                here["properties"][name] = inner
            here = inner.get("items", inner)
        here["properties"][key.name] = value(key)
        if key.needed:
            here.setdefault("required", []).append(key.name)
    _require_tables(root)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "sweatline job file",
        **root,
    }


def _table() -> dict[str, Any]:
    return {"type": "object", "additionalProperties": False, "properties": {}}


def _type(written: str) -> dict[str, Any]:
    if written in _UNQUOTED:
        return dict(_UNQUOTED[written])
    if written.startswith("whole number"):
        low, high = written.rpartition(",")[2].split(" to ")
        return {"type": "integer", "minimum": int(low), "maximum": int(high)}
    if written.startswith("["):
        item = "string" if written.startswith('["') else "number"
        return {"type": "array", "items": {"type": item}}
    if not written.startswith('"') and written != "text":
        return {"type": ["string", "number"]}
    return {"type": "string"}


def _require_tables(root: dict[str, Any]) -> None:
    """Tables without which no job can be read."""
    from sweatline.job.schema import JobFile

    needed = [name for name, field in JobFile.model_fields.items() if field.is_required()]
    order = list(root["properties"])
    root["required"] = sorted(set(needed), key=order.index)
