"""Limits, gates and cautions: what a rule allows, where it comes from and how sure that is.

Nothing here approves anything: local code and a licensed person decide.
No model of a machine may be used here, so that a limit never depends on a calculation.
"""
