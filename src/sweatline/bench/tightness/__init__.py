"""The pressure test: is it tight, how long must a test last, what does a leak lose, where to look.

Here: the test's readings, the leak that a machine's past implies, ways of finding a leak, and what
a log holds of a test. Not here: the flow through a leak, which the evacuation shares.
"""
