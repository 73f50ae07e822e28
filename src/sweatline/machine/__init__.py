"""A whole machine: the circuit, its steady state, and how it moves in time.

Here parts are joined, equations are solved, and steady states are followed through charge, rooms,
frost and minutes. Nothing here knows a job, a person, uncertainty or a unit other than SI.
"""
