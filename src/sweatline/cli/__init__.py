"""The command line: arguments in, a question asked of the study, text or JSON out.

No physics is reckoned here. What a command prints comes from a record, the same that `--json`
prints, so that the two cannot disagree.
"""
