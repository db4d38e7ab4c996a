"""Axes of arrays over elements, put in another order.

Each is a view with its axes told by `swapaxes` or `transpose`, which cost a tenth of `np.moveaxis`: one layout asks a dozen times.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def last_ahead(a: Array) -> Array:
    """(..., e, q, k) as (..., k, e, q)."""
    return a.swapaxes(-1, -2).swapaxes(-2, -3)


def ahead_last(a: Array) -> Array:
    """(..., k, e, q) as (..., e, q, k)."""
    return a.swapaxes(-3, -2).swapaxes(-2, -1)


def each_ahead(a: Array) -> Array:
    """(..., e, q, k, F) as (..., k, e, F, q)."""
    return a.swapaxes(-3, -2).swapaxes(-4, -3).swapaxes(-1, -2)


def ahead(a: Array, axis: int) -> Array:
    """With one axis, counted from the last (-2, -3), before all others."""
    at = a.ndim + axis
    return a.transpose(at, *range(at), *range(at + 1, a.ndim))


def ahead_to(a: Array, axis: int) -> Array:
    """With the first axis where it counts so much from the last (-2, -3)."""
    at = a.ndim + axis
    return a.transpose(*range(1, at + 1), 0, *range(at + 1, a.ndim))
