"""One tube by itself: its flow, or the length for a flow."""

import sweatline as sl

ends = {"inlet_pressure": "120 psig", "outlet_pressure": "20 psig", "subcooling": 5.0}
tube = sl.capillary("R-134a", bore="0.042 in", length="6 ft", **ends)
print(f"{3600 * tube.mass_flow:.1f} kg/h")
cut = sl.capillary("R-134a", bore="0.042 in", flow="20 lb/h", **ends)
print(f"{cut.length:.2f} m")
