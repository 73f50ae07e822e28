"""Names, loading, and refusals of the readable refrigerant layer."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sweatline.errors import JobError, NoSuchState, OutOfRange, StoreError
from sweatline.refrigerant import table as kernels
from sweatline.refrigerant.names import NAMES
from sweatline.refrigerant.refrigerant import find, load
from sweatline.refrigerant.spline import read_table, write_table


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("R-152a", "R-152a"),
        ("r152a", "R-152a"),
        ("R-152A", "R-152a"),
        ("HFC-152a", "R-152a"),
        (" R 152 a ", "R-152a"),
        ("152a", "R-152a"),
        ("difluoroethane", "R-152a"),
        ("Propane", "R-290"),
        ("HC-290", "R-290"),
        ("isobutane", "R-600a"),
        ("R600A", "R-600a"),
        ("CFC12", "R-12"),
        ("HCFC-22", "R-22"),
        ("HFO-1234yf", "R-1234yf"),
        ("R1234ze", "R-1234ze(E)"),
        ("r1234ze(e)", "R-1234ze(E)"),
        ("propylene", "R-1270"),
        ("refrigerant 410a", "R-410A"),
        ("R_404_A", "R-404A"),
        ("R-290/R-600a 60/40", "R-290/R-600a 60/40"),
        ("R290/R600a (60/40)", "R-290/R-600a 60/40"),
        ("R-290/600a 60/40 %", "R-290/R-600a 60/40"),
        ("isobutane / propane 40.0 / 60", "R-290/R-600a 60/40"),
        ("propane/propylene/isobutane 33.4/33.3/33.3", "R-1270/R-290/R-600a 33.3/33.4/33.3"),
        ("r507a", "R-507A"),
    ],
)
def test_usual_spellings_are_understood(written: str, name: str) -> None:
    assert find(written) == name


@pytest.mark.parametrize(
    ("written", "what"),
    [
        ("R-409A", "R-22 with R-124"),
        ("r438a", "isopentane"),
        ("R-290/R-600a", "a share by mass for each"),
        ("R-290/R-600a 60/30", "do not add up to 100"),
        ("R-290/R-600a 60/30/10", "a share by mass for each"),
        ("R-290/R-600a 100/0", "at least 0.1 %"),
        ("R-290/R-290 50/50", "stands twice"),
        ("R-290/R-134a 50/50", "mixtures of R-134a cannot be calculated"),
        ("R-290/R-600a 6..0/40", "a plain number"),
        ("/", "a share by mass for each"),
    ],
)
def test_blends_that_cannot_be_calculated_are_refused_with_the_reason(
    written: str, what: str
) -> None:
    with pytest.raises(JobError, match=what):
        find(written)


@pytest.mark.parametrize("written", ["R-290/R-600a 60/40", "R-1270/R-290/R-600a 20/30/50"])
def test_a_mixture_loads_under_its_name(written: str) -> None:
    mixture = load(written)
    assert mixture.name == written
    assert load(written.lower()) is mixture
    assert mixture.kind == "mixture"
    assert sum(mixture.composition.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("name", NAMES)
def test_every_name_loads(name: str) -> None:
    refrigerant = load(name)
    assert refrigerant.name == name
    assert load(name.lower()) is refrigerant
    assert 0.040 < refrigerant.molar_mass < 0.125
    assert refrigerant.pressure_range[0] <= 20e3
    assert refrigerant.pressure_range[1] > 0.9 * refrigerant.critical_pressure
    for phase in ("liquid", "vapour"):
        for quantity in ("viscosity", "conductivity"):
            model = refrigerant.metadata["transport"][phase][quantity]
            assert 0.0 < model["relative_uncertainty"] < 0.2
    total = sum(refrigerant.composition.values())
    assert total == pytest.approx(1.0 if refrigerant.kind == "mixture" else 0.0)


def test_unknown_name_lists_the_nearest() -> None:
    with pytest.raises(JobError, match=r"R-152a") as caught:
        load("R-152b")
    assert caught.value.read == "R-152b"
    with pytest.raises(JobError, match=r"known: R-12, R-22"):
        load("water")


def test_state_by_each_property_is_the_same_state() -> None:
    r = load("R-134a")
    by_temperature = r.state(p=3e5, T=300.0)
    for again in (
        r.state(p=3e5, h=by_temperature.enthalpy),
        r.state(p=3e5, s=by_temperature.entropy),
    ):
        assert again.temperature == pytest.approx(300.0, rel=1e-9)
    assert by_temperature.phase == "vapour"
    assert by_temperature.density == pytest.approx(1.0 / by_temperature.volume)
    assert r.state(p=3e5, quality=0.3).quality == pytest.approx(0.3)
    assert r.state(p=3e5, quality=0.3).phase == "two-phase"
    assert r.state(p=3e5, T=250.0).phase == "liquid"


def test_superheat_and_subcooling_use_dew_and_bubble() -> None:
    r = load("R-407C")
    bubble, dew = r.saturation_temperature(1e6)
    assert dew - bubble > 4.0
    assert r.superheat(p=1e6, T=dew + 5.0) == pytest.approx(5.0)
    assert r.subcooling(p=1e6, T=bubble - 3.0) == pytest.approx(3.0)
    assert r.latent_heat(1e6) > 1e5
    assert 1e-3 < r.surface_tension(1e6) < 2e-2


def test_a_temperature_between_bubble_and_dew_fixes_no_state() -> None:
    r = load("R-454C")
    bubble, dew = r.saturation_temperature(5e5)
    with pytest.raises(NoSuchState, match="do not fix a state"):
        r.state(p=5e5, T=0.5 * (bubble + dew))


@pytest.mark.parametrize(
    ("question", "name"),
    [
        ({"p": 1e3, "h": 4e5}, "pressure"),
        ({"p": 4.0e6, "h": 4e5}, "pressure"),
        ({"p": float("nan"), "h": 4e5}, "pressure"),
        ({"p": 3e5, "h": 9e5}, "enthalpy"),
        ({"p": 3e5, "T": 500.0}, "temperature"),
        ({"p": 3e5, "T": 100.0}, "temperature"),
        ({"p": 3e5, "s": 9e3}, "enthalpy"),
        ({"p": 3e5, "quality": 1.2}, "quality"),
    ],
)
def test_outside_the_table_is_said(question: dict[str, float], name: str) -> None:
    with pytest.raises(OutOfRange, match="outside the table of R-134a") as caught:
        load("R-134a").state(**question)
    assert caught.value.name == name
    assert caught.value.low < caught.value.high


def test_saturation_outside_the_table_is_said() -> None:
    r = load("R-290")
    with pytest.raises(OutOfRange, match="bubble temperature"):
        r.saturation_pressure_bubble(400.0)
    with pytest.raises(OutOfRange, match="dew temperature"):
        r.saturation_pressure_dew(100.0)
    with pytest.raises(OutOfRange, match="pressure"):
        r.saturation_temperature(1.0)


def test_one_property_besides_pressure() -> None:
    with pytest.raises(TypeError, match="exactly one"):
        load("R-22").state(p=3e5)
    with pytest.raises(TypeError, match="exactly one"):
        load("R-22").state(p=3e5, T=300.0, h=4e5)


def test_arguments_that_are_no_numbers_do_no_harm() -> None:
    table = load("R-455A").table
    nan = float("nan")
    for p, h in ((nan, 3e5), (3e5, nan), (nan, nan), (float("inf"), float("-inf"))):
        assert len(kernels.full_state(table, p, h)) == 7
        assert len(kernels.state(table, p, h)) == 4
    assert kernels.bubble_pressure(table, nan) == pytest.approx(table.p_min)
    assert np.isfinite(kernels.enthalpy_vapour(table, 3e5, nan))
    assert np.isfinite(kernels.enthalpy_liquid(table, 3e5, nan))


def test_saturation_pressure_is_clamped_to_the_table() -> None:
    table = load("R-12").table
    assert kernels.bubble_pressure(table, 50.0) == table.p_min
    assert kernels.dew_pressure(table, 900.0) == table.p_max


def test_tables_survive_the_disk(tmp_path: Path) -> None:
    r = load("R-454B")
    path = tmp_path / "copy.npz"
    write_table(path, r.table, dict(r.metadata))
    table, metadata = read_table(path)
    assert metadata == dict(r.metadata)
    for ours, theirs in zip(table, r.table, strict=True):
        assert np.array_equal(ours, theirs)


def test_a_damaged_table_is_said(tmp_path: Path) -> None:
    path = tmp_path / "damaged.npz"
    path.write_bytes(b"not a table")
    with pytest.raises(StoreError, match=r"damaged\.npz"):
        read_table(path)
    with pytest.raises(StoreError, match=r"missing\.npz"):
        read_table(tmp_path / "missing.npz")
    r = load("R-12")
    other = tmp_path / "other.npz"
    write_table(other, r.table, dict(r.metadata) | {"format": 0})
    with pytest.raises(StoreError, match="another format"):
        read_table(other)


def test_the_property_library_is_not_imported() -> None:
    code = (
        "import sys\n"
        "from sweatline.refrigerant.refrigerant import load\n"
        "load('R-454C').state(p=3e5, T=300.0)\n"
        "assert 'CoolProp' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
