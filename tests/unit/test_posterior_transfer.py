"""What readings of one machine say of another: which parameters stay, and how much of each."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.leaves import leaves

from sweatline.assembly.assemble import assemble
from sweatline.assembly.build import build_for
from sweatline.assembly.parameters import (
    OTHER_REFRIGERANT,
    Sample,
    parts_of,
    stays,
    transferred_prior,
)
from sweatline.job.model import Job
from sweatline.job.reading import read_job
from sweatline.uncertainty.parameter import MachinePosterior, Measured

BOAT = Path(__file__).parents[2] / "examples" / "boat-shed.toml"

AIR_SIDE = ("model", "evaporator air side")
AIRFLOW = ("fan", "volume_flow")
BOILING = ("model", "boiling")
VOLUMETRIC = ("model", "volumetric")
BORE = ("capillary", "old one", "bore")
KEYS = (AIR_SIDE, AIRFLOW, BOILING, VOLUMETRIC, BORE)
COVARIANCE = np.array(
    [
        (0.5, -0.3, 0.1, 0.0, 0.0),
        (-0.3, 0.4, 0.0, 0.1, 0.0),
        (0.1, 0.0, 0.9, 0.0, 0.1),
        (0.0, 0.1, 0.0, 0.2, 0.0),
        (0.0, 0.0, 0.1, 0.0, 0.8),
    ]
)


def known(
    job: Job, *, compressor: str, capillary: str, refrigerant: str = "R-12"
) -> MachinePosterior:
    """A machine made of parts of these names, of which five parameters are known better."""
    sample = Sample()
    for model in ("evaporator air side", "boiling", "volumetric"):
        sample.multiplier(model)
    sample.number(AIRFLOW, Measured(value=0.1, sd=0.02))
    bore = ("capillary", capillary, "bore")
    sample.number(bore, Measured(value=1e-3, sd=2e-5))
    return MachinePosterior(
        parameters=tuple(sample.seen[key] for key in (*KEYS[:4], bore)),
        mean=np.array([0.5, -1.0, 0.2, 1.5, -0.4]),
        covariance=COVARIANCE,
        parts=parts_of(
            replace(job.compressors[0], name=compressor, oil="MO"),
            refrigerant,
            replace(job.capillaries[0], name=capillary),
        ),
        readings=5,
    )


@pytest.fixture(scope="module")
def boat() -> Job:
    return read_job(BOAT)


@pytest.fixture(scope="module")
def taught(boat: Job) -> Job:
    return replace(boat, posterior=known(boat, compressor="worn out", capillary="old one"))


def test_parts_that_go_take_their_parameters_with_them(boat: Job, taught: Job) -> None:
    compressor, (old, reel) = boat.compressors[0], boat.capillaries
    assert old.name == "old one"
    kept = transferred_prior(taught, compressor, "R-134a", old)
    cut = transferred_prior(taught, compressor, "R-134a", reel)
    assert kept.keys == (AIR_SIDE, AIRFLOW, BOILING, BORE)
    assert cut.keys == (AIR_SIDE, AIRFLOW, BOILING)
    same = known(boat, compressor=compressor.name, capillary="old one")
    with_it = transferred_prior(replace(boat, posterior=same), compressor, "R-134a", reel)
    assert VOLUMETRIC in with_it.keys


def test_a_part_s_name_may_begin_with_another_part_s_name(boat: Job) -> None:
    """The capillary stays and the compressor goes, whatever the two are called."""
    old_tube = replace(boat.capillaries[0], name="old tube")
    posterior = known(boat, compressor="old", capillary="old tube")
    prior = transferred_prior(
        replace(boat, posterior=posterior), boat.compressors[0], "R-12", old_tube
    )
    assert ("capillary", "old tube", "bore") in prior.keys
    assert VOLUMETRIC not in prior.keys


@pytest.mark.parametrize("name", ["suction line", "evaporator", "liquid line", "room", "fan"])
def test_a_part_may_be_called_anything(boat: Job, name: str) -> None:
    """No parameter is lost or confused with another because of what parts are called."""
    first, *others = boat.capillaries
    named = replace(boat, capillaries=(replace(first, name=name), *others))
    choice = {"compressor": 0, "refrigerant": "R-134a", "capillary": 0}
    plain, build = build_for(boat, **choice), build_for(named, **choice)
    assert len(build.parameters) == len(plain.parameters)
    assert [(p.value, p.sd, p.belongs_to, p.instrument) for p in build.parameters] == [
        (p.value, p.sd, p.belongs_to, p.instrument) for p in plain.parameters
    ]
    wider = build.moved({("capillary", name, "bore"): 1.0})[0]
    assert wider.expansion.bore > plain.machine.expansion.bore
    assert wider.lines == plain.machine.lines
    assert leaves(wider.evaporator) == leaves(plain.machine.evaporator)


def test_the_root_gives_the_covariance_and_a_new_refrigerant_widens(boat: Job, taught: Job) -> None:
    kept = transferred_prior(taught, boat.compressors[0], "R-12", boat.capillaries[0])
    at = [KEYS.index(key) for key in kept.keys]
    expected = COVARIANCE[np.ix_(at, at)]
    np.testing.assert_allclose(kept.root @ kept.root.T, expected, atol=1e-14)
    np.testing.assert_allclose(kept.root, kept.root.T, atol=1e-14)
    other = transferred_prior(taught, boat.compressors[0], "R-134a", boat.capillaries[0])
    covariance = other.root @ other.root.T
    i = other.keys.index(BOILING)
    d2 = OTHER_REFRIGERANT**2
    assert covariance[i, i] == pytest.approx(0.9 * d2 + 1.0 - d2)
    assert other.mean[i] == pytest.approx(0.2 * OTHER_REFRIGERANT)
    assert covariance[0, 0] == pytest.approx(0.5)


def test_what_belongs_to_what(boat: Job) -> None:
    """Every parameter of a machine, by what may change around it."""
    build = build_for(boat, compressor=0, refrigerant="R-12", capillary=0)
    tube = build.capillary.name
    belongs = {p.key: p.belongs_to for p in build.parameters}
    assert belongs["capillary", tube, "roughness"] == ("capillary",)
    assert belongs["model", "capillary flow"] == ("capillary", "refrigerant")
    assert belongs["model", "shell to air"] == ("compressor",)
    assert belongs["shell", "oil_solubility"] == ("refrigerant in oil",)
    assert belongs["lines", "drier_volume"] == belongs["room", "temperature"] == ("occasion",)
    kept = {p.key for p in build.parameters if stays(p)}
    assert {("lines", "suction_bore"), AIRFLOW, AIR_SIDE, BOILING, ("model", "inventory")} <= kept
    gone = {VOLUMETRIC, ("model", "capillary flow"), ("shell", "volume"), ("room", "temperature")}
    assert not gone & kept


def test_learning_nothing_changes_nothing(boat: Job, taught: Job) -> None:
    nothing = replace(taught.posterior, mean=np.zeros(5), covariance=np.eye(5))
    parts = {"compressor": 0, "refrigerant": "R-134a", "capillary": 0}
    plain = build_for(boat, **parts)
    same = build_for(replace(boat, posterior=nothing), **parts)
    z = {p.key: 0.3 * (-1) ** i for i, p in enumerate(plain.parameters)}
    assert leaves(same.machine) == leaves(plain.machine)
    assert [p.key for p in same.parameters] == [p.key for p in plain.parameters]
    assert leaves(same.moved(z)[0]) == leaves(plain.moved(z)[0])


def test_a_sample_moves_about_what_was_learned(boat: Job, taught: Job) -> None:
    sample = Sample()
    parts = (boat.compressors[0], build_for(boat, compressor=0, refrigerant="R-12", capillary=0))
    machine, _line = assemble(
        taught, parts[0], parts[1].refrigerant, boat.capillaries[0], sample=sample
    )
    fresh, _line = assemble(boat, parts[0], parts[1].refrigerant, boat.capillaries[0])
    flow = boat.fan.volume_flow
    assert machine.air.flow / fresh.air.flow == pytest.approx(flow.at(-1.0) / flow.value)
    assert machine.compressor.flow_multiplier == fresh.compressor.flow_multiplier
    assert sample.z == {}
    assert AIRFLOW in sample.seen


def test_what_readings_have_narrowed_is_told_with_its_parameter(boat: Job, taught: Job) -> None:
    build = build_for(taught, compressor=0, refrigerant="R-12", capillary=0)
    notes = {p.key: p.note for p in build.parameters}
    assert notes[AIRFLOW].endswith("narrow that to 63 %")  # the root of 0.4
    assert "readings" not in notes[BOILING]  # 95 % is left
    assert "readings" not in notes["fan", "power"]
    plain = build_for(boat, compressor=0, refrigerant="R-12", capillary=0)
    assert not any("readings of the machine" in p.note for p in plain.parameters)
