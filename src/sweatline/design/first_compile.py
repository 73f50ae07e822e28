"""The solver's kernels compiled before anybody asks: a machine of usual parts, solved once."""

from __future__ import annotations

import subprocess
import sys
from typing import Final

from sweatline.air.saturation_line import saturation_line
from sweatline.assembly.assemble import assemble
from sweatline.compiled import compile_for, kept_share, uncollected
from sweatline.constants import STANDARD_ATMOSPHERE
from sweatline.design.match import evaluate
from sweatline.job.model import Job
from sweatline.job.reading import read_job_text
from sweatline.machine.circuit import exchanged_heat
from sweatline.machine.newton import AHEAD
from sweatline.machine.steady import SteadyMachine, filled, solver_kernels
from sweatline.parts.cell import FILMS
from sweatline.parts.coil import AirInlet, RefrigerantInlet, coil_memory, coil_parameters
from sweatline.parts.coil_march import march
from sweatline.parts.compressor import compress, leaving
from sweatline.parts.expansion import Ends, law_of
from sweatline.parts.shell import accumulator_charge, shell_charge, tube_charge
from sweatline.refrigerant.refrigerant import load
from sweatline.refrigerant.table import full_state, saturation

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


_ENDS: Final = Ends(1e6, 2.5e5, 3e5, 3e5, 4e5)
_REFRIGERANT: Final = "R-134a"


def compile_solver() -> None:
    """Compile what is not kept yet, in two processes at once; else only load it, in a second."""
    if compiled_share() == 1.0:
        _solve_once()
        return
    nothing = subprocess.DEVNULL
    other = subprocess.Popen(
        [sys.executable, "-c", f"import {__name__} as work; work.compile_beside_the_coil()"],
        stdin=nothing,
        stdout=nothing,
        stderr=nothing,
    )
    try:
        with uncollected():
            # First what needs no refrigerant's table: that is the other half's.
            for kernel, *arguments in FILMS:
                compile_for(kernel, *arguments)
            # Not from the job: its compressor's numbers are found with the other half's kernels.
            coil = coil_parameters(
                tube_outer_diameter=0.0095,
                tube_wall=0.0005,
                rows=2,
                tubes_per_row=10,
                transverse_pitch=0.025,
                longitudinal_pitch=0.022,
                finned_length=0.25,
                fin_pitch=0.0018,
                fin_thickness=0.00015,
                circuits=1,
                counter=True,
            )
            line, memory = saturation_line(STANDARD_ATMOSPHERE), coil_memory(coil)
            air = AirInlet(300.0, 0.01, 0.1)
            inlet = RefrigerantInlet(0.002, 3e5, 2.5e5)
            table = load(_REFRIGERANT).table
            compile_for(march, table, line, coil, inlet, air, True, memory)
            for step, *given in AHEAD:
                compile_for(step, *given)
            compile_for(tube_charge, table, 1e6, 2.5e5, 0.002, 0.006, 1.0)
            compile_for(accumulator_charge, table, 3e5, 3.9e5, 0.002, 1e-4)
            compile_for(exchanged_heat, table, 1.0, 0.002, 3e5, 4e5, 1e6, 2.5e5)
            other.wait()
            _solve_once()
    finally:
        other.terminate()


def compile_beside_the_coil() -> None:
    """The half of the work that does not wait for the coil; what fails here is left undone."""
    with uncollected():
        table = load(_REFRIGERANT).table
        # Both halves look up properties. The other begins with air.
        compile_for(saturation, table, 3e5)
        compile_for(full_state, table, 3e5, 2.5e5)
        system = _system(_job())
        machine = system.machine
        compile_for(law_of(type(machine.expansion)), table, machine.expansion, _ENDS, 0.002)
        compile_for(compress, table, machine.compressor, 3e5, 4e5, 1e6)
        pumped = (0.002, 200.0, 4.5e5, 4.4e5)
        compile_for(leaving, table, machine.compressor, pumped, 3e5, 4e5, 1e6, 3.0, 300.0)
        compile_for(shell_charge, table, machine.shell, 3e5, 4e5, 300.0)


def _job() -> Job:
    return read_job_text(_JOB, "usual parts")


def _system(job: Job) -> SteadyMachine:
    refrigerant = load(_REFRIGERANT)
    machine, line = assemble(job, job.compressors[0], refrigerant, job.capillaries[0], length=2.0)
    return SteadyMachine.of(refrigerant.table, line, machine, filled())


def _solve_once() -> None:
    evaluate(_job(), compressor=0, refrigerant=_REFRIGERANT, capillary=0, draws=0)


def compiled_share() -> float:
    """Share of the solver's kernels that are compiled and kept, 0 to 1."""
    return kept_share(solver_kernels())
