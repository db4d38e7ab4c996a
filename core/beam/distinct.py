"""The distinct values of an array, rising."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def distinct(values: Array) -> Array:
    """(k,) the distinct numbers among any shape of finite ones, rising.

    As `numpy.unique`, which asks the library of masked arrays first: at its first call that is loaded, and at
    every one it costs more than the sorting of some tens of places.
    """
    rising = np.sort(np.asarray(values), axis=None)
    if len(rising) < 2:
        return rising
    return rising[np.concatenate([[True], rising[1:] != rising[:-1]])]
