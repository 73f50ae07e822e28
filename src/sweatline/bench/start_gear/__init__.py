"""The start of a motor: capacitor, relay, rest after a stop, load against the plate, the cord.

Here: the request and its answer, the time until both sides are equal, the load in a job's machine.
Not here: rules that hold without a model, as capacitors and voltage (safety).
"""
