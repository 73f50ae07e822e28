"""Physical constants, each with its source."""

from typing import Final

GAS_CONSTANT: Final = 8.31446261815324  # J/(mol*K), exact since the SI of 2019
GRAVITY: Final = 9.80665  # m/s2, conventional standard value
STANDARD_ATMOSPHERE: Final = 101325.0  # Pa, exact by definition
ZERO_CELSIUS: Final = 273.15  # K, exact by definition
HORSEPOWER: Final = 550.0 * 12.0 * 0.0254 * 0.45359237 * GRAVITY  # W, 550 foot-pounds a second
# Standard deviations to either side that hold nine in ten of a normal distribution.
NINE_TENTHS: Final = 1.645
