"""Weighing in: what is in the hoses, in the machine and in the cylinder, and how full it may be.

Here: the request and its answer, a cylinder's pressure, a blend's shift when vapour is taken.
Not here: what a hose holds (parts), and what was weighed in by a log (log), which charging shares.
"""
