"""Practice on a simulated machine: faults, what its instruments show, a session, the debrief.

What the advice would have said comes from the adviser of `charging`, through the same log; nothing
of its rules is repeated here. No wording of tables, no command-line option.
"""
