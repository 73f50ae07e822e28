"""sweatline: will these refrigeration parts work together, and how to charge the result.

The door for scripts::

    import sweatline as sl

    job = sl.read_job("examples/seed-store.toml")
    best = job.match()[0]
    print(best.balance(room_temperature="10 degC"))

Numbers are SI floats or strings with their unit. Nothing heavy is imported before it is used.
"""

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from sweatline.api.bench import evacuation as evacuation
    from sweatline.api.bench import hose as hose
    from sweatline.api.bench import prove as prove
    from sweatline.api.bench import start_gear as start_gear
    from sweatline.api.bench import tightness as tightness
    from sweatline.api.charging import Charging as Charging
    from sweatline.api.charging import LogBook as LogBook
    from sweatline.api.charging import Practice as Practice
    from sweatline.api.charging import open_log as open_log
    from sweatline.api.fluids import capillary as capillary
    from sweatline.api.fluids import saturation as saturation
    from sweatline.api.job import Combination as Combination
    from sweatline.api.job import Job as Job
    from sweatline.api.job import Ranking as Ranking
    from sweatline.api.job import practice as practice
    from sweatline.api.job import read_job as read_job
    from sweatline.api.machine import AirStream as AirStream
    from sweatline.api.machine import AutomaticValve as AutomaticValve
    from sweatline.api.machine import CapillaryTube as CapillaryTube
    from sweatline.api.machine import Coil as Coil
    from sweatline.api.machine import Compressor as Compressor
    from sweatline.api.machine import Machine as Machine
    from sweatline.api.machine import Piping as Piping
    from sweatline.api.machine import ThermostaticValve as ThermostaticValve
    from sweatline.report.figures import plot as plot

# Where each public name stands; read when the name is first used.
_HOMES = {
    "AirStream": "api.machine",
    "AutomaticValve": "api.machine",
    "CapillaryTube": "api.machine",
    "Charging": "api.charging",
    "Coil": "api.machine",
    "Combination": "api.job",
    "Compressor": "api.machine",
    "Job": "api.job",
    "LogBook": "api.charging",
    "Machine": "api.machine",
    "Piping": "api.machine",
    "Practice": "api.charging",
    "Ranking": "api.job",
    "ThermostaticValve": "api.machine",
    "capillary": "api.fluids",
    "evacuation": "api.bench",
    "hose": "api.bench",
    "open_log": "api.charging",
    "plot": "report.figures",
    "practice": "api.job",
    "prove": "api.bench",
    "read_job": "api.job",
    "saturation": "api.fluids",
    "start_gear": "api.bench",
    "tightness": "api.bench",
}

__all__ = [
    "__version__",
    *_HOMES,
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'sweatline' has no attribute {name!r}")
    return getattr(importlib.import_module(f"sweatline.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
