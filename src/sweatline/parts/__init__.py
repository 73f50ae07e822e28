"""Components: coils, compressor, expansion devices, lines, shell and hoses, each on its own.

A part is a named tuple of parameters and a kernel that says what leaves it for what enters it.
No part knows another; how they hang together stands in `machine`.
"""
