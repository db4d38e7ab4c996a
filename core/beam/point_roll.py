"""Point masses where the part twists: as they turn with the centreline where that is given, else spread evenly over the
width where they sit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.beam.functions import Function, Odd
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]


def roll_inertia(spec: BeamSpec, functions: Sequence[Function]) -> Array:
    """(..., K, F, F) of the functions' values at every point mass; nothing of those that do not twist."""
    t, weight = np.polynomial.legendre.leggauss(4)  # exact for y and y^3
    odd = [i for i, f in enumerate(functions) if isinstance(f, Odd)]
    count = len(functions)
    kilograms = np.atleast_1d(spec.mass_kg)
    out = np.zeros((*kilograms.shape, count, count))
    for k, (x, roll) in enumerate(zip(spec.mass_x_m.tolist(), spec.roll_kg_m2.tolist(), strict=True)):
        width = float(spec.width.at(np.array([min(x, (1.0 - 1e-9) * spec.span_m)]))[0])
        y = np.append(0.5 * width * t, 0.0)
        shapes = {i: _values(functions[i], y) for i in odd}
        for i in odd:
            for j in odd:
                if roll:
                    out[..., k, i, j] = roll * shapes[i][1] * shapes[j][1]
                else:
                    out[..., k, i, j] = kilograms[..., k] * (0.5 * float(weight @ (shapes[i][0] * shapes[j][0])))
    return out


def _values(function: Function, y: Array) -> tuple[Array, float]:
    """At the places but the last, and the slope at the last."""
    assert isinstance(function, Odd)
    value, slope, _ = function.shape(y, ())
    return value[:-1], float(slope[-1])
