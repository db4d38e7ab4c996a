"""How often lines cross, counted no further than needed: what comes after takes long where they cross everywhere."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCK = 16
"""Pieces compared with all others at a time."""
MOST_PAIRS = 4_000_000
"""Pairs of pieces with overlapping boxes that are looked at; with more the lines count as crossing everywhere."""


def crossings(lines: Sequence[Array], most: int) -> int:
    """Number of places where pieces of these (n, 2) lines cross properly; more than `most` is not counted out."""
    starts = np.concatenate([line[:-1] for line in lines])
    ends = np.concatenate([line[1:] for line in lines])
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    tree = shapely.STRtree(boxes)
    found = looked_at = 0
    for first in range(0, len(boxes), BLOCK):
        i, j = tree.query(boxes[first : first + BLOCK])
        i = i + first
        later = j > i
        i, j = i[later], j[later]
        looked_at += len(i)
        found += int(_cross(starts[i], ends[i], starts[j], ends[j]).sum())
        if found > most or looked_at > MOST_PAIRS:
            return most + 1
    return found


def _cross(a: Array, b: Array, c: Array, d: Array) -> NDArray[np.bool_]:
    """Whether the pieces a-b and c-d cross between their ends."""
    return (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)


def _side(a: Array, b: Array, p: Array) -> Array:
    """Sign of the side of a-b on which p lies."""
    u, v = b - a, p - a
    return np.asarray(np.sign(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))
