"""The evacuation: how long through which hoses, water, and what a rise means once it is shut off.

Here: pump-down of two volumes, boiling of water, the rise test, and what a log holds of them.
Not here: the flow through a leak and the gases, which the pressure test shares.
"""
