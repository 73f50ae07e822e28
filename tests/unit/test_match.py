"""How combinations are ranked, and how parts are named."""

from dataclasses import replace
from pathlib import Path

import pytest

from sweatline.assembly.build import choose
from sweatline.design import match as matching
from sweatline.errors import JobError
from sweatline.job.reading import read_job

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
