"""Triangular matrices inverted, of many and of few."""

import numpy as np
import pytest

from core.beam.triangular import FEW, inverse_lower


@pytest.mark.parametrize("n", [1, 2, 3, 4, 7, 12, 15])
def test_inverse_of_few_and_of_many(n):
    rng = np.random.default_rng(n)
    many = np.tril(rng.uniform(-0.3, 0.3, (2, FEW // (2 * n * n) + 1, n, n)), -1) + np.eye(n)
    for lower in (many, many[:1, :1]):
        found = inverse_lower(lower)
        assert found @ lower == pytest.approx(np.broadcast_to(np.eye(n), lower.shape), abs=1e-11)
        assert not np.triu(found, 1).any()
