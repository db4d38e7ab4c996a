"""Lines between stations: the same function on finer bounds, with its jumps."""

from __future__ import annotations

import numpy as np

from core.beam.profile import Linear


def test_finer_bounds_change_nothing_of_a_function_that_jumps():
    """Both sides of every bound, its own and the new ones: over a segment from 1 to 3, then from 7 down to 4."""
    rough = Linear(np.array([0.0, 2.0, 5.0]), np.array([1.0, 7.0]), np.array([3.0, 4.0]))
    fine = rough.on(np.array([0.0, 0.5, 2.0, 2.75, 5.0]))
    np.testing.assert_allclose(fine.left, [1.0, 1.5, 7.0, 6.25])
    np.testing.assert_allclose(fine.right, [1.5, 3.0, 6.25, 4.0])
    x = np.array([0.0, 0.3, 0.5, 1.9, 2.0, 2.5, 2.75, 4.9, 5.0])
    for side in ("left", "right"):
        np.testing.assert_allclose(fine.at(x, side=side), rough.at(x, side=side))
