"""Void fraction against a public fit of the table of Hughmark."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sweatline.flow import void_fraction as vf

# A public quartic in ln Z for ln K, coefficients from the highest power down.
QUARTIC = (-0.0100607, 0.1555948, -0.8709125, 2.1670041, -2.2246084)


@pytest.mark.parametrize(
    "Z", [1.3, 1.7, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0, 10.0, 15.0, 30.0, 70.0, 130.0]
)
def test_hughmark_factor(published: Callable[..., Any], Z: float) -> None:
    published(
        model="Void fraction (Hughmark)",
        source="public quartic fit of the author's table",
        status="PUBLISHED",
        basis="equation",
        quantity=f"flow parameter at Z {Z:g}",
        unit="",
        printed=math.exp(np.polyval(QUARTIC, math.log(Z))),
        ours=vf._hughmark_factor(Z),
        tolerance=0.04,
        reason="the fit follows the table within 3.5 %, and straight lines between its points",
    )
