"""Symmetric matrices by one half, row by row: of the first rows and columns it is the first part."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Places = NDArray[np.intp]


@lru_cache(maxsize=32)
def half_of(size: int) -> tuple[Places, Places]:
    """Rows and columns of the elements of one half, diagonal included."""
    rows, columns = np.tril_indices(size)
    return rows, columns


@lru_cache(maxsize=32)
def in_half(size: int) -> Places:
    """(size, size) place of every element in that half."""
    rows, columns = half_of(size)
    place = np.zeros((size, size), dtype=np.intp)
    place[rows, columns] = place[columns, rows] = np.arange(len(rows))
    return place
