"""Point masses where the part twists or curves across: as they move at their place across the width, and as they turn with
it where that is given, else spread evenly over the width on both sides of it, as far as the nearer edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.beam.functions import FLAT, Function, Odd
from core.beam.spec import BeamSpec

Array = NDArray[np.float64]

_T, _WEIGHT = np.polynomial.legendre.leggauss(4)  # exact for y and y^3


def point_inertia(spec: BeamSpec, functions: Sequence[Function]) -> tuple[Array, Array | None]:
    """Of the functions' values at every point mass: (..., K, F, F) with each other, (..., K, F) with the deflection of the
    centreline there; None for the latter where every mass sits on it.

    Even functions are taken at the mass's centre, what is spread counts in torsion only.
    """
    kilograms = np.atleast_1d(spec.mass_kg)[..., None]
    own, beside = [], []
    for k, x in enumerate(spec.mass_x_m.tolist()):
        half = 0.5 * float(spec.width.at(np.array([min(x, (1.0 - 1e-9) * spec.span_m)]))[0])
        aside, roll = float(spec.aside_m[k]), float(spec.roll_kg_m2[k])
        fixed = min(max(aside, -half), half)
        spread = np.zeros(4) if roll else (half - abs(fixed)) * _T
        values, slopes = zip(*(_values(f, x, fixed, aside - fixed, spread) for f in functions), strict=True)
        value, slope = (np.stack(np.broadcast_arrays(*v), axis=-2) for v in (values, slopes))
        weighed = value * (0.5 * _WEIGHT)
        turned = roll * slope * np.swapaxes(slope, -1, -2)
        own.append(kilograms[..., k, :, None] * (weighed @ np.swapaxes(value, -1, -2)) + turned)
        beside.append(kilograms[..., k, :] * weighed.sum(axis=-1))
    shape = (0, len(functions), len(functions))
    both = np.stack(np.broadcast_arrays(*own), axis=-3) if own else np.zeros(shape)
    return both, np.stack(np.broadcast_arrays(*beside), axis=-2) if spec.aside_m.any() else None


def _values(function: Function, x: float, fixed: float, arm: float, spread: Array) -> tuple[Array, Array]:
    """(..., 4) at the places the mass is spread over, (..., 1) slope across: beyond the edge on an arm that stays straight."""
    if isinstance(function, FLAT):
        return np.zeros(4), np.zeros(1)
    y = fixed + (spread if isinstance(function, Odd) else np.zeros(4))
    lead, at = _layouts(function), np.full((1, 1), x)
    arrays = function.shape(y[:, None, None, None], lead, at)
    turn = next(array for derivative, what, array in function.TERMS if (derivative, what) == (1, "twist"))
    value, slope = (np.moveaxis(np.broadcast_arrays(arrays[i], arrays[0])[0][..., 0, 0], 0, -1) for i in (0, turn))
    value, slope = value + arm * slope, slope
    return (value, slope[..., :1]) if lead else (value[0], slope[0, :1])


def _layouts(function: Function) -> tuple[NDArray[np.intp], ...]:
    """What picks every layout of a function that differs among them."""
    shapes = [v.shape for v in vars(function).values() if isinstance(v, np.ndarray)]
    return tuple(np.indices(np.broadcast_shapes(*shapes)))
