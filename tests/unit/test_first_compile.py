"""How far the kernels are compiled: counted by those that the solver will really compile."""

from __future__ import annotations

from collections import Counter

from sweatline.compiled import cache_folder, called_by, kept_share
from sweatline.design.first_compile import compile_beside_the_coil, compile_solver, compiled_share
from sweatline.machine.steady import solver_kernels
from sweatline.refrigerant.table import saturation


def test_every_kernel_that_is_counted_is_compiled() -> None:
    compile_solver()
    assert compiled_share() == 1.0


def test_what_is_compiled_beside_the_coil_is_what_the_solver_calls() -> None:
    compile_solver()
    before = _kept()
    compile_beside_the_coil()
    assert _kept() == before


def _kept() -> dict[str, int]:
    """Compiled signatures of every kernel that is kept."""
    found = Counter(path.name.partition(".py")[0] for path in cache_folder().rglob("*.nbc"))
    return dict(found)


def test_a_kernel_is_counted_with_all_that_it_calls() -> None:
    names = {name.partition("-")[0] for name in called_by([saturation])}
    assert "table.saturation" in names
    assert "spline.line_value" in names
    assert called_by([saturation]) < solver_kernels()


def test_the_share_is_that_of_the_names_asked_for() -> None:
    assert kept_share(frozenset()) == 1.0
    assert kept_share(frozenset({"no.such-1"})) == 0.0
