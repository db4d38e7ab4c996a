"""Curves over many places, worked out at some of them and read between these where they foretell each other.

Between places already worked out a curve is the polynomial through the nearest six. Where without the first or the last of
these it says something else (a contact, a step of the part, a clamp's reach) the places themselves are worked out, until all agree.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

AGREE = 6e-3
"""Of the largest value of a curve: how near polynomials must be. A smooth curve is several times closer to that through six."""
NEAREST = 6
ROUNDS = 4
BESIDE_ENDS = 4
"""Places at each end that are always worked out, and steps from it that are halved: a curve has no neighbours beyond its end."""
APART = 0.02
"""Of the mean distance: places so near another one add digits lost, not knowledge."""


def between(x: Array, stride: int, bends: Array, work: Callable[[Array], Array]) -> Array:
    """(P, V) curves at places x (P,) in ascending order. `work` gives them at some places (k,) as (k, V); it is asked for every
    `stride`-th place first, and for those beside places where curves may bend sharply (b,)."""
    count = len(x)
    if stride < 2 or count <= NEAREST * stride:
        return work(x)
    asked = np.zeros(count, dtype=bool)
    asked[::stride] = asked[-1] = True
    asked[:BESIDE_ENDS] = asked[-BESIDE_ENDS:] = True  # a held end takes hold of a patch that touches it
    halves = stride * np.arange(1, BESIDE_ENDS) + stride // 2
    asked[halves] = asked[count - 1 - halves] = True
    after = np.searchsorted(x, bends[(bends > x[0]) & (bends < x[-1])])
    asked[after] = asked[after - 1] = True
    values = np.zeros((count, 0))
    new = asked
    for _ in range(ROUNDS):
        found = work(x[new])
        if not values.size:
            values = np.zeros((count, found.shape[-1]))
        values[new] = found
        rest = np.flatnonzero(~asked)
        if not len(rest):
            break
        nodes = _apart(x, np.flatnonzero(asked))
        start = np.clip(np.searchsorted(x[nodes], x[rest]) - NEAREST // 2, 0, len(nodes) - NEAREST)
        through = nodes[start[:, None] + np.arange(NEAREST)]
        fine, *rough = (_told(x, values, rest, through[:, part]) for part in (slice(None), slice(1, None), slice(-1)))
        values[rest] = fine
        most = np.abs(np.where(np.isfinite(values[asked]), values[asked], 0.0)).max(axis=0)
        new = np.zeros(count, dtype=bool)
        new[rest] = ~np.all([np.abs(fine - other) <= AGREE * most for other in rough], axis=(0, -1))
        if not new.any():
            break
        asked |= new
    else:
        values[new] = work(x[new])
    return values


def _apart(x: Array, nodes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Those that are not all but the same place as the one before."""
    least = APART * (x[-1] - x[0]) / len(x)
    kept = [nodes[0]]
    for node in nodes[1:]:
        if x[node] - x[kept[-1]] > least:
            kept.append(node)
    return np.array(kept)


def _told(x: Array, values: Array, wanted: NDArray[np.intp], through: NDArray[np.intp]) -> Array:
    """(k, V) values at some places of Lagrange's polynomials through others (k, n) of each."""
    near, own = x[through], np.eye(through.shape[-1], dtype=bool)
    distance = np.where(own, 1.0, near[:, :, None] - near[:, None, :])
    share = np.where(own, 1.0, (x[wanted, None] - near)[:, None, :] / distance).prod(axis=-1)
    return np.asarray((share[:, None, :] @ values[through])[:, 0])
