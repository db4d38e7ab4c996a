"""Linear systems whose blocks form a chain, each coupled to its neighbours only, by cyclic reduction.

Every second block is eliminated at once, then every second of those left (Buzbee, Golub & Nielson 1970, SIAM J. Numer.
Anal. 7, 627): a few long steps in place of many short ones, of one system or of many.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def solve_chain(own: Array, next_: Array, loads: Array) -> Array:
    """(..., n, b, k) answer of symmetric positive systems: blocks `own` (..., n, b, b) on the diagonal, `next_` (..., n - 1, b,
    b) of each with the one after it, loads (..., n, b, k)."""
    n, b = own.shape[-3], own.shape[-1]
    if n == 1:
        return np.asarray(np.linalg.solve(own, loads))
    before = next_[..., 0::2, :, :]
    after = next_[..., 1::2, :, :]
    odd = n // 2
    # Of every odd block: what its neighbours before and after move it by, and its loads.
    right = np.zeros((*own.shape[:-3], odd, b, 2 * b + loads.shape[-1]))
    right[..., :b] = np.swapaxes(before, -1, -2)
    right[..., : after.shape[-3], :, b : 2 * b] = after
    right[..., 2 * b :] = loads[..., 1::2, :, :]
    moved = np.linalg.solve(own[..., 1::2, :, :], right)
    left, later = before @ moved, np.swapaxes(after, -1, -2) @ moved[..., : after.shape[-3], :, :]
    kept, rest = own[..., 0::2, :, :].copy(), loads[..., 0::2, :, :].copy()
    kept[..., :odd, :, :] -= left[..., :b]
    rest[..., :odd, :, :] -= left[..., 2 * b :]
    kept[..., 1:, :, :] -= later[..., b : 2 * b]
    rest[..., 1:, :, :] -= later[..., 2 * b :]
    even = solve_chain(kept, -left[..., : after.shape[-3], :, b : 2 * b], rest)
    out = np.empty_like(loads)
    out[..., 0::2, :, :] = even
    found = moved[..., 2 * b :] - moved[..., :b] @ even[..., :odd, :, :]
    found[..., : after.shape[-3], :, :] -= moved[..., : after.shape[-3], :, b : 2 * b] @ even[..., 1:, :, :]
    out[..., 1::2, :, :] = found
    return out
