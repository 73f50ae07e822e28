"""The wheel holds what the package needs and no more, and the locks fit the declared needs."""

import re
import subprocess
import sys
import tomllib
import zipfile
from email import message_from_string
from email.message import Message
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

import sweatline

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
RUN, BUILD, DEV = "requirements.lock", "requirements-build.lock", "requirements-dev.lock"
IGNORED = re.compile(r"(^|/)(__pycache__|\.[^/]*)/")  # left by tools, and in .gitignore
PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder)]
    done = subprocess.run(
        [*command, str(ROOT)], capture_output=True, text=True, check=False, cwd=folder
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    (path,) = folder.glob("*.whl")
    return zipfile.ZipFile(path)


@pytest.fixture(scope="module")
def metadata(wheel: zipfile.ZipFile) -> Message:
    (name,) = [n for n in wheel.namelist() if n.endswith(".dist-info/METADATA")]
    return message_from_string(wheel.read(name).decode())


def test_wheel_holds_the_whole_package_and_nothing_else(wheel: zipfile.ZipFile) -> None:
    source = ROOT / "src"
    ours = {
        path.relative_to(source).as_posix()
        for path in (source / "sweatline").rglob("*")
        if path.is_file() and not IGNORED.search(path.relative_to(source).as_posix())
    }
    packed = {n for n in wheel.namelist() if ".dist-info/" not in n}
    assert packed == ours
    assert "sweatline/py.typed" in packed
    assert "sweatline/refrigerant/safety.toml" in packed


def test_wheel_is_for_any_platform(wheel: zipfile.ZipFile) -> None:
    assert wheel.filename is not None
    assert wheel.filename.endswith("-py3-none-any.whl")


def test_metadata(wheel: zipfile.ZipFile, metadata: Message) -> None:
    assert metadata["Version"] == sweatline.__version__ == PROJECT["project"]["version"]
    assert metadata["License-Expression"] == "Apache-2.0"
    assert metadata["Requires-Python"] == PROJECT["project"]["requires-python"]
    required = {
        str(Requirement(line))
        for line in metadata.get_all("Requires-Dist", [])
        if "extra ==" not in line
    }
    assert required == {str(Requirement(line)) for line in PROJECT["project"]["dependencies"]}
    scripts = next(n for n in wheel.namelist() if n.endswith("entry_points.txt"))
    assert "sweatline = sweatline.cli.main:main" in wheel.read(scripts).decode()
    assert any(n.endswith("licenses/LICENSE") for n in wheel.namelist())


def pins(name: str) -> dict[str, Version]:
    found = {}
    for line in (ROOT / name).read_text(encoding="utf-8").splitlines():
        match = PIN.match(line)
        if match:
            found[canonicalize_name(match[1])] = Version(match[2])
    return found


def declared() -> list[tuple[str, Requirement]]:
    rows = [(RUN, line) for line in PROJECT["project"]["dependencies"]]
    rows += [(BUILD, line) for line in PROJECT["build-system"]["requires"]]
    rows += [(DEV, line) for line in PROJECT["dependency-groups"]["dev"]]
    return [(lock, Requirement(line)) for lock, line in rows]


@pytest.mark.parametrize(("lock", "need"), declared(), ids=str)
def test_lock_meets_what_is_declared(lock: str, need: Requirement) -> None:
    version = pins(lock).get(canonicalize_name(need.name))
    assert version is not None, f"{need.name} is missing from {lock}: run make lock"
    assert need.specifier.contains(version), f"{need} against {version}: run make lock"


@pytest.mark.parametrize("lock", [RUN, BUILD, DEV])
def test_lock_is_exact_hashed_and_names_no_place(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    for line in lines:
        assert PIN.match(line) or line.lstrip().startswith("--hash=sha256:"), line
    for block in re.split(r"\n(?=\S)", "\n".join(lines)):
        assert "--hash=sha256:" in block, block
    assert "://" not in text
    assert not re.search(r"^-[a-z]|--(?:index|extra|find|trusted)", text, re.MULTILINE)


def test_locks_agree() -> None:
    dev = pins(DEV)
    for lock in (RUN, BUILD):
        for name, version in pins(lock).items():
            assert dev.get(name) == version, name


def test_run_time_lock_is_free_of_tools() -> None:
    tools = {canonicalize_name(Requirement(r).name) for r in PROJECT["dependency-groups"]["dev"]}
    assert not tools & set(pins(RUN))
