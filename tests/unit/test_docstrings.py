"""Docstrings are data: they name the arguments there are, and give each its unit.

Looked at are the functions whose names are public. A docstring may leave out the arguments
altogether when its one line says it all, and parts, tables and options whose type says what they
are; a section that is there names every number, and nothing that is not an argument. A module of
correlations may say once, in its own docstring, what its symbols mean.
"""

import importlib
import inspect
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import sweatline

ROOT = Path(sweatline.__file__).parent
PHYSICS = ("refrigerant", "air", "flow", "parts", "machine", "bench", "safety")
SECTION = re.compile(
    r"\n {4}Parameters\n {4}-{10}\n(.*?)(?=\n {4}[A-Z][a-z]+\n {4}-{3,}\n|\Z)", re.S
)
ENTRY = re.compile(r"^ {4}(\w[\w, *]*?) : (.*)$", re.M)
SYMBOLS = re.compile(r"^Symbols .*::\n\n((?: {4}\w+  .*\n)+)", re.M)
SYMBOL = re.compile(r"^ {4}(\w+) {2,}(.*)$", re.M)
NUMERIC = re.compile(r"^float\b|\) array")


def exported() -> Iterator[tuple[str, Callable[..., Any]]]:
    for package in PHYSICS:
        for path in sorted((ROOT / package).glob("*.py")):
            parts = ("sweatline", package) + (() if path.stem == "__init__" else (path.stem,))
            module = importlib.import_module(".".join(parts))
            for name, thing in vars(module).items():
                if name.startswith("_"):
                    continue
                function = getattr(thing, "py_func", thing)
                if inspect.isfunction(function) and function.__module__ == module.__name__:
                    yield f"{module.__name__}.{name}", function


FUNCTIONS = dict(exported())


def entries(function: Callable[..., Any]) -> dict[str, tuple[str, str]] | None:
    """Arguments in the docstring with type and text, or None when it has no such section."""
    match = SECTION.search(function.__doc__ or "")
    if match is None:
        return None
    body = match[1]
    heads = list(ENTRY.finditer(body))
    found = {}
    for head, following in zip(heads, [*heads[1:], None], strict=True):
        text = body[head.end() : following.start() if following else len(body)]
        for name in head[1].split(","):
            found[name.strip()] = (head[2], text)
    return found


def symbols(module: str) -> dict[str, str]:
    """What a module says of the symbols that its functions share."""
    match = SYMBOLS.search(importlib.import_module(module).__doc__ or "")
    return dict(SYMBOL.findall(match[1])) if match else {}


SHARED = {module: symbols(module) for module in {f.__module__ for f in FUNCTIONS.values()}}


def test_there_are_functions_to_look_at() -> None:
    assert len(FUNCTIONS) > 50
    assert sum(map(bool, SHARED.values())) >= 5


@pytest.mark.parametrize("module", sorted(m for m, shared in SHARED.items() if shared))
def test_symbols_of_a_module_have_a_unit_and_are_used(module: str) -> None:
    functions = [f for f in FUNCTIONS.values() if f.__module__ == module]
    used = [p for f in functions for p in inspect.signature(f).parameters]
    for symbol, meaning in SHARED[module].items():
        assert re.search(r"\[[^\]]+\]$", meaning), f"{symbol}: {meaning}"
        assert symbol in used, f"{symbol} is not used"


@pytest.mark.parametrize("name", [n for n, f in FUNCTIONS.items() if SHARED[f.__module__]])
def test_every_number_is_a_symbol_or_documented(name: str) -> None:
    function = FUNCTIONS[name]
    known = {*SHARED[function.__module__], *(entries(function) or {})}
    parameters = inspect.signature(function).parameters
    assert not {p for p, v in parameters.items() if v.annotation in (float, "float")} - known


@pytest.mark.parametrize("name", FUNCTIONS)
def test_exported_function_is_documented(name: str) -> None:
    assert (FUNCTIONS[name].__doc__ or "").strip()


@pytest.mark.parametrize("name", [n for n, f in FUNCTIONS.items() if entries(f) is not None])
def test_docstring_names_the_arguments_there_are(name: str) -> None:
    documented = list(entries(FUNCTIONS[name]) or {})
    parameters = inspect.signature(FUNCTIONS[name]).parameters
    assert set(documented) <= set(parameters)
    numbers = [p for p, v in parameters.items() if v.annotation in (float, "float")]
    assert not set(numbers) - set(documented) - set(SHARED[FUNCTIONS[name].__module__])


@pytest.mark.parametrize("name", [n for n, f in FUNCTIONS.items() if entries(f) is not None])
def test_numbers_have_a_unit(name: str) -> None:
    for argument, (kind, text) in (entries(FUNCTIONS[name]) or {}).items():
        if NUMERIC.search(kind):
            assert re.search(r"\[[^\]]+\]", text), f"{argument}: {text.strip()}"
