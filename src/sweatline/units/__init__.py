"""Quantities at the edge: read as a technician writes them, shown in the job's unit system."""

from sweatline.units.kinds import EXAMPLES, KINDS, Kind
from sweatline.units.reading import Parsed, one_line, parse
from sweatline.units.showing import System, show, show_spread
from sweatline.units.spellings import WATER_DENSITY

__all__ = [
    "EXAMPLES",
    "KINDS",
    "WATER_DENSITY",
    "Kind",
    "Parsed",
    "System",
    "one_line",
    "parse",
    "show",
    "show_spread",
]
