"""Reading a job stays light: nothing numerical is loaded for it."""

import subprocess
import sys
from pathlib import Path

EXAMPLE = Path(__file__).parents[2] / "examples" / "seed-store.toml"

CODE = """
import sys
from sweatline.job.explanation import explain
from sweatline.job.reading import read_job
explain(read_job(sys.argv[1]))
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""


def test_reading_a_job_loads_no_numerical_library() -> None:
    done = subprocess.run(
        [sys.executable, "-c", CODE, str(EXAMPLE)], capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.split())
    assert "tomllib" in loaded
    heavy = {"numpy", "scipy", "numba", "pint", "CoolProp", "matplotlib", "difflib", "pydantic"}
    assert not loaded & heavy
