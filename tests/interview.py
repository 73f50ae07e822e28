"""A machine described from nothing: what a person says to each question, by the question's name."""

from __future__ import annotations

from typing import Final

_COIL: Final = {
    "rows": "2",
    "tubes_per_row": "8",
    "tube_outer_diameter": "3/8 in",
    "tube_wall": "don't know",
    "transverse_pitch": "1 in",
    "longitudinal_pitch": "about 7/8 in",
    "finned_length": "10 1/4 in",
    "fin_pitch": "14 fpi",
}
ANSWERS: Final = {
    "refrigerants": "R-134a, R-513A",
    "original.refrigerant": "R-22",
    "original.water_removal": "38 pints/day",
    "supply.voltage": "115 V",
    "supply.frequency": "60 Hz",
    "compressor[1].name": "freezer",
    "compressor[1].kind": "reciprocating",
    "compressor[1].displacement": "6.6 cc",
    "compressor[2].name": "drinks cooler",
    "compressor[2].kind": "reciprocating",
    "compressor[2].displacement": "don't know",
    "compressor[2].rating.capacity": "2800 BTU/h",
    "compressor[2].rating.refrigerant": "R-134a",
    "compressor[2].rating.conditions": "ASHRAE HBP",
    "compressor[2].rating.power": "340 W",
    "capillary[1].name": "reel 49",
    "capillary[1].fitted": "no",
    "capillary[1].bore": "0.049 in",
    **{f"evaporator.{key}": said for key, said in _COIL.items()},
    **{f"condenser.{key}": said for key, said in _COIL.items()},
    "condenser.rows": "3",
    "room.temperature": "62 °F",
    "room.humidity": "70 %RH",
    "limits.high_side_pressure": "300 psig",
}
