"""A smooth curve as chords that stay within a given distance of it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FIRST, MOST = 8, 2048
"""Chords per smooth piece: to begin with, and at most."""


def chords(point_at: Callable[[Array], Array], breaks: Array, chord: float) -> Array:
    """(n, 2) points of a curve from `breaks[0]` to `breaks[-1]`, both included.

    `point_at` takes parameters (m,) and returns (m, 2); the curve is smooth between breaks.
    """
    pieces = [point_at(breaks[:1])]
    pieces += [_piece(point_at, float(a), float(b), chord) for a, b in pairwise(breaks)]
    return np.concatenate(pieces)


def _piece(point_at: Callable[[Array], Array], start: float, end: float, chord: float) -> Array:
    """Points after the first; chords are halved until the curve's middles lie within `chord` of theirs."""
    count = FIRST
    while True:
        fine = point_at(np.linspace(start, end, 2 * count + 1))
        middle = 0.5 * (fine[:-2:2] + fine[2::2])
        off = float(np.hypot(*(fine[1::2] - middle).T).max())
        if off <= chord or count >= MOST:
            return fine[2::2]
        # The distance falls with the square of the number of chords.
        count = min(MOST, max(2 * count, int(count * (off / chord) ** 0.5) + 1))
