"""A window unit without a job file: two air streams and a thermostatic valve."""

import sweatline as sl

coil = {
    "tube_outer_diameter": "3/8 in", "tubes_per_row": 10, "transverse_pitch": "25.4 mm",
    "longitudinal_pitch": "22 mm", "finned_length": "0.3 m", "fin_pitch": "14 fpi",
}  # fmt: skip
unit = sl.Machine(
    refrigerant="R-290",
    compressor=sl.Compressor(kind="rotary", displacement="12 cc", oil="POE"),
    evaporator=sl.Coil(rows=2, **coil),
    condenser=sl.Coil(rows=3, **coil),
    expansion=sl.ThermostaticValve(port_area="1 mm2", static_superheat="4 K"),
    air=sl.AirStream(temperature="27 degC", relative_humidity="50 %RH", flow="350 m3/h"),
    condenser_air=sl.AirStream(
        temperature="35 degC", relative_humidity="40 %RH", flow="700 m3/h", fan_power="60 W"
    ),
)
print(unit.balance(subcooling="5 K"))
