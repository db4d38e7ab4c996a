"""Which mode is which after a small change: by shape, not by rank, so colours never swap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GRID = np.linspace(0.0, 1.0, 64)


def on_grid(x_m: Array, shapes: Array) -> Array:
    """(n, 64) shapes (n, n_x) on x, which may repeat, at a common grid of x/span, each of length 1."""
    along = x_m / x_m[-1]
    out = np.stack([np.interp(GRID, along, shape) for shape in shapes])
    return np.asarray(out / np.maximum(np.sqrt((out * out).sum(axis=1, keepdims=True)), 1e-150))


def mac(old: Array, new: Array) -> Array:
    """(n_new, n_old) modal assurance criterion of two sets of shapes from `on_grid`, 0 to 1. After Allemang and
    Brown (1982), here without a mass matrix because the two systems differ in it."""
    return np.asarray((new @ old.T) ** 2)


def follow(names: tuple[int, ...], like: Array) -> tuple[int, ...]:
    """Names for the new modes: each takes the name of the old mode it resembles most.

    `names` are those of the old modes, `like` is (n_new, n_old) from `mac`. Pairs are taken in
    order of that, so every old name is used once; a new mode that is left over takes the
    smallest unused number.
    """
    n_new, n_old = like.shape
    ranks = np.arange(n_new)
    if n_new == n_old == len(names) and (like.argmax(axis=0) == ranks).all() and (like.argmax(axis=1) == ranks).all():
        return names  # as in nearly every frame: each resembles its own rank most, and is resembled by it
    out: list[int | None] = [None] * n_new
    free_old = set(range(n_old))
    for flat in np.argsort(-like, axis=None, kind="stable").tolist():
        i, j = divmod(flat, n_old)
        if out[i] is None and j in free_old:
            out[i] = names[j]
            free_old.discard(j)
    unused = iter(n for n in range(1, 2 * (n_new + n_old) + 2) if n not in names)
    return tuple(next(unused) if name is None else name for name in out)
