"""Write the three lock files from pyproject.toml: run, build and dev.

Each pins every package to one release with the hashes of all its files, so that the same lock
serves any Python and platform the project supports. Later locks keep to the versions of the
earlier ones. ``--upgrade`` moves to the newest releases; without it, pins stay where they are.
"""

import argparse
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
RUN, BUILD, DEV = "requirements.lock", "requirements-build.lock", "requirements-dev.lock"
HEAD = "# Made by `make lock` from pyproject.toml; do not edit.\n"


def compile_lock(wanted: list[str], target: str, kept: list[str], upgrade: bool) -> None:
    """Resolve `wanted`, agreeing with the locks `kept`, into the lock `target`."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "wanted.in"
        source.write_text("\n".join(wanted) + "\n", encoding="utf-8")
        out = Path(folder) / target
        present = ROOT / target
        if present.exists() and not upgrade:
            out.write_text(present.read_text(encoding="utf-8"), encoding="utf-8")
        command = [sys.executable, "-m", "piptools", "compile", "--quiet", "--generate-hashes"]
        command += ["--no-header", "--no-annotate", "--no-emit-index-url", "--strip-extras"]
        command += ["--no-emit-trusted-host", "--no-emit-find-links", "--no-emit-options"]
        command += ["--allow-unsafe", "--output-file", str(out)]
        for lock in kept:
            command += ["--constraint", str(ROOT / lock)]
        subprocess.run([*command, str(source)], check=True)
        present.write_text(HEAD + out.read_text(encoding="utf-8"), encoding="utf-8")


def main() -> int:
    """Make the locks."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--upgrade", action="store_true", help="move to the newest releases")
    upgrade = parser.parse_args().upgrade
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    run = project["project"]["dependencies"] + project["project"]["optional-dependencies"]["page"]
    # an editable install needs one package more than the build backend declares
    build = [*project["build-system"]["requires"], "editables>=0.5"]
    dev = project["dependency-groups"]["dev"]
    compile_lock(run, RUN, [], upgrade)
    compile_lock(build, BUILD, [RUN], upgrade)
    compile_lock(run + build + dev, DEV, [RUN, BUILD], upgrade)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
