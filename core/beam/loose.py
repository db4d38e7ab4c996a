"""The energy of further functions over the elements, not factored: what loads move, by cyclic reduction."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.beam.chain import inverse_root, solve_chain
from core.beam.function_shapes import Table

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Loose:
    """Energy of the functions, not factored: elements (..., e, m, m) of unknowns v, held and tied as in `further_of`."""

    element: Array
    held: NDArray[np.bool_]
    tied: NDArray[np.bool_]

    def solved(self, loads: Array, table: Table) -> Array:
        """(..., e, m, k) unknowns of the elements of loads (..., e, m, k) on them. Bubbles are eliminated first, boundaries are a
        chain; at slivers the unknowns are left zero."""
        b, s, tied, held = table.block, table.stride, self.tied, self.held.astype(float)
        ends, inner = _ends(b, s), slice(b, s)
        inside = self.element[..., inner, inner].copy()
        bubbles = np.arange(s - b)
        inside[..., bubbles, bubbles] += np.maximum(held[..., :-1, inner], tied[..., None])
        beside, mine = self.element[..., ends, inner], loads[..., inner, :]
        root = inverse_root(inside)
        if tied.any():
            root = np.where(tied[..., None, None], 0.0, root)  # bubbles of a sliver would give to loads as springs of no meaning
        through, mine = beside @ np.swapaxes(root, -1, -2), root @ mine
        stiff = self.element[..., ends[:, None], ends] - through @ np.swapaxes(through, -1, -2)
        both = self._at_ends(stiff, loads[..., ends, :] - through @ mine, held[..., :b], b)
        out = np.empty_like(loads)
        out[..., inner, :] = np.swapaxes(root, -1, -2) @ (mine - np.swapaxes(through, -1, -2) @ both)
        out[..., ends, :] = both
        return out

    def _at_ends(self, stiff: Array, pushed: Array, fixed: Array, b: int) -> Array:
        """(..., e, 2 b, k) unknowns at both ends of the elements, of their stiffness and loads there."""
        shape, here = fixed.shape[:-1], ~self.tied
        own, rest = np.zeros((*shape, b, b)), np.zeros((*shape, b, pushed.shape[-1]))
        nodes = np.arange(b)
        if here.all():
            own[..., :-1, :, :] = stiff[..., :b, :b]
            own[..., 1:, :, :] += stiff[..., b:, b:]
            own[..., nodes, nodes] += fixed
            rest[..., :-1, :, :] = pushed[..., :b, :]
            rest[..., 1:, :, :] += pushed[..., b:, :]
            at = solve_chain(own, stiff[..., :b, b:], rest)
            return np.concatenate([at[..., :-1, :, :], at[..., 1:, :, :]], axis=-2)
        # Elements that are none have no place in the chain: the others are neighbours, and boundaries too many are held.
        index = np.nonzero(here)
        place = (*index[:-1], (np.cumsum(here, axis=-1) - 1)[index])
        after = (*place[:-1], place[-1] + 1)
        stiff, pushed = stiff[index], pushed[index]
        next_ = np.zeros((*here.shape, b, b))
        own[..., nodes, nodes] = 1.0
        own[place], own[after] = 0.0, 0.0
        own[place] += stiff[:, :b, :b]
        own[after] += stiff[:, b:, b:]
        next_[place] = stiff[:, :b, b:]
        rest[place] += pushed[:, :b]
        rest[after] += pushed[:, b:]
        held = np.zeros_like(fixed)
        held[place], held[after] = fixed[index], fixed[(*index[:-1], index[-1] + 1)]
        own[..., nodes, nodes] += held
        at = solve_chain(own, next_, rest)
        both = np.zeros((*here.shape, 2 * b, pushed.shape[-1]))
        both[index] = np.concatenate([at[place], at[after]], axis=-2)
        return both


@lru_cache(maxsize=32)
def _ends(block: int, stride: int) -> NDArray[np.intp]:
    """Places of both ends' unknowns in an element's."""
    return np.array([*range(block), *range(stride, stride + block)])
