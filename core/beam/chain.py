"""Linear systems whose blocks form a chain, each coupled to its neighbours only, by cyclic reduction.

Every second block is eliminated at once, then every second of those left (Buzbee, Golub & Nielson 1970, SIAM J. Numer.
Anal. 7, 627): a few long steps in place of many short ones, of one system or of many. The last few blocks are one matrix.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from core.beam.triangular import inverse_lower

Array = NDArray[np.float64]

FEW = 4
"""Blocks that are sooner solved as one matrix than parted further."""


def solve_chain(own: Array, next_: Array, loads: Array) -> Array:
    """(..., n, b, k) answer of symmetric positive systems: blocks `own` (..., n, b, b) on the diagonal, `next_` (..., n - 1, b,
    b) of each with the one after it, loads (..., n, b, k)."""
    n = own.shape[-3]
    if n <= FEW:
        root = inverse_root(_whole(own, next_))
        flat = loads.reshape(*loads.shape[:-3], -1, loads.shape[-1])
        return np.asarray(np.swapaxes(root, -1, -2) @ (root @ flat)).reshape(loads.shape)
    before, after = next_[..., 0::2, :, :], next_[..., 1::2, :, :]
    odd, later = n // 2, after.shape[-3]
    # What the neighbours before and after an odd block, and its loads, are in terms in which it is one.
    root = inverse_root(own[..., 1::2, :, :])
    left, right = root @ np.swapaxes(before, -1, -2), root[..., :later, :, :] @ after
    mine = root @ loads[..., 1::2, :, :]
    back, forth = np.swapaxes(left, -1, -2), np.swapaxes(right, -1, -2)
    kept, rest = own[..., 0::2, :, :].copy(), loads[..., 0::2, :, :].copy()
    kept[..., :odd, :, :] -= back @ left
    rest[..., :odd, :, :] -= back @ mine
    kept[..., 1:, :, :] -= forth @ right
    rest[..., 1:, :, :] -= forth @ mine[..., :later, :, :]
    even = solve_chain(kept, -(back[..., :later, :, :] @ right), rest)
    mine -= left @ even[..., :odd, :, :]
    mine[..., :later, :, :] -= right @ even[..., 1:, :, :]
    out = np.empty_like(loads)
    out[..., 0::2, :, :], out[..., 1::2, :, :] = even, np.swapaxes(root, -1, -2) @ mine
    return out


def _whole(own: Array, next_: Array) -> Array:
    """(..., n b, n b) the lower half of the matrix that is a chain's."""
    n, b = own.shape[-3], own.shape[-1]
    out = np.zeros((*own.shape[:-3], n, b, n, b))
    for i in range(n):
        out[..., i, :, i, :] = own[..., i, :, :]
        if i:
            out[..., i, :, i - 1, :] = np.swapaxes(next_[..., i - 1, :, :], -1, -2)
    return out.reshape(*own.shape[:-3], n * b, n * b)


def inverse_root(blocks: Array) -> Array:
    """(..., b, b) W of symmetric positive blocks with W A W^T = 1. Small blocks with many loads are taken apart so in a
    fraction of the time of a solution, and what is eliminated by it leaves what is symmetric so."""
    return inverse_lower(np.asarray(np.linalg.cholesky(blocks), dtype=float))
