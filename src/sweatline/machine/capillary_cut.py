"""Length of capillary for a machine's balance, for every bore on the shelf."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from sweatline.answers import Amount, Answer, Note, Q, Shown
from sweatline.constants import NINE_TENTHS
from sweatline.machine.balance import SteadyState
from sweatline.parts.capillary_flow import FLOW_SCATTER, SHORTEST, CapillaryFlow, length_for
from sweatline.refrigerant.table import Table, saturation

# Below some three hundred bores a tube is an orifice: the liquid leaves it before it has flashed,
# its flow depends on the entrance, and a millimetre of length decides (common practice).
FEWEST_BORES: Final = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(Answer):
    """How to cut one bore for one balance; no lengths when the tube would be too short."""

    bore: Annotated[float, Q("bore")]
    length: Annotated[float | None, Q("length", "", "For the wanted flow.")]
    start_length: Annotated[
        float | None, Q("length", "", "To cut first: 19 times in 20 not too short.")
    ]
    shortest: Annotated[
        float | None, Q("length", "", "5 % point of the length that will turn out right.")
    ]
    flow_change_per_10_mm: float | None
    """Relative gain of flow when 10 mm are cut off."""
    flow_change_per_20_um_bore: float | None
    """Relative gain of flow for 0.02 mm more bore."""
    length_change_per_20_um_bore: Annotated[float | None, Q("length")]
    trim_step: Annotated[float | None, Q("length", "", "Cut that raises the flow by 2 %.")]
    choked: bool
    liquid_velocity: Annotated[float | None, Q("speed")]
    notes: tuple[str, ...]

    @property
    def too_short(self) -> Annotated[bool, Shown()]:
        """For a capillary: the flow wants fewer than 300 bores of it."""
        return self.length is None or self.length < FEWEST_BORES * self.bore


def cut_for(
    table: Table,
    balance: SteadyState,
    *,
    bore: float,
    bore_sd: float,
    roughness: float = 0.75e-6,
) -> Cut:
    """Length of one bore that passes the flow of a balance, and how to approach it.

    A capillary can be shortened but not lengthened. The first cut is therefore longer by the
    95 % point of what model scatter and bore tolerance can do to the length.

    Parameters
    ----------
    bore, bore_sd, roughness : float
        [m]
    """
    entering = balance.metering_enthalpy

    def at(d: float, flow: float) -> CapillaryFlow:
        return length_for(
            table,
            bore=d,
            mass_flow=flow,
            inlet_pressure=balance.liquid_pressure,
            inlet_enthalpy=entering,
            outlet_pressure=balance.evaporating_pressure,
            roughness=roughness,
        )

    flow = balance.flow
    now = at(bore, flow)
    if now.length < SHORTEST:
        too_short = Note(
            "this bore cannot pass the flow at a length of {} or more",
            Amount("length", (SHORTEST,)),
        )
        return Cut(
            bore=bore,
            length=None,
            start_length=None,
            shortest=None,
            flow_change_per_10_mm=None,
            flow_change_per_20_um_bore=None,
            length_change_per_20_um_bore=None,
            trim_step=None,
            choked=True,
            liquid_velocity=None,
            notes=(too_short,),
        )
    # d ln L / d ln m along the tube's own curve; about -2.1.
    slope = (math.log(at(bore, flow * 1.01).length) - math.log(now.length)) / math.log(1.01)
    liquid_volume = float(saturation(table, balance.liquid_pressure)[4])
    wider = at(bore + 0.02e-3, flow).length
    by_bore = math.log(wider / now.length)
    spread = math.hypot(FLOW_SCATTER * abs(slope), by_bore * bore_sd / 0.02e-3)
    return Cut(
        bore=bore,
        length=now.length,
        start_length=now.length * math.exp(NINE_TENTHS * spread),
        shortest=now.length * math.exp(-NINE_TENTHS * spread),
        flow_change_per_10_mm=0.010 / now.length / abs(slope),
        flow_change_per_20_um_bore=by_bore / abs(slope),
        length_change_per_20_um_bore=wider - now.length,
        trim_step=now.length * 0.02 * abs(slope),
        choked=bool(now.choked),
        liquid_velocity=flow / (0.25 * math.pi * bore**2) * liquid_volume,
        notes=now.notes,
    )
