"""Boiling point at a gauge pressure, at an altitude."""

import sweatline as sl

point = sl.saturation("R-407C", pressure="4.2 bar(g)", altitude="640 m")
print(point)
print(f"Superheat counts from {point.dew.temperature - 273.15:.1f} °C,")
print(f"subcooling from {point.bubble.temperature - 273.15:.1f} °C.")
