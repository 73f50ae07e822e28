"""The log of a machine: a file in which nothing is ever changed, and what holds in it.

Here stand the channels that can be read, entries, the store, what looks like a slip, lines as
people type them, and the way into and out of other files. No advice and no model of a machine.
"""
