"""Moist air: its properties by the reference formulation, and saturated air as a fast table; gases
that never condense.

Here: what holds for air in any room. Not here: air over a coil (`sweatline.flow`), and units other
than SI.
"""
