"""Void fractions against an open library and an earlier calculation."""

from collections.abc import Callable
from typing import Any

import fluids.two_phase_voidage as library
import numpy as np
import pytest
from tests import second_opinions as others

from sweatline.flow.void_fraction import void_fraction_premoli

# fluid, °C, liquid and vapour density kg/m3, viscosities Pa*s, surface tension N/m: CoolProp 8.
FLUIDS: dict[tuple[str, float], tuple[float, float, float, float, float]] = {
    ("R134a", 40.0): (1146.73924, 50.08502, 1.6145e-4, 1.23729e-5, 6.11492e-3),
    ("R134a", -10.0): (1327.12616, 10.04115, 3.03553e-4, 1.03615e-5, 1.28471e-2),
    ("R290", 40.0): (467.46087, 30.16468, 8.28441e-5, 8.89155e-6, 5.26214e-3),
    ("R290", -5.0): (535.27129, 8.91034, 1.32235e-4, 7.30168e-6, 1.07733e-2),
    ("R600a", 40.0): (531.18713, 13.66601, 1.29391e-4, 7.91255e-6, 8.3531e-3),
    ("R600a", -25.0): (608.27416, 1.69313, 2.68271e-4, 6.25998e-6, 1.57369e-2),
    ("R152a", 40.0): (859.6734, 28.27998, 1.35345e-4, 1.188e-5, 7.74657e-3),
}

# fluid, °C, G, D, x -> homogeneous, Zivi, Baroczy, Premoli, Hughmark; by library and own code.
TABLE = [
    ("R134a", 40.0, 150, 0.006, 0.1, 0.71783, 0.47255, 0.5188, 0.56425, 0.54088),
    ("R134a", 40.0, 150, 0.006, 0.3, 0.90751, 0.77557, 0.74539, 0.77425, 0.72332),
    ("R134a", 40.0, 150, 0.006, 0.5, 0.95815, 0.88966, 0.84569, 0.85903, 0.78864),
    ("R134a", 40.0, 150, 0.006, 0.8, 0.9892, 0.96993, 0.9386, 0.9403, 0.84551),
    ("R134a", -10.0, 150, 0.0065, 0.1, 0.93625, 0.74247, 0.75206, 0.75586, 0.75684),
    ("R134a", -10.0, 150, 0.0065, 0.3, 0.98265, 0.91749, 0.89173, 0.87631, 0.83707),
    ("R134a", -10.0, 150, 0.0065, 0.5, 0.99249, 0.96289, 0.93909, 0.92397, 0.87613),
    ("R134a", -10.0, 150, 0.0065, 0.8, 0.99811, 0.99046, 0.97728, 0.97088, 0.92877),
    ("R290", 40.0, 100, 0.006, 0.1, 0.63261, 0.40851, 0.46638, 0.50412, 0.478),
    ("R290", 40.0, 100, 0.006, 0.3, 0.86914, 0.72707, 0.70355, 0.73917, 0.6908),
    ("R290", 40.0, 100, 0.006, 0.5, 0.93938, 0.86142, 0.81627, 0.83765, 0.77006),
    ("R290", 40.0, 100, 0.006, 0.8, 0.98412, 0.96134, 0.92533, 0.93109, 0.83764),
    ("R290", -5.0, 100, 0.0065, 0.1, 0.8697, 0.63022, 0.65918, 0.69175, 0.68957),
    ("R290", -5.0, 100, 0.0065, 0.3, 0.96261, 0.86796, 0.84005, 0.84352, 0.80612),
    ("R290", -5.0, 100, 0.0065, 0.5, 0.98363, 0.9388, 0.90768, 0.90214, 0.84813),
    ("R290", -5.0, 100, 0.0065, 0.8, 0.99586, 0.98396, 0.96482, 0.9594, 0.9005),
    ("R600a", 40.0, 50, 0.0036, 0.1, 0.81199, 0.56043, 0.59626, 0.60248, 0.60891),
    ("R600a", 40.0, 50, 0.0036, 0.3, 0.94337, 0.83101, 0.80041, 0.78326, 0.75303),
    ("R600a", 40.0, 50, 0.0036, 0.5, 0.97492, 0.91984, 0.88245, 0.85762, 0.80433),
    ("R600a", 40.0, 50, 0.0036, 0.8, 0.99361, 0.97868, 0.95442, 0.93211, 0.85135),
    ("R600a", -25.0, 50, 0.0065, 0.1, 0.97556, 0.84883, 0.84686, 0.79497, 0.80945),
    ("R600a", -25.0, 50, 0.0065, 0.3, 0.99355, 0.95587, 0.93756, 0.89263, 0.8707),
    ("R600a", -25.0, 50, 0.0065, 0.5, 0.99722, 0.9806, 0.96565, 0.93241, 0.9047),
    ("R600a", -25.0, 50, 0.0065, 0.8, 0.9993, 0.99508, 0.98741, 0.97296, 0.95218),
    ("R152a", 40.0, 100, 0.006, 0.1, 0.77157, 0.51975, 0.56884, 0.60129, 0.58841),
    ("R152a", 40.0, 100, 0.006, 0.3, 0.92871, 0.80674, 0.78178, 0.79279, 0.74503),
    ("R152a", 40.0, 100, 0.006, 0.5, 0.96815, 0.90689, 0.87024, 0.86866, 0.80269),
    ("R152a", 40.0, 100, 0.006, 0.8, 0.99184, 0.97498, 0.94926, 0.9418, 0.85324),
]

