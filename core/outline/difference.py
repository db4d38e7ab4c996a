"""How far two curves of width over the same span differ: one measure for all that compare a model with a drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.outline.width import WidthCurve

Array = NDArray[np.float64]

REACH_M = 2e-5
"""Moving a step or an end of the width along x by no more than this is no difference."""


@dataclass(frozen=True)
class Difference:
    """Largest difference of the width, m, where it is, and of the area up to any x over the whole area."""

    width_m: float
    at_m: float
    area_share: float


def difference(model: WidthCurve, true: WidthCurve, reach_m: float = REACH_M) -> Difference:
    """The largest difference between two width curves, ends and everything between stations included.

    At each x the model may have any of the true widths within `reach_m` of it, so that a step
    modelled as a short ramp counts as what it is. What such a reach could hide shows in the area,
    which is compared without any.
    """
    marks = np.concatenate([true.x_m, model.x_m, *(true.x_m + by for by in (-reach_m, reach_m))])
    end = max(true.span_m, model.span_m)
    x = np.unique(np.clip(marks, 0.0, end))
    # Between two marks both sides of the comparison are straight but for one bend.
    x = np.unique(np.concatenate([x, 0.5 * (x[1:] + x[:-1])]))
    low, high = _extremes(true, x, reach_m)
    off = np.zeros(len(x))
    inside = np.clip(x, model.x_m[0], model.x_m[-1])
    for width in _sides(model, np.where(np.abs(x - inside) <= reach_m, inside, x)):
        off = np.maximum(off, np.maximum(width - high, low - width))
    worst = int(off.argmax())
    area = max(true.area_m2, 1e-300)
    drift = np.abs(_area_to(model, x) - _area_to(true, x))
    return Difference(max(float(off[worst]), 0.0), float(x[worst]), float(drift.max()) / area)


def _sides(curve: WidthCurve, x: Array) -> tuple[Array, Array]:
    """Width just before and just after each x; the same but at a step, nothing outside the span."""
    cx, cw = curve.x_m, curve.width_m
    before, after = np.searchsorted(cx, x, side="left"), np.searchsorted(cx, x, side="right")
    at = np.interp(x, cx, cw, left=0.0, right=0.0)
    on = after > before
    last = len(cx) - 1
    return (
        np.where(on, cw[np.minimum(before, last)], at),
        np.where(on, cw[np.clip(after - 1, 0, last)], at),
    )


def _extremes(curve: WidthCurve, x: Array, reach_m: float) -> tuple[Array, Array]:
    """Smallest and largest width of the curve within `reach_m` of each x, of what lies in its span."""
    span = curve.span_m
    a, b = np.clip(x - reach_m, 0.0, span), np.clip(x + reach_m, 0.0, span)
    ends = np.stack([*_sides(curve, a), *_sides(curve, b)])
    low, high = ends.min(axis=0), ends.max(axis=0)
    first, last = np.searchsorted(curve.x_m, a, side="left"), np.searchsorted(curve.x_m, b, side="right")
    for reduce, bound in ((np.minimum, low), (np.maximum, high)):
        # reduceat takes pairs of indices; those between the pairs are passed over.
        pairs = np.stack([first, np.maximum(last, first)], axis=1).ravel()
        padded = np.append(curve.width_m, curve.width_m[-1])
        inside = reduce.reduceat(padded, np.minimum(pairs, len(padded) - 1))[::2]
        reduce(bound, np.where(last > first, inside, bound), out=bound)
    beyond = x > span + reach_m
    return np.where(beyond, 0.0, low), np.where(beyond, 0.0, high)


def _area_to(curve: WidthCurve, x: Array) -> Array:
    """Area up to each x, m^2."""
    cx, cw = curve.x_m, curve.width_m
    step = np.concatenate([[0.0], np.cumsum(0.5 * (cw[1:] + cw[:-1]) * np.diff(cx))])
    i = np.clip(np.searchsorted(cx, x, side="right") - 1, 0, len(cx) - 2)
    run = np.clip(x - cx[i], 0.0, cx[i + 1] - cx[i])
    length = np.maximum(cx[i + 1] - cx[i], 1e-300)
    return np.asarray(step[i] + run * (cw[i] + 0.5 * run / length * (cw[i + 1] - cw[i])))
