"""The simplex search of Nelder & Mead (1965, Computer Journal 7, 308), many searches side by side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CLOSE = 1e-5
"""Size of a simplex at which a search has ended: of an optimum without a corner the square is lost."""


def simplex(value: Callable[[Array], Array], start: Array, width: Array, steps: int, close: float = CLOSE) -> Array:
    """Best points (P, d) from the starts; `value` takes (P, d) and gives (P,), `width` (P, d) is the size
    of the first simplex, `close` the size at which it ends. Each search goes its own way whatever the others do."""
    count, d = start.shape
    corner = np.concatenate([start[:, None], start[:, None] + width[:, None] * np.eye(d)], axis=1)
    height = np.stack([value(corner[:, k]) for k in range(d + 1)], axis=1)
    rows = np.arange(count)
    for _ in range(steps):
        order = np.argsort(height, axis=1, kind="stable")
        corner, height = np.take_along_axis(corner, order[..., None], 1), np.take_along_axis(height, order, 1)
        done = np.abs(corner[:, 1:] - corner[:, :1]).max(axis=(1, 2)) < close
        if done.all():
            break
        middle, worst = corner[:, :-1].mean(axis=1), corner[:, -1]
        mirrored = 2.0 * middle - worst
        first = value(mirrored)
        better, among = first < height[:, 0], first < height[:, -2]
        outside = first < height[:, -1]
        further = np.where(better, 3.0, np.where(outside, 1.5, 0.5))[:, None]
        other = worst + further * (middle - worst)
        second = value(other)
        take_second = np.where(better, second < first, ~among & (second < np.minimum(first, height[:, -1])))
        take_first = ~take_second & among
        new = np.where(take_second[:, None], other, np.where(take_first[:, None], mirrored, worst))
        corner[rows, -1] = np.where(done[:, None], worst, new)
        height[:, -1] = np.where(done, height[:, -1], np.where(take_second, second, np.where(take_first, first, height[:, -1])))
        stuck = ~take_second & ~take_first & ~done
        if stuck.any():
            for k in range(1, d + 1):
                shrunk = np.where(stuck[:, None], 0.5 * (corner[:, k] + corner[:, 0]), corner[:, k])
                again = value(shrunk)
                corner[:, k], height[:, k] = shrunk, np.where(stuck, again, height[:, k])
    best = height.argmin(axis=1)
    return corner[rows, best]
