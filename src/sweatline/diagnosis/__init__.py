"""What is wrong with a machine, from the few readings there are, and what to measure next.

What each fault would show is solved beforehand and kept; readings are then weighed against all of
it at once. Faults are declared here, and the simulated machine of the practice has the same ones.
No wording of tables, no command-line option.
"""
