"""The solver's kernels compiled before anybody asks: a machine of usual parts, solved once."""

from __future__ import annotations

from typing import Final

from sweatline.compiled import kept_share
from sweatline.design.match import evaluate
from sweatline.job.reading import read_job_text
from sweatline.machine.steady import solver_kernels

_COIL: Final = """
tube_outer_diameter = "9.5 mm"
rows = 2
tubes_per_row = 10
transverse_pitch = "25 mm"
longitudinal_pitch = "22 mm"
finned_length = "250 mm"
fin_pitch = "1.8 mm"
"""
_JOB: Final = f"""
kind = "dehumidifier"
units = "SI"
refrigerants = ["R-134a"]
[room]
temperature = "20 °C"
humidity = "65 %RH"
[supply]
voltage = "230 V"
frequency = "50 Hz"
[evaporator]{_COIL}
[condenser]{_COIL}
[[compressor]]
name = "usual"
kind = "reciprocating"
displacement = "7 cm3"
[[capillary]]
name = "usual"
bore = "1.2 mm"
"""


def compile_solver() -> None:
    """Compile what is not kept yet, which takes a minute or two; otherwise a second."""
    job = read_job_text(_JOB, "usual parts")
    evaluate(job, compressor=0, refrigerant="R-134a", capillary=0, draws=0)


def compiled_share() -> float:
    """Share of the solver's kernels that are compiled and kept, 0 to 1."""
    return kept_share(solver_kernels())
