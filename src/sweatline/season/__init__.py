"""A year in a damp room: weather, the room's balance, the machine in it, its control, its cost.

Here: hours, litres, kilowatt-hours and money. Not here: what the machine does at one moment, which
comes as a map over rooms (`sweatline.design.room_map`).
"""
