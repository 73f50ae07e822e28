"""Uncertain numbers and what is done with them: sampling, sensitivity, posterior, prior transfer.

Here: numbers with their uncertainty, parameters, normal samples, shares of variance, what readings
say of parameters, and what of that holds for another machine. Not here: jobs, parts, physics,
printing; which parameters a machine has is told in `sweatline.assembly.parameters`.
"""
