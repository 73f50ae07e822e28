"""The door for scripts: a job, a machine, and the tasks, with names and units as people write them.

Calls the rooms below and returns their answers. No physics here, and nothing is printed.
"""
