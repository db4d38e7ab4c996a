"""More points on a deflection than were sampled, so that a wave looks round at any size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PARTS = 4


def refined(x_m: Array, deflection: Array, curvature: Array, parts: int = PARTS) -> tuple[Array, Array]:
    """`parts` points per interval of x (n,) for deflections (..., n) of known curvature (..., n).

    Between samples the curvature is taken as straight, which makes the deflection the cubic
    through both values with both curvatures (exact where the bending moment is linear and the
    section constant). Intervals of no length, where x repeats at a jump, are left out.
    """
    real = np.flatnonzero(np.diff(x_m) > 0)
    if len(real) == 0:
        return x_m, deflection
    h = np.diff(x_m)[real]
    b = np.linspace(0.0, 1.0, parts, endpoint=False)
    a = 1.0 - b
    w0, w1 = deflection[..., real, None], deflection[..., real + 1, None]
    c0, c1 = curvature[..., real, None], curvature[..., real + 1, None]
    bend = ((a**3 - a) * c0 + (b**3 - b) * c1) * (h[:, None] ** 2 / 6.0)
    fine = (a * w0 + b * w1 + bend).reshape(*deflection.shape[:-1], -1)
    x = (x_m[real, None] + h[:, None] * b).ravel()
    return np.append(x, x_m[-1]), np.concatenate([fine, deflection[..., -1:]], axis=-1)
