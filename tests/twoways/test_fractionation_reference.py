"""First vapour of a blend by ideal lumps against the reference library's mixtures.

The bubble and dew pressure of the whole blend fix the lumps, so real mixtures show as a difference
in the enrichment of the vapour. It comes out too large by up to a quarter, never too small by more
than a hundredth: on the safe side for a bound, and too rough for a charge calculation.
"""

import pytest

from sweatline.bench.hoses.cylinder import mole_shares, volatility
from sweatline.refrigerant.refrigerant import load

CoolProp = pytest.importorskip("CoolProp.CoolProp")


@pytest.mark.parametrize("name", ["R-407C", "R-454B", "R-454C", "R-513A"])
@pytest.mark.parametrize("temperature", [278.15, 293.15, 308.15])
def test_enrichment_of_the_first_vapour(name: str, temperature: float) -> None:
    fluid = load(name)
    shares = mole_shares(fluid)
    state = CoolProp.AbstractState("HEOS", "&".join(n.replace("-", "") for n in shares))
    state.set_mole_fractions(list(shares.values()))
    state.update(CoolProp.QT_INPUTS, 0.0, temperature)
    vapour = state.mole_fractions_vapor()
    bubble = fluid.saturation_pressure_bubble(temperature)
    dew = fluid.saturation_pressure_dew(temperature)
    for k in range(1, len(shares)):
        z = sum(list(shares.values())[:k])
        light, _ = volatility(light_share=z, bubble=bubble, dew=dew)
        ours, theirs = z * light / bubble - z, sum(vapour[:k]) - z
        assert ours > theirs - 0.01
        if k == len(shares) - 1:
            assert ours < 1.25 * theirs + 0.005
