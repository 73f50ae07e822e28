"""What is read at a running machine, and what a solved machine says each instrument shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from sweatline.air.moist import relative_humidity, specific_volume
from sweatline.log.channels import CHANNELS
from sweatline.machine.balance import SteadyState
from sweatline.machine.circuit import MachineParameters
from sweatline.units import Kind

Shown = Callable[[SteadyState, MachineParameters, float], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Observable:
    """One reading: the field of the request, and what a steady state shows of it.

    Parameters
    ----------
    sd : float
        Standard error where nobody described the instrument. [SI, or a share]
    shown : callable
        Of a steady state, its machine and the atmospheric pressure. [SI]
    """

    field: str
    label: str
    kind: Kind
    sd: float
    relative: bool = False
    shown: Shown
    judged: bool = True
    """Told by itself; not what superheat or subcooling is worked out from."""


def _read(field: str, channel: str, state: str = "", **more: object) -> Observable:
    found = CHANNELS[channel]
    name = state or found.state
    told: dict[str, object] = {
        "label": found.heading,
        "kind": found.kind,
        "sd": found.sd,
        "relative": found.relative,
        "shown": lambda b, _m, _p: float(getattr(b, name)),
        **more,
    }
    return Observable(field=field, **told)  # type: ignore[arg-type]


def _airflow(_b: SteadyState, m: MachineParameters, p: float) -> float:
    air = m.air
    return float(air.flow * specific_volume(air.temperature, air.humidity, p))


def _out_humidity(b: SteadyState, _m: MachineParameters, p: float) -> float:
    return float(relative_humidity(b.air_out_temperature, b.air_out_humidity, p))


# Errors that the channels do not say: a hygrometer 3 %RH, an anemometer over a grille 10 %, marks
# on a bucket and what clings to the coil 3 % (common practice).
HUMIDITY_SD: Final = 0.03
OBSERVABLES: Final = (
    _read("suction", "suction gauge"),
    _read("head", "head gauge"),
    _read("suction_gas", "suction gas", judged=False,
          shown=lambda b, _m, _p: b.evaporating_temperature + b.superheat),
    _read("return_gas", "return gas"),
    _read("discharge_gas", "discharge gas"),
    _read("liquid_line", "liquid line", judged=False),
    _read("coil", "coil"),
    _read("air_between", "air between", "air_between_temperature"),
    _read("air_out", "air out", "air_out_temperature"),
    _read("air_out_humidity", "air out humidity", sd=HUMIDITY_SD, shown=_out_humidity),
    Observable(field="airflow", label="airflow", kind="volume flow", sd=0.1, relative=True,
               shown=_airflow),
    _read("watts", "watts"),
    Observable(field="water", label="water", kind="water removal", sd=0.03, relative=True,
               shown=lambda b, _m, _p: b.water),
)  # fmt: skip
