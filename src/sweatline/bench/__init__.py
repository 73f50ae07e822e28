"""Single pieces of work at the bench: pressure test, evacuation, weighing in, start of a motor.

One folder a task: what may be asked, the physics, the answer, and what a log says of it. Only what
two tasks need stands beside the folders. No printing, no options, no model of the whole machine.
"""
