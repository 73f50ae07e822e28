"""sweatline: will these refrigeration parts work together, and how to charge the result."""

__version__ = "0.1.0"
