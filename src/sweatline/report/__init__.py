"""Figures of answers: what is drawn, on which paper, and where its names stand.

Numbers are those of the answers, their names and kinds too; nothing is computed here that an
answer could hold, and nothing is decided.
"""
