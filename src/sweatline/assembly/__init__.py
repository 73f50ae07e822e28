"""From the bench to a machine that can be solved, and from its uncertain numbers to ranges.

Here: the parameters of a job, parts put together to a build, trial runs of a build, the machine as
it ran and the calibration to its readings. Not here: judgement and advice (design, charging), nor
anything that would hold without a job (uncertainty).
"""
