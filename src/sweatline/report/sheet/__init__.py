"""The paper that stays with the machine: a sheet, a card for the wall, a label.

Here live what must be clear before it is called ready, what each paper says, and its typesetting.
No physics: every number is one of the answers' own.
"""
