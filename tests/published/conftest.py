"""The fixtures behind every comparison with a published value, and the record they leave.

A test hands over the printed value, ours, the tolerance and why it is that wide; `published`
judges and, where the environment variable SWEATLINE_EVIDENCE names a file, appends one line of
JSON to it. `evidence_section` puts a section of another form on record. From those lines
`tools/build_evidence.py` makes the evidence page.
"""

import json
import os
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Literal

import pytest
from tests.evidence import BASIS_OF_STATUS, Comparison, Section


def _append(entry: dict[str, Any], test: str) -> None:
    """Put an entry on record, if anybody asked for one."""
    path = os.environ.get("SWEATLINE_EVIDENCE")
    if not path:
        return
    entry = entry | {"test": test}
    line = json.dumps(entry, sort_keys=True, ensure_ascii=False) + "\n"
    # one write on a descriptor opened for appending: lines of parallel workers never mix
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        os.write(descriptor, line.encode())
    finally:
        os.close(descriptor)


@pytest.fixture
def published(request: pytest.FixtureRequest) -> Callable[..., Comparison]:
    """Compare with a printed value, and put the comparison on record.

    Keyword arguments: `model` (what of ours is under test), `source` (author and year),
    `status` (``PUBLISHED``, ``MEMORY 0.85`` with the confidence, ``common practice``), `basis` (a
    key of `BASES`; by itself ``practice`` for common practice), `quantity`, `unit`, `printed`,
    `ours`, `tolerance`, `kind` (``relative`` or ``absolute``), `reason` (why the tolerance is what
    it is). With `aim_only` a value that is not met is recorded as such instead of failing the test;
    `in_sample` says that numbers of ours were chosen to agree with this value among others, so that
    agreement shows how well a form fits and predicts nothing.
    """

    def compare(
        *,
        model: str,
        source: str,
        status: str,
        quantity: str,
        unit: str,
        printed: float,
        ours: float,
        tolerance: float,
        reason: str,
        basis: str | None = None,
        kind: Literal["relative", "absolute"] = "relative",
        aim_only: bool = False,
        in_sample: bool = False,
    ) -> Comparison:
        comparison = Comparison(
            model=model,
            source=source,
            status=status,
            basis=BASIS_OF_STATUS.get(status, "") if basis is None else basis,
            quantity=quantity,
            unit=unit,
            printed=float(printed),
            ours=float(ours),
            tolerance=float(tolerance),
            kind=kind,
            reason=reason,
            aim_only=aim_only,
            in_sample=in_sample,
        )
        judged = {"deviation": comparison.deviation, "met": comparison.met}
        _append(asdict(comparison) | judged, request.node.nodeid)
        if not aim_only:
            assert comparison.met, str(comparison)
        return comparison

    return compare


@pytest.fixture
def evidence_section(request: pytest.FixtureRequest) -> Callable[[Section], None]:
    """Put a `Section` on the evidence page; it judges nothing, the test around it does."""

    def record(section: Section) -> None:
        _append({"section": asdict(section)}, request.node.nodeid)

    return record
