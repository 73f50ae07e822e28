"""Settings of the property tests, and comparisons with what another calculation gives.

A gate must say the same twice, so examples are drawn from a fixed seed. HYPOTHESIS_PROFILE=search
looks at new ones each time; what it finds becomes a fix and an `@example`. There is no deadline,
since a first call may compile a kernel.
"""

import os
from collections.abc import Callable
from typing import Literal

import pytest
from hypothesis import settings

settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture
def computed() -> Callable[..., None]:
    """Compare with another program's number, one worked by hand, or an earlier one of ours.

    Such a number guards against change and says nothing about nature, so it is no evidence:
    values from print go through `published`. Keyword arguments: `source`, `quantity`, `unit`,
    `expected`, `ours`, `tolerance`, `kind` (``relative`` or ``absolute``), `reason` (why the
    tolerance is what it is).
    """

    def compare(
        *,
        source: str,
        quantity: str,
        unit: str,
        expected: float,
        ours: float,
        tolerance: float,
        reason: str,
        kind: Literal["relative", "absolute"] = "relative",
    ) -> None:
        assert source.strip(), "a comparison needs a source"
        assert reason.strip(), "a tolerance needs a reason"
        off = float(ours) - float(expected)
        if kind == "relative":
            off /= abs(float(expected))
        assert abs(off) <= tolerance, (
            f"{quantity}: {ours:.6g} {unit}, by {source} {expected:.6g}, "
            f"off by {off:+.4g} against {tolerance:.4g} {kind}"
        )

    return compare
