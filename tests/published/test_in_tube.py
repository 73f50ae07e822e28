"""Friction and heat transfer in tubes against print and open libraries."""

import math
from collections.abc import Callable
from typing import Any

import pytest
from tests.second_opinions import bend_loss, condensation_cavallini_smith_zecchin

from sweatline.flow import boiling, condensation, inside_tube

# p, pc, M, rl, rg, mul, mug, kl, cpl at saturation: CoolProp 8.
STATES: dict[str, tuple[float, ...]] = {
    "R134a -10 °C": (
        200603.0, 4059280.0, 0.102032, 1327.13, 10.0412, 3.03553e-4, 1.03615e-5, 0.0964924, 1315.56
    ),
    "R134a 40 °C": (
        1016590.0, 4059280.0, 0.102032, 1146.74, 50.085, 1.6145e-4, 1.23729e-5, 0.0747188, 1498.41
    ),
    "R290 -5 °C": (
        406037.0, 4251170.0, 0.0440956, 535.271, 8.91034, 1.32235e-4, 7.30168e-6, 0.108775, 2456.96
    ),
    "R600a -25 °C": (
        58427.3, 3629000.0, 0.0581222, 608.274, 1.69313, 2.68271e-4, 6.25998e-6, 0.108644, 2159.32
    ),
}  # fmt: skip


@pytest.mark.parametrize("x", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("G", [100.0, 200.0, 400.0])
def test_two_opinions_on_condensation(published: Callable[..., Any], G: float, x: float) -> None:
    p, pc, _, rl, rg, mul, mug, kl, cpl = STATES["R134a 40 °C"]
    published(
        model="Condensation (Shah)",
        source="Cavallini, Smith and Zecchin 1974, R134a at 40 °C in 8 mm",
        status="MEMORY 0.95",
        basis="equation",
        quantity=f"coefficient at {G:g} kg/(m2*s), x {x:g}",
        unit="W/(m2*K)",
        printed=condensation_cavallini_smith_zecchin(
            G, x, 0.008, 1 / rl, 1 / rg, mul, mug, kl, cpl
        ),
        ours=condensation.condensation_shah(G, x, 0.008, p, pc, mul, kl, cpl),
        tolerance=0.25,
        reason="each states 15 to 20 % mean deviation; the difference is the form's scatter",
        aim_only=True,
    )


# Moody chart, read by Colebrook's equation. MEMORY 0.95.
MOODY = [
    (1000.0, 0.0, 0.0640),
    (1e4, 0.0, 0.0309),
    (1e5, 0.0, 0.0180),
    (1e6, 0.0, 0.0116),
    (1e5, 0.001, 0.0222),
    (1e8, 0.001, 0.0196),
    (1e8, 0.01, 0.0379),
    (1e8, 0.05, 0.0716),
]


@pytest.mark.parametrize(("Re", "roughness", "printed"), MOODY)
def test_friction_factor(
    published: Callable[..., Any], Re: float, roughness: float, printed: float
) -> None:
    published(
        model="Friction (Churchill)",
        source="Moody chart",
        status="MEMORY 0.95",
        basis="equation",
        quantity=f"Darcy friction factor, Re {Re:g}, roughness {roughness:g}",
        unit="",
        printed=printed,
        ours=inside_tube.darcy_friction_churchill(Re, roughness),
        tolerance=0.02,
        reason="three digits; Churchill's turbulent branch is Swamee's, within 1 to 2 %",
    )


@pytest.mark.parametrize("x", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("G", [100.0, 300.0])
def test_two_opinions_on_return_bends(published: Callable[..., Any], G: float, x: float) -> None:
    """The form in use, Padilla's with a loss in one phase, against two fits, both recalled.

    Domanski and Hermes 2008 multiply the straight gradient; fitted to R-22 and R-410A.
    """
    _, _, _, rl, rg, mul, mug, _, _ = STATES["R134a -10 °C"]
    D, R = 0.0065, 0.0127
    straight = inside_tube.gradient_mueller_steinhagen_heck(G, x, D, 1 / rl, 1 / rg, mul, mug)
    factor = (
        6.5e-3
        * (G * x * D / mug) ** 0.54
        * (1 / x - 1) ** 0.21
        * (rl / rg) ** 0.34
        * (2 * R / D) ** -0.67
    )
    turn = inside_tube.gradient_bend_padilla(G, x, R, 1 / rl, 1 / rg)
    for source, printed in (
        ("Domanski and Hermes 2008", factor * straight * math.pi * R),
        (
            "Padilla, Revellin and Bonjour 2009",
            bend_loss(G, x, D, R, 1 / rl, 1 / rg, mul, mug),
        ),
    ):
        published(
            model="Return bends",
            source=f"{source}, R134a at -10 °C in 6.5 mm",
            status="MEMORY 0.6",
            basis="equation",
            quantity=f"loss at {G:g} kg/(m2*s), x {x:g}",
            unit="Pa",
            printed=printed,
            ours=math.pi * R * (straight + turn),
            tolerance=0.5,
            reason="fits to different data, both recalled; at 100 kg/(m2*s) ten bends lose 0.3 to "
            "3 kPa by either",
            aim_only=True,
        )


@pytest.mark.parametrize(("Re", "Pr"), [(1e4, 0.7), (1e5, 0.7), (1e4, 3.0), (1e5, 3.0)])
def test_turbulent_flow_against_dittus_and_boelter(
    published: Callable[..., Any], Re: float, Pr: float
) -> None:
    published(
        model="One phase (Gnielinski)",
        source="Dittus and Boelter, 0.023 Re^0.8 Pr^0.4",
        status="MEMORY 0.99",
        basis="equation",
        quantity=f"Nusselt number, Re {Re:g}, Pr {Pr:g}",
        unit="",
        printed=0.023 * Re**0.8 * Pr**0.4,
        ours=inside_tube.nusselt_gnielinski(Re, Pr),
        tolerance=0.15,
        reason="the older form is stated to be good to 25 %, the newer to 10 %",
    )


# Wojtan and others tested R22 and R410A at 5 °C; the onset falls with flux. Their limits.
@pytest.mark.parametrize(
    ("quantity", "flux", "printed", "tolerance"),
    [("inception at no heat flux: 0.58 exp(0.52)", 0.0, 0.9755, 0.0005)],
)
def test_dryout(
    published: Callable[..., Any], quantity: str, flux: float, printed: float, tolerance: float
) -> None:
    published(
        model="Dry-out (Wojtan and others)",
        source="Wojtan 2004, thesis 2978 of EPFL, eq. (7.47)",
        status="PUBLISHED",
        basis="equation",
        quantity=quantity,
        unit="",
        printed=printed,
        ours=boiling.dryout_quality(200.0, 0.008, flux, 1 / 1264.0, 1 / 24.8, 0.0109, 2.0e5),
        tolerance=tolerance,
        kind="absolute",
        reason="a limit of the printed equation",
    )