NAMES = ("homogeneous", "Zivi", "Baroczy", "Premoli", "Hughmark")


def ours(name: str, fluid: str, t: float, G: float, D: float, x: float) -> float:
    rl, rg, mul, mug, sigma = FLUIDS[fluid, t]
    match name:
        case "homogeneous":
            return others.void_fraction_homogeneous(x, 1 / rl, 1 / rg)
        case "Zivi":
            return others.void_fraction_zivi(x, 1 / rl, 1 / rg)
        case "Baroczy":
            return others.void_fraction_baroczy(x, 1 / rl, 1 / rg, mul, mug)
        case "Premoli":
            return void_fraction_premoli(x, float(G), D, 1 / rl, 1 / rg, mul, sigma)
        case "Hughmark":
            return others.void_fraction_hughmark(x, float(G), D, 1 / rl, 1 / rg, mul, mug)
    raise AssertionError(name)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]} {row[1]:g} x{row[4]:g}")
def test_table(computed: Callable[..., None], row: tuple[Any, ...]) -> None:
    fluid, t, G, D, x, *printed = row
    for name, value in zip(NAMES, printed, strict=True):
        computed(
            source="earlier calculation with CoolProp 8",
            quantity=f"{fluid} {t:g} °C, {G} kg/(m2*s), {1e3 * D:g} mm, x {x:g}",
            unit="",
            expected=value,
            ours=ours(name, fluid, t, G, D, x),
            tolerance=1e-5,
            kind="absolute",
            reason="five digits kept",
        )


@pytest.mark.parametrize("name", ["Zivi", "Baroczy"])
def test_against_a_library(computed: Callable[..., None], name: str) -> None:
    worst = 0.0
    for fluid, t in FLUIDS:
        rl, rg, mul, mug, _ = FLUIDS[fluid, t]
        for x in (0.02, 0.07, 0.2, 0.45, 0.7, 0.9, 0.99):
            if name == "Zivi":
                theirs = library.Zivi(x, rl, rg)
            else:
                theirs = library.Baroczy(x, rl, rg, mul, mug)
            worst = max(worst, abs(ours(name, fluid, t, 100.0, 0.006, x) - theirs))
    computed(
        source="open library fluids",
        quantity="largest difference, seven fluid states, quality 0.02 to 0.99",
        unit="",
        expected=0.0,
        ours=worst,
        tolerance=1e-12,
        kind="absolute",
        reason="the same equation by another hand",
    )


# Mean two-phase density kg/m3 at uniform heat flux.
MEAN_DENSITY = [
    ("R134a", 40.0, 150, 0.006, 0.0, (164, 265, 283, 264, 336)),
    ("R290", 40.0, 100, 0.006, 0.0, (88, 129, 136, 127, 155)),
    ("R134a", -10.0, 150, 0.0065, 0.2, (20, 58, 82, 96, 151)),
    ("R290", -5.0, 100, 0.0065, 0.2, (18, 40, 52, 54, 79)),
    ("R600a", -25.0, 50, 0.0065, 0.2, (3.4, 13.5, 20.7, 37, 50)),
]


@pytest.mark.parametrize(("fluid", "t", "G", "D", "start", "printed"), MEAN_DENSITY)
def test_mean_density(
    computed: Callable[..., None],
    fluid: str,
    t: float,
    G: float,
    D: float,
    start: float,
    printed: tuple[float, ...],
) -> None:
    rl, rg = FLUIDS[fluid, t][:2]
    quality = np.linspace(start, 1.0, 4001)
    for name, value in zip(NAMES, printed, strict=True):
        alpha = np.array([ours(name, fluid, t, G, D, x) for x in quality])
        density = np.trapezoid(alpha * rg + (1 - alpha) * rl, quality) / (1.0 - start)
        computed(
            source="earlier calculation with CoolProp 8",
            quantity=f"mean density, {fluid} {t:g} °C, x {start:g} to 1",
            unit="kg/m3",
            expected=value,
            ours=density,
            tolerance=0.01 + (0.05 if value < 30 and value != round(value) else 0.5) / value,
            reason="half of the last digit printed, and 1 % for a quadrature of another step",
        )
