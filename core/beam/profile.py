"""Piecewise linear functions of x with jumps: the raw material of outline and lay-up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.project.record import Profile

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Linear:
    """A function linear on each segment; `left[i]`, `right[i]` are its values at the two ends
    of segment i (between bounds[i] and bounds[i + 1]), so it may jump at a bound."""

    bounds: Array
    left: Array
    right: Array

    @staticmethod
    def through(stations: Array, profile: Profile) -> Linear:
        """Straight lines through the station values (or one value everywhere)."""
        values = np.broadcast_to(np.asarray(profile, dtype=float), stations.shape)
        return Linear(stations, values[:-1].copy(), values[1:].copy())

    def on(self, bounds: Array) -> Linear:
        """The same function on a finer set of bounds (which must contain its own)."""
        middle = 0.5 * (bounds[1:] + bounds[:-1])
        i = np.searchsorted(self.bounds[1:-1], middle)
        width = self.bounds[i + 1] - self.bounds[i]
        slope = (self.right[i] - self.left[i]) / width
        return Linear(
            bounds,
            self.left[i] + slope * (bounds[:-1] - self.bounds[i]),
            self.right[i] - slope * (self.bounds[i + 1] - bounds[1:]),
        )

    def masked(self, start: float, end: float) -> Linear:
        """The function between two bounds, zero outside."""
        middle = 0.5 * (self.bounds[1:] + self.bounds[:-1])
        inside = (middle > start) & (middle < end)
        return Linear(self.bounds, np.where(inside, self.left, 0.0), np.where(inside, self.right, 0.0))

    def minus(self, other: Linear, scale: float = 1.0) -> Linear:
        return Linear(self.bounds, self.left - scale * other.left, self.right - scale * other.right)

    def at(self, x: Array, *, side: str = "right") -> Array:
        """Values at x; at a jump those of the segment on the given side."""
        x = np.asarray(x, dtype=float)
        i = np.searchsorted(self.bounds[1:-1], x, side="right" if side == "right" else "left")
        f = (x - self.bounds[i]) / (self.bounds[i + 1] - self.bounds[i])
        return self.left[i] * (1.0 - f) + self.right[i] * f
