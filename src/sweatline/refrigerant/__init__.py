"""Refrigerants: tables of their properties, kernels on them, and their safety data.

Here: everything that holds for a refrigerant wherever it is. Not here: tubes, coils, machines, and
units other than SI. The tables are made by `tools/build_refrigerant_tables.py`.
"""
