"""Correlations: flow and heat transfer inside tubes, and air over finned coils.

Here: what authors published, one kernel an equation, and the range each was fitted to. Not here:
parts with a geometry of their own (`sweatline.parts`), and units other than SI.
"""
