"""Charging by the log: where readings settle, which dose is next, when to stop.

One `Adviser` follows a log, from a file or in memory, and says what to do next; command, practice
and survey ask the same one. No wording of tables, no command-line option, no simulated machine.
"""
