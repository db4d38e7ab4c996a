"""The simplex search of Nelder & Mead (1965, Computer Journal 7, 308), many searches side by side, each within a
budget of rounds that does not depend on how fast a machine is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.stopping import may_stop

Array = NDArray[np.float64]
Value = Callable[[Array], Array]
"""Heights (K, P) at K points (K, P, d) of each of P searches."""

CLOSE = 1e-5
"""Size of a simplex at which a search has ended: of an optimum without a corner the square is lost."""
WANDERS = 0.01
"""Size of a simplex from which a search that ends is not settled: a value may yet move by a per cent."""
ROUNDS_EACH, ROUNDS_MOST = 100, 600
"""Of what is tuned at once: for each free value, and in all. Together some 100 ms."""


@dataclass
class Budget:
    """Rounds left (P,) to all searches of the tuning of each layout, and in which (P,) one ended with its values still on the
    move. A layout has as many whether it is tuned alone or among others."""

    left: NDArray[np.intp]
    wanders: NDArray[np.bool_]

    @classmethod
    def of(cls, values: int, layouts: int = 1) -> Budget:
        """For so many free values of each layout."""
        return cls.rounds(min(ROUNDS_EACH * values, ROUNDS_MOST), layouts)

    @classmethod
    def rounds(cls, count: int, layouts: int = 1) -> Budget:
        """So many for each layout."""
        return cls(np.full(layouts, count), np.zeros(layouts, dtype=bool))


def simplex(
    value: Value, start: Array, width: Array, steps: int, close: float = CLOSE, *, budget: Budget | None = None,
    rows: NDArray[np.intp] | None = None, cost: int = 1, at_once: bool = False,
) -> Array:  # fmt: skip
    """Best points (P, d) from the starts; `width` (P, d) is the size of the first simplex, `close` the size at which it
    ends, `steps` the rounds it may take, each of a `cost` to the budget of its layout, `rows` (P,) of it (all). Each search goes its own way whatever the others do. `at_once`
    asks for every point that a round may come to in one call: for few searches that costs little more than one point.
    """
    start, width = np.asarray(start, dtype=float), np.asarray(width, dtype=float)
    count, d = start.shape
    budget = Budget.rounds(cost * steps, count) if budget is None else budget
    layouts = np.arange(count) if rows is None else rows
    left = budget.left[layouts]
    corner = np.concatenate([start[:, None], start[:, None] + width[:, None] * np.eye(d)], axis=1)
    height = value(np.moveaxis(corner, 1, 0)).T
    every = np.arange(count)
    size = np.full(count, np.inf)
    while True:
        order = np.argsort(height, axis=1, kind="stable")
        corner, height = np.take_along_axis(corner, order[..., None], 1), np.take_along_axis(height, order, 1)
        size = np.abs(corner[:, 1:] - corner[:, :1]).max(axis=(1, 2))
        done = (size < close) | (left < cost)
        if done.all() or steps <= 0:
            break
        steps, left = steps - 1, np.where(done, left, left - cost)
        may_stop()
        middle, worst = corner[:, :-1].mean(axis=1), corner[:, -1]
        mirrored = 2.0 * middle - worst
        ahead = [worst + further * (middle - worst) for further in (3.0, 1.5, 0.5)]
        found = value(np.stack([mirrored, *ahead])) if at_once else value(mirrored[None])
        first = found[0]
        better, among = first < height[:, 0], first < height[:, -2]
        which = np.where(better, 0, np.where(first < height[:, -1], 1, 2))
        other = np.stack(ahead)[which, every]
        second = found[1 + which, every] if at_once else value(other[None])[0]
        take_second = np.where(better, second < first, ~among & (second < np.minimum(first, height[:, -1])))
        take_first = ~take_second & among
        new = np.where(take_second[:, None], other, np.where(take_first[:, None], mirrored, worst))
        corner[every, -1] = np.where(done[:, None], worst, new)
        height[:, -1] = np.where(done, height[:, -1], np.where(take_second, second, np.where(take_first, first, height[:, -1])))
        stuck = ~take_second & ~take_first & ~done
        if stuck.any():
            shrunk = np.where(stuck[:, None, None], 0.5 * (corner[:, 1:] + corner[:, :1]), corner[:, 1:])
            again = value(np.moveaxis(shrunk, 1, 0)).T
            corner[:, 1:], height[:, 1:] = shrunk, np.where(stuck[:, None], again, height[:, 1:])
    budget.left[layouts] = left
    budget.wanders[layouts] |= size > WANDERS
    best = height.argmin(axis=1)
    return np.asarray(corner[every, best])
