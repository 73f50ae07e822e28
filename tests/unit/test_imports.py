"""What an import may do: nothing but import, and with few packages.

Each check runs in a fresh interpreter, since this one has everything loaded already. The direction
of imports between the project's own packages is checked by the import contract.
"""

import ast
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import sweatline

ROOT = Path(sweatline.__file__).parent

CORE = ("refrigerant", "air", "flow", "parts", "machine", "uncertainty", "safety")
REFERENCE = ("CoolProp", "fluids", "ht", "psychrolib", "pint", "hypothesis", "pytest")


def modules(*packages: str) -> list[str]:
    """Names of all modules in these packages of sweatline, or of the whole of it."""
    places = [ROOT / package for package in packages] or [ROOT]
    found = {path for place in places for path in place.rglob("*.py")}
    names = []
    for path in sorted(found):
        parts = ("sweatline", *path.relative_to(ROOT).with_suffix("").parts)
        if parts[-1] == "__main__":
            continue
        names.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return names


def run(program: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a program in an empty folder that is home, working folder and kernel folder at once."""
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith("PYTEST")
    } | {
        "HOME": str(folder),
        "XDG_CACHE_HOME": str(folder / "cache"),
        "SWEATLINE_CACHE": str(folder / "kernels"),
        "TMPDIR": str(folder),
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def succeeded(done: subprocess.CompletedProcess[str]) -> None:
    assert done.returncode == 0, done.stderr[-2000:]


BLOCK_OTHERS = """
import sys

ALLOWED = {allowed!r}

class Blocked:
    def find_spec(self, name, path=None, target=None):
        top = name.partition(".")[0]
        if top in ALLOWED or top in sys.stdlib_module_names:
            return None
        raise ModuleNotFoundError(f"{{name}} is blocked here", name=name)

sys.meta_path.insert(0, Blocked())
import importlib
for name in {names!r}:
    importlib.import_module(name)
"""


def test_core_imports_with_every_other_package_blocked(tmp_path: Path) -> None:
    allowed = ["sweatline", "numpy", "scipy", "numba", "llvmlite"]
    done = run(BLOCK_OTHERS.format(allowed=allowed, names=modules(*CORE)), tmp_path)
    succeeded(done)


def test_the_block_blocks(tmp_path: Path) -> None:
    done = run(BLOCK_OTHERS.format(allowed=["sweatline"], names=["numpy"]), tmp_path)
    assert done.returncode != 0
    assert "numpy is blocked here" in done.stderr


NO_EFFECTS = """
import importlib, os, sys, warnings
names = {names!r}
before = (dict(os.environ), os.getcwd(), list(warnings.filters), sys.excepthook)
import numba, numpy
errors = numpy.geterr()
filters = list(warnings.filters)
loaded = [importlib.import_module(name) for name in names]
assert dict(os.environ) == before[0], "the environment was changed"
assert os.getcwd() == before[1], "the working folder was changed"
assert sys.excepthook is before[3], "the exception hook was changed"
assert numpy.geterr() == errors, "NumPy's error handling was changed"
from numba.core.dispatcher import Dispatcher
kernels = {{
    f"{{module.__name__}}.{{key}}": value
    for module in loaded for key, value in vars(module).items() if isinstance(value, Dispatcher)
}}
compiled = [name for name, kernel in kernels.items() if kernel.signatures]
assert not compiled, f"compiled at import: {{compiled}}"
assert kernels, "no kernels found: has the compiler changed?"
# numba looks into the bare scipy package; its numerical subpackages are what costs time
heavy = {{"matplotlib", "pydantic", "rich", "click"}} & set(sys.modules)
numerical = ("integrate", "interpolate", "linalg", "optimize", "sparse", "special", "stats")
heavy |= {{"scipy." + part for part in numerical}} & set(sys.modules)
assert not heavy, f"imported too early: {{heavy}}"
"""


def test_importing_the_core_has_no_effects(tmp_path: Path) -> None:
    done = run(NO_EFFECTS.format(names=modules(*CORE)), tmp_path)
    succeeded(done)
    assert done.stdout == ""
    assert done.stderr == ""
    # the folder of the compiled kernels may be made ready, but nothing may lie in it
    written = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert written == []


WITHOUT_REFERENCE = """
import sys
for name in {blocked!r}:
    sys.modules[name] = None
import importlib
for name in {names!r}:
    importlib.import_module(name)
"""


def test_nothing_at_run_time_needs_the_reference_library(tmp_path: Path) -> None:
    done = run(WITHOUT_REFERENCE.format(blocked=REFERENCE, names=modules()), tmp_path)
    succeeded(done)


@pytest.mark.parametrize("package", CORE)
def test_a_core_package_alone_can_be_imported(package: str, tmp_path: Path) -> None:
    done = run(f"import sweatline.{package}", tmp_path)
    succeeded(done)


def test_exported_names_exist_and_are_named_once(tmp_path: Path) -> None:
    program = """
import importlib
for name in {names!r}:
    module = importlib.import_module(name)
    exported = getattr(module, "__all__", None)
    if exported is not None:
        missing = [n for n in exported if not hasattr(module, n)]
        assert not missing, (name, missing)
        assert len(set(exported)) == len(exported), name
"""
    succeeded(run(program.format(names=modules()), tmp_path))


PHYSICS = ("machine", "parts", "flow", "air", "refrigerant")
# Names of things, not calculations: what an answer or a request is made of, and a name looked up.
NAMES = {"Container", "SteadyState", "find"}


def imported(tree: ast.AST) -> Iterator[tuple[str, str]]:
    """Modules and names imported at run time, those for types alone left out."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ((node.module, alias.name) for alias in node.names)
        yield from imported(node)


@pytest.mark.parametrize("path", sorted((ROOT / "cli").glob("*.py")), ids=lambda p: p.stem)
def test_a_command_calculates_nothing(path: Path) -> None:
    rooms = tuple(f"sweatline.{room}" for room in PHYSICS)
    for module, name in imported(ast.parse(path.read_text(encoding="utf-8"))):
        assert not module.startswith(rooms) or name in NAMES, (module, name)


@pytest.mark.parametrize("room", ["design", "bench", "log", "charging", "training", "assembly"])
def test_rooms_below_the_commands_know_none_of_their_options(room: str) -> None:
    options = re.compile(r"--(?!json)[a-z]")
    for path in sorted((ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not options.search(node.value), (path.name, node.value[:60])


def imports_of(path: Path, names: set[str]) -> set[str]:
    """Modules of sweatline that a module imports anywhere in it, for typing too."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sweatline"):
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found.add(whole if whole in names else str(node.module))
    return found & names


def test_no_module_imports_itself_round_a_circle() -> None:
    names = set(modules())
    graph = {}
    for name in names:
        place = ROOT.joinpath(*name.split(".")[1:])
        path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
        graph[name] = imports_of(path, names) - {name, "sweatline"}
    assert len(graph) > 100
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(f"a circle of imports: {' -> '.join(error.args[1])}")
