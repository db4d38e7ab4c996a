"""More points on a deflection than were sampled, so that a wave looks round at any size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEAST_PIECES, PIECES_PER_MODE = 120, 16
"""The straight pieces of a curve are at most the span over the first of these, or over so many for each mode: a wave of
the highest then has thirty."""


def refined(x_m: Array, deflection: Array, curvature: Array, longest_m: float | None = None) -> tuple[Array, Array]:
    """Points on deflections (k, n) of known curvature (k, n) at x (n,), nowhere farther apart than `longest_m`.

    Between samples the curvature is taken as straight, which makes the deflection the cubic
    through both values with both curvatures (exact where the bending moment is linear and the
    section constant). Intervals of no length, where x repeats at a jump, are left out.
    """
    steps = np.diff(x_m)
    real = np.flatnonzero(steps > 0)
    if len(real) == 0:
        return x_m, deflection
    h = steps[real]
    if longest_m is None:
        longest_m = (x_m[-1] - x_m[0]) / max(LEAST_PIECES, PIECES_PER_MODE * len(deflection))
    parts = np.ceil(h / longest_m - 1e-9).astype(int)
    ends = np.cumsum(parts)
    one = np.repeat(np.arange(len(real)), parts)
    b = (np.arange(ends[-1]) - (ends - parts)[one]) / parts[one]
    a, left, step = 1.0 - b, real[one], h[one]
    bend_a, bend_b = ((a**3 - a) * step**2 / 6.0, (b**3 - b) * step**2 / 6.0)
    right = left + 1
    fine = a * deflection[:, left] + b * deflection[:, right] + bend_a * curvature[:, left] + bend_b * curvature[:, right]
    x = x_m[left] + step * b
    return np.append(x, x_m[-1]), np.concatenate([fine, deflection[:, -1:]], axis=1)
