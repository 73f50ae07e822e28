"""Many machines at once: a study file, its cases, who computes them, and what is kept.

Here: bookkeeping of cases and their rows. Not here: what a machine does, which every case asks of
the same functions as a single command.
"""
