"""The compiler behind the numerical kernels, and where its results are kept.

A kernel is a plain function on floats and arrays, compiled at its first call and kept on disk so
that the next start of the command does not compile again. The kept files live in a folder that
can be written: the one named by the environment variable SWEATLINE_CACHE, else the user's cache
folder, else a private temporary folder. A package installed read-only therefore works, and so
does a missing home.

The folder's name carries a fingerprint of the kernel sources. The compiler checks only the file
in which a kernel stands, not the files of the kernels it calls, so without the fingerprint an
upgrade could leave an old callee inside a kept caller.
"""

from __future__ import annotations

import functools
import gc
import hashlib
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, TypeVar, cast

import numba
import numba.extending
from numba.core import config as numba_config
from numba.core.dispatcher import Dispatcher

F = TypeVar("F", bound=Callable[..., object])

_KERNEL_PACKAGES = ("refrigerant", "air", "flow", "parts", "machine")


def _fingerprint() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    digest.update(Path(__file__).read_bytes())  # the options of the compiler
    root = Path(__file__).parent
    for package in _KERNEL_PACKAGES:
        for source in sorted((root / package).glob("*.py")):
            text = source.read_bytes()
            if b"@kernel" in text or b"@inner_kernel" in text:
                digest.update(source.name.encode())
                digest.update(text)
    return digest.hexdigest()[:12]


def _candidates() -> list[Path]:
    named = os.environ.get("SWEATLINE_CACHE")
    if named:
        return [Path(named)]
    import platformdirs

    user = f"sweatline-kernels-{os.getuid() if hasattr(os, 'getuid') else 'user'}"
    return [
        Path(platformdirs.user_cache_dir("sweatline")) / "kernels",
        Path(tempfile.gettempdir()) / user,
    ]


@functools.cache
def cache_folder() -> Path:
    """Folder that holds the compiled kernels, created if need be.

    Raises
    ------
    StoreError
        None of the candidate folders can be written.
    """
    tried = []
    for base in _candidates():
        folder = base / _fingerprint()
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            tried.append(str(base))
            continue
        return folder
    from sweatline.errors import StoreError

    raise StoreError(
        what="no folder for the compiled kernels can be written; name one in SWEATLINE_CACHE",
        path=", ".join(tried),
    )


def kernel(function: F) -> F:
    """Mark a numerical kernel: compiled on first use, kept on disk, safe to call from threads."""
    # No entry points for C callers: nobody calls from C, and they are a third of the compile time.
    return _compile(function, {"no_cfunc_wrapper": True})


def inner_kernel(function: F) -> F:
    """Mark a kernel that only kernels call: without a way in from Python it compiles faster."""
    return _compile(function, {"no_cfunc_wrapper": True, "no_cpython_wrapper": True})


def inserted(function: F) -> F:
    """Mark a kernel that is written out in its caller and not compiled by itself.

    For large ones with one caller: what a kernel calls is otherwise compiled into it once more.
    """
    return _compile(function, {"inline": "always"})


def inlined(function: F) -> F:
    """The same kernel, to be copied into the loop that calls it: saves handing over a table.

    For loops that do little else; elsewhere it only swells the caller.
    """
    plain: F = getattr(function, "py_func", function)
    # Not kept by itself: on the disk it would pass for the kernel of the same name.
    return _compile(plain, {"forceinline": True, "no_cfunc_wrapper": True, "cache": False})


def _compile(function: F, options: dict[str, Any]) -> F:
    vars(numba_config)["CACHE_DIR"] = str(cache_folder())
    # Products may be fused with the sum they enter (one rounding less); nothing is reordered.
    usual: dict[str, Any] = {
        "cache": True,
        "nogil": True,
        "error_model": "numpy",
        "fastmath": {"contract"},
    }
    compiled: F = numba.njit(**(usual | options))(function)
    return compiled


def with_names(function: F, **names: Callable[..., Any]) -> F:
    """A copy of a function in whose text some names of its module mean something else."""
    one = FunctionType(
        function.__code__, function.__globals__ | names, function.__name__, function.__defaults__
    )
    # Compiled functions are kept under this name.
    rooms = dict.fromkeys(found.__module__.rpartition(".")[2] for found in names.values())
    one.__qualname__ = "_".join([function.__qualname__, *rooms])
    one.__doc__ = function.__doc__
    return cast(F, one)


def compile_for(function: Callable[..., Any], *arguments: Any) -> None:
    """Compile a kernel, if it is not kept, for arguments like these; it is not run."""
    if not vars(numba_config)["DISABLE_JIT"]:
        cast(Dispatcher, function).compile(tuple(map(numba.typeof, arguments)))


@contextmanager
def uncollected() -> Iterator[None]:
    """Let the collector rest: a compiler makes millions of objects, and hardly one to free."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def choose_by_types(function: Callable[..., Any], choice: Callable[..., Any]) -> None:
    """Let kernels call `function`, with a body that depends on the types of its arguments.

    `choice` is asked once for every combination of types when a caller is compiled, and gives a
    plain function with the same arguments; nothing is left to decide when the kernel runs. Neither
    may have annotations: the compiler compares signatures.
    """
    numba.extending.overload(function)(choice)


def _names(code: CodeType) -> Iterator[str]:
    yield from code.co_names
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _names(constant)


def called_by(kernels: Iterable[Callable[..., Any]]) -> frozenset[str]:
    """File names under which these kernels and all that they call are kept, without the ending.

    What a kernel calls is read from its code; what it chooses by types has to be named too.
    Empty where kernels are not compiled.
    """
    if vars(numba_config)["DISABLE_JIT"]:
        return frozenset()
    found: dict[str, bool] = {}  # whether it is kept by itself
    waiting: list[Any] = list(kernels)
    while waiting:
        one = waiting.pop()
        plain = one.py_func
        code = plain.__code__
        module = plain.__module__.rpartition(".")[2]
        name = f"{module}.{plain.__qualname__}-{code.co_firstlineno}"
        if name not in found:
            found[name] = one.targetoptions.get("inline", "never") == "never"
            callees = (plain.__globals__.get(called) for called in _names(code))
            waiting += [callee for callee in callees if isinstance(callee, Dispatcher)]
    return frozenset(name for name, alone in found.items() if alone)


def kept_share(names: frozenset[str]) -> float:
    """Share of the kernels of these names that are compiled and kept; 1 of none."""
    if not names:
        return 1.0
    files = {path.name.partition(".py")[0] for path in cache_folder().rglob("*.nbi")}
    return len(names & files) / len(names)
