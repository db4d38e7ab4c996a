"""Which mode is which after a small change: by shape, not by rank, so colours never swap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRID = 64


def mac(x_old_m: Array, old: Array, x_new_m: Array, new: Array) -> Array:
    """(n_new, n_old) modal assurance criterion of two sets of shapes, 0 to 1, on a common grid of x/span.

    `old` is (n_old, n_x) on `x_old_m`, `new` (n_new, n_x) on `x_new_m`; the grids may differ
    and x may repeat. After Allemang and Brown (1982), here
    without a mass matrix because the two systems differ in it.
    """
    grid = np.linspace(0.0, 1.0, GRID)
    a = np.stack([np.interp(grid, x_new_m / x_new_m[-1], shape) for shape in new])
    b = np.stack([np.interp(grid, x_old_m / x_old_m[-1], shape) for shape in old])
    cross = (a @ b.T) ** 2
    return cross / np.maximum(np.outer((a * a).sum(1), (b * b).sum(1)), 1e-300)


def follow(names: tuple[int, ...], like: Array) -> tuple[int, ...]:
    """Names for the new modes: each takes the name of the old mode it resembles most.

    `names` are those of the old modes, `like` is (n_new, n_old) from `mac`. Pairs are taken in
    order of that, so every old name is used once; a new mode that is left over takes the
    smallest unused number.
    """
    n_new, n_old = like.shape
    out: list[int | None] = [None] * n_new
    free_old = set(range(n_old))
    for flat in np.argsort(-like, axis=None, kind="stable").tolist():
        i, j = divmod(flat, n_old)
        if out[i] is None and j in free_old:
            out[i] = names[j]
            free_old.discard(j)
    unused = iter(n for n in range(1, 2 * (n_new + n_old) + 2) if n not in names)
    return tuple(next(unused) if name is None else name for name in out)
