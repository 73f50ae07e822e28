"""A machine built in a script, without a job file: any expansion device, one air stream or two."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Literal

from sweatline.air.moist import humidity_ratio, specific_volume, standard_pressure
from sweatline.air.saturation_line import saturation_line
from sweatline.answers import Q
from sweatline.api.quantity import Written, in_si, maybe_si, si
from sweatline.errors import JobError
from sweatline.machine.balance import (
    SteadyState,
    Target,
    design,
    filled,
    fixed_charge,
    solve,
    subcooled,
)
from sweatline.machine.charge_curve import sweep_charge
from sweatline.machine.circuit import (
    AFTER,
    BEFORE,
    BETWEEN,
    CELLS,
    OUTSIDE,
    SEPARATE,
    SERIES,
    AirParameters,
    MachineParameters,
)
from sweatline.parts.capillary import CapillaryParameters
from sweatline.parts.coil import CoilParameters, coil_parameters
from sweatline.parts.compressor import CompressorParameters, generic
from sweatline.parts.expansion import ExpansionParameters
from sweatline.parts.shell import LineParameters, ShellParameters, solubility
from sweatline.parts.valves import automatic_valve, thermostatic_valve
from sweatline.refrigerant.refrigerant import Refrigerant, load

__all__ = [
    "AirStream",
    "AutomaticValve",
    "CapillaryTube",
    "Coil",
    "Compressor",
    "Machine",
    "Piping",
    "ThermostaticValve",
]

FanPosition = Literal["before", "between", "after", "outside"]
_POSITIONS = {"before": BEFORE, "between": BETWEEN, "after": AFTER, "outside": OUTSIDE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A finned-tube coil as calliper and tape give it; sizes as SI floats or with their unit.

    Parameters
    ----------
    tube_outer_diameter, tube_wall : float or str
        Of the bare tube. [m]
    rows, tubes_per_row, circuits : int
        Tubes deep in the direction of the air, tubes high, parallel circuits.
    transverse_pitch, longitudinal_pitch : float or str
        Between tubes of one row, and between rows. [m]
    finned_length : float or str
        Of one tube. [m]
    fin_pitch, fin_thickness : float or str
        ``"14 fpi"`` is a pitch too. [m]
    counter : bool
        The refrigerant enters on the side where the air leaves.
    """

    tube_outer_diameter: Annotated[Written, Q("length")]
    tube_wall: Annotated[Written, Q("length")] = "0.35 mm"
    rows: int
    tubes_per_row: int
    transverse_pitch: Annotated[Written, Q("length")]
    longitudinal_pitch: Annotated[Written, Q("length")]
    finned_length: Annotated[Written, Q("length")]
    fin_pitch: Annotated[Written, Q("fin pitch")]
    fin_thickness: Annotated[Written, Q("length")] = "0.12 mm"
    circuits: int = 1
    counter: bool = True

    def parameters(self, cells: int) -> CoilParameters:
        """As the solver takes it, with `cells` cells a row."""
        return coil_parameters(**in_si(self), cells=cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compressor:
    """A hermetic compressor of a kind, by its displacement.

    Parameters
    ----------
    kind : str
        ``reciprocating`` or ``rotary``.
    displacement : float or str
        Per revolution. [m3]
    frequency : float or str
        Of the mains. [Hz]
    fixed_loss : float or str, optional
        Input that does not go with the load; by default the share that is usual for the kind.
        [W]
    oil : str
        ``MO``, ``AB``, ``POE``, ``PAG`` or ``PVE``.
    shell_volume, oil_volume : float or str
        Free gas in the shell, and oil. [m3]
    """

    kind: Literal["reciprocating", "rotary"]
    displacement: Annotated[Written, Q("volume")]
    frequency: Annotated[Written, Q("frequency")] = 50.0
    fixed_loss: Annotated[Written, Q("power")] = 40.0
    oil: str = "POE"
    shell_volume: Annotated[Written, Q("volume")] = "1.5 L"
    oil_volume: Annotated[Written, Q("volume")] = "250 cc"

    def parameters(self) -> CompressorParameters:
        """As the solver takes it."""
        made = in_si(self)
        sizes = {name: made[name] for name in ("displacement", "frequency", "fixed_loss")}
        return generic(self.kind, **sizes)


@dataclass(frozen=True, slots=True, kw_only=True)
class CapillaryTube:
    """A capillary: bore, length and roughness. [m]"""

    bore: Annotated[Written, Q("bore")]
    length: Annotated[Written, Q("length")]
    roughness: Annotated[Written, Q("roughness")] = "0.75 um"


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermostaticValve:
    """A valve that holds superheat.

    Parameters
    ----------
    port_area : float or str
        Fully open. [m2]
    static_superheat, opening_superheat : float or str
        At which it just opens, and beyond that for the full opening. [K]
    """

    port_area: Annotated[Written, Q("area")]
    static_superheat: Annotated[Written, Q("temperature difference")] = 4.0
    opening_superheat: Annotated[Written, Q("temperature difference")] = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AutomaticValve:
    """A valve that holds a pressure.

    Parameters
    ----------
    port_area : float or str
        Fully open. [m2]
    setting : float or str
        Pressure behind it at which it shuts; absolute in SI, as a string gauge or absolute. [Pa]
    """

    port_area: Annotated[Written, Q("area")]
    setting: Annotated[Written, Q("pressure")]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirStream:
    """Air through a coil, and its fan.

    Parameters
    ----------
    temperature : float or str
        [K]
    relative_humidity : float or str
        0 to 1.
    flow : float or str
        Volume flow at the inlet. [m3/s]
    fan_power : float or str
        [W]
    fan_position : str
        ``before``, ``between`` or ``after`` the coils; ``outside`` warms no air.
    """

    temperature: Annotated[Written, Q("temperature")]
    relative_humidity: Annotated[Written, Q("relative humidity")]
    flow: Annotated[Written, Q("volume flow")]
    fan_power: Annotated[Written, Q("power")] = 0.0
    fan_position: FanPosition = "after"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piping:
    """Tubing between the parts and the drier. [m], [m3], [W/K]

    `exchanger_conductance` is that of a capillary soldered to the suction line.
    """

    suction_bore: Annotated[Written, Q("bore")] = "8 mm"
    suction_length: Annotated[Written, Q("length")] = 0.6
    discharge_bore: Annotated[Written, Q("bore")] = "5 mm"
    discharge_length: Annotated[Written, Q("length")] = 0.5
    liquid_bore: Annotated[Written, Q("bore")] = "5 mm"
    liquid_length: Annotated[Written, Q("length")] = 0.4
    drier_volume: Annotated[Written, Q("volume")] = "15 cc"
    accumulator_volume: Annotated[Written, Q("volume")] = 0.0
    exchanger_conductance: float = 0.0

    def parameters(self) -> LineParameters:
        """As the solver takes it."""
        return LineParameters(**in_si(self))


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A sealed circuit in its air.

    With `condenser_air` left out the condenser breathes what the evaporator leaves, as in a
    dehumidifier; with it each coil has its own stream, as in a window unit.

    Parameters
    ----------
    refrigerant : str
        Name such as ``R-134a``.
    expansion : CapillaryTube, ThermostaticValve or AutomaticValve
    altitude : float or str
        Sets the zero of gauges and the density of the air. [m]
    cells : int
        Cells of a coil per row; eight leave 0.04 K in the evaporating temperature.
    """

    refrigerant: str
    compressor: Compressor
    evaporator: Coil
    condenser: Coil
    expansion: CapillaryTube | ThermostaticValve | AutomaticValve
    air: AirStream
    condenser_air: AirStream | None = None
    piping: Piping = Piping()
    altitude: Written = 0.0
    cells: int = CELLS

    @property
    def atmosphere(self) -> float:
        """Zero of the gauges. [Pa]"""
        return standard_pressure(si(self.altitude, "altitude", "altitude"))

    def parameters(self) -> MachineParameters:
        """As the solver takes it."""
        fluid = load(self.refrigerant)
        oil = solubility(fluid.table, fluid.name, self.compressor.oil)
        pump = in_si(self.compressor)
        return MachineParameters(
            compressor=self.compressor.parameters(),
            evaporator=self.evaporator.parameters(self.cells),
            condenser=self.condenser.parameters(self.cells),
            expansion=self._expansion(fluid),
            lines=self.piping.parameters(),
            shell=ShellParameters(
                gas_volume=pump["shell_volume"],
                oil_volume=pump["oil_volume"],
                size_ratio=oil.size_ratio,
                interaction=oil.interaction,
                interaction_slope=oil.interaction_slope,
            ),
            air=self._air(),
        )

    def _expansion(self, fluid: Refrigerant) -> ExpansionParameters:
        part = in_si(self.expansion, atmosphere=self.atmosphere)
        if isinstance(self.expansion, CapillaryTube):
            return CapillaryParameters(**part, flow_multiplier=1.0, metastable=0.0)
        area = part.pop("port_area")
        if isinstance(self.expansion, AutomaticValve):
            return automatic_valve(area=area, **part)
        return thermostatic_valve(fluid.table, area=area, **part)

    def _air(self) -> AirParameters:
        first = self.air
        t, w, flow = self._stream(first)
        second = self.condenser_air
        if second is None:
            other_t, other_w, other_flow = t, w, 0.0
        else:
            other_t, other_w, other_flow = self._stream(second)
        return AirParameters(
            arrangement=SERIES if second is None else SEPARATE,
            temperature=t,
            humidity=w,
            flow=flow,
            condenser_temperature=other_t,
            condenser_humidity=other_w,
            condenser_flow=other_flow,
            fan_power=si(first.fan_power, "power", "fan_power"),
            fan_position=_POSITIONS[first.fan_position],
            ambient=other_t,
            condenser_fan_power=0.0 if second is None else si(second.fan_power, "power", "power"),
            condenser_fan_position=AFTER if second is None else _POSITIONS[second.fan_position],
        )

    def _stream(self, air: AirStream) -> tuple[float, float, float]:
        """Temperature [K], humidity ratio [kg/kg] and dry-air flow [kg/s]."""
        found = in_si(air)
        t = found["temperature"]
        w = humidity_ratio(t, found["relative_humidity"], self.atmosphere)
        return t, w, found["flow"] / specific_volume(t, w, self.atmosphere)

    def balance(
        self,
        *,
        charge: Written | None = None,
        superheat: Written | None = None,
        subcooling: Written | None = None,
        near: SteadyState | None = None,
    ) -> SteadyState:
        """What the machine settles at.

        With `charge` [kg] that mass is in it. With `superheat` [K] it is charged until the
        evaporator's outlet shows it; with `subcooling` [K] until the condenser's outlet does,
        which is the way for a valve. With both the expansion device is left out of account and
        its flow is an answer.

        Parameters
        ----------
        near : SteadyState, optional
            A solution of nearly the same machine, to start from.

        Raises
        ------
        JobError
            None of the three is given, or `charge` with another.
        SolveError
            The machine has no balance; the error says why.
        """
        return solve(
            load(self.refrigerant).table,
            saturation_line(self.atmosphere),
            self.parameters(),
            self._target(charge, superheat, subcooling),
            near=near,
        )

    def _target(
        self, charge: Written | None, superheat: Written | None, subcooling: Written | None
    ) -> Target:
        mass = maybe_si(charge, "mass", "charge")
        sh = maybe_si(superheat, "temperature difference", "superheat")
        sc = maybe_si(subcooling, "temperature difference", "subcooling")
        if mass is not None and sh is None and sc is None:
            return fixed_charge(mass)
        if mass is None and sh is not None and sc is not None:
            return design(superheat=sh, subcooling=sc)
        if mass is None and sh is not None:
            return filled(superheat=sh)
        if mass is None and sc is not None:
            return subcooled(subcooling=sc)
        raise JobError(
            what="a balance needs a charge, or a superheat, a subcooling or both of them",
            read="nothing" if mass is None else "a charge and more",
            allowed='write for example charge="250 g" or superheat="5 K"',
            field="balance",
        )

    def charge_curve(self, *, start: SteadyState | None = None) -> tuple[SteadyState, ...]:
        """Steady states from nearly empty to overfull, charged first to 5 K of superheat."""
        begin = start if start is not None else self.balance(superheat=5.0)
        line = saturation_line(self.atmosphere)
        found = sweep_charge(load(self.refrigerant).table, line, self.parameters(), begin)
        return tuple(sorted((begin, *found), key=lambda state: state.charge))

    def with_air(
        self, *, temperature: Written | None = None, relative_humidity: Written | None = None
    ) -> Machine:
        """The same machine in another room."""
        air = self.air
        return replace(
            self,
            air=replace(
                air,
                temperature=air.temperature if temperature is None else temperature,
                relative_humidity=air.relative_humidity
                if relative_humidity is None
                else relative_humidity,
            ),
        )
