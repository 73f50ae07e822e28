"""Quantities at the edge: read as a technician writes them, shown in the job's unit system.

Here live the kinds of quantity, the spellings of their units, reading and showing. No physics, and
nothing that knows what a number is used for.
"""

from sweatline.units.kinds import EXAMPLES, KINDS, WATER_DENSITY, Kind, with_article
from sweatline.units.reading import (
    Parsed,
    example_of,
    one_line,
    parse,
    quantity,
    split_fields,
    written_system,
)
from sweatline.units.showing import SI_SCALE, Scale, System, show, unbroken

__all__ = [
    "EXAMPLES",
    "KINDS",
    "SI_SCALE",
    "WATER_DENSITY",
    "Kind",
    "Parsed",
    "Scale",
    "System",
    "example_of",
    "one_line",
    "parse",
    "quantity",
    "show",
    "split_fields",
    "unbroken",
    "with_article",
    "written_system",
]
