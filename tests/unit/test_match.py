"""How combinations are ranked, and how parts are named."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sweatline.assembly.build import choose
from sweatline.design import match as matching
from sweatline.design.capillary import capillary
from sweatline.design.metering import metering
from sweatline.errors import JobError
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.report.tubes import cut_line
from sweatline.units import Scale

SEED = Path(__file__).parents[2] / "examples" / "seed-store.toml"


def test_equal_combinations_stand_in_the_order_of_the_job(monkeypatch: pytest.MonkeyPatch) -> None:
    """Threads finish as they like: the order of two tubes that are alike does not hang on it."""
    job = read_job(SEED)
    tube = job.capillaries[0]
    twins = replace(
        job,
        compressors=job.compressors[:1],
        refrigerants=("R-134a",),
        capillaries=(tube, replace(tube, name="its twin")),
    )
    done = list(matching.evaluate_all(twins, draws=0))
    for order in (done, done[::-1]):
        monkeypatch.setattr(matching, "evaluate_all", lambda *_a, found=order, **_k: iter(found))
        ranked = matching.match(twins, draws=0).ranked
        assert [c.parts.capillary for c in ranked] == [tube.name, "its twin"]


def test_several_parts_of_a_name_are_told_in_words() -> None:
    job = read_job(SEED)
    tube = job.capillaries[0]
    twins = replace(job, capillaries=(replace(tube, name="reel a"), replace(tube, name="reel b")))
    with pytest.raises(JobError, match="several capillaries fit that name"):
        choose(twins, compressor="1", refrigerant="R-134a", capillary="reel")
    with pytest.raises(JobError, match="several capillaries are on the bench"):
        choose(twins, compressor="1", refrigerant="R-134a")


def with_bores(*bores: float) -> Job:
    """One compressor, R-134a and reels of such bores. [m]"""
    job = read_job(SEED)
    reel = job.capillaries[1]
    reels = tuple(
        replace(reel, name=f"{1e3 * b:g} reel", bore=replace(reel.bore, value=b)) for b in bores
    )
    return replace(
        job, compressors=job.compressors[:1], refrigerants=("R-134a",), capillaries=reels
    )


def test_no_tube_shorter_than_fifty_millimetres_is_offered() -> None:
    job = with_bores(0.75e-3, 0.82e-3)
    short, offered = metering(job, compressor=0, refrigerant="R-134a", draws=0).cuts
    assert (short.cut.length, short.cut.start_length, short.cut.shortest) == (None, None, None)
    assert "50 mm or more" in cut_line(short, Scale("SI"))
    assert "2.0 in or more" in cut_line(short, Scale("US"))
    assert offered.cut.length is not None
    assert 0.05 < offered.cut.length < 0.06
    found = matching.match(job, draws=0)
    assert [c.parts.capillary for c in found.ranked] == ["0.82 reel"]
    (lost,) = found.lost
    assert "0.750 mm cannot pass the flow at a length of 50 mm or more" in lost.reason


def test_a_tube_of_fewer_than_three_hundred_bores_is_not_told_to_be_cut() -> None:
    job = with_bores(0.82e-3, 1.25e-3)
    orifice, tube = metering(job, compressor=0, refrigerant="R-134a", draws=0).cuts
    assert (orifice.cut.too_short, tube.cut.too_short) == (True, False)
    assert "too short for a capillary" in cut_line(orifice, Scale("SI"))


def test_a_flow_that_asks_for_a_shorter_tube_is_refused() -> None:
    ends: dict[str, Any] = {
        "bore": 1e-3,
        "inlet_pressure": 9e5,
        "outlet_pressure": 3e5,
        "atmosphere": 101325.0,
    }
    there = capillary("R-134a", length=0.06, subcooling=5.0, **ends)
    assert capillary("R-134a", mass_flow=there.mass_flow, subcooling=5.0, **ends).length > 0.05
    more = capillary("R-134a", length=0.04, subcooling=5.0, **ends).mass_flow
    with pytest.raises(JobError, match=r"cannot pass the wanted flow .* 50 mm"):
        capillary("R-134a", mass_flow=more, subcooling=5.0, **ends)
