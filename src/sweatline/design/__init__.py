"""Questions before copper is cut: which parts work together, what they settle at, which tube.

One module a question, from the job to its answer, and the verdicts they share. No file formats, no
words of a screen, no command-line options: answers are returned as data.
"""
