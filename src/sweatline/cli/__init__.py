"""The command line: arguments in, one question asked of a room below, text or JSON out.

One module a command or two: its options as types, and what is printed of the answer, the same that
`--json` prints. No physics, no files but those a person names.
"""
