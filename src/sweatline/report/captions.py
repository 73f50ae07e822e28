"""Words that several figures share: which machine, which room, where a gauge has its zero."""

from __future__ import annotations

from sweatline.air.moist import relative_humidity
from sweatline.assembly.build import Build
from sweatline.units.kinds import Kind
from sweatline.units.showing import System, show


def in_words(
    value: float, kind: Kind, system: System, digits: int = 3, *, atmosphere: float = 101325.0
) -> str:
    """Value with its unit, set for print: a true minus sign, and no line break before the unit."""
    text = show(value, kind, system, digits, atmosphere=atmosphere)
    if text.startswith("-"):
        text = f"\N{MINUS SIGN}{text[1:]}"
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def machine_title(build: Build, system: System) -> str:
    """Refrigerant, compressor and capillary of a machine."""
    length = in_words(build.length, "length", system)
    return f"{build.refrigerant.name}, {build.compressor.name}, {build.capillary.name} ({length})"


def room_words(build: Build, system: System) -> str:
    """The air that a machine breathes."""
    air = build.machine.air
    humidity = relative_humidity(
        air.temperature, air.humidity, build.job.place.atmospheric_pressure
    )
    return (
        f"{in_words(air.temperature, 'temperature', system)}, "
        f"{in_words(humidity, 'relative humidity', system, 2)}"
    )


def gauge_zero(build: Build, system: System) -> str:
    """What a gauge at this altitude calls zero."""
    place = build.job.place
    pressure = in_words(place.atmospheric_pressure, "absolute pressure", system)
    return f"gauge zero at {pressure} (altitude {in_words(place.altitude, 'altitude', system)})"
