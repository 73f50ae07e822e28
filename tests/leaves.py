"""All numbers of a machine, to compare two of them: tuples with arrays in them cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["leaves"]


def leaves(value: Any) -> list[Any]:
    """The numbers in nested tuples and arrays, in order."""
    if isinstance(value, tuple):
        return [leaf for part in value for leaf in leaves(part)]
    if isinstance(value, np.ndarray):
        return [value.shape, *value.ravel().tolist()]
    return [value]
