"""Job files: what is on the bench, read from TOML into one typed `Job` in SI.

Here live the keys of a job file, each declared once on the field of the model that it fills, their
defaults, what is refused, and a job told back. Nothing is solved here; machines are built above.
"""
