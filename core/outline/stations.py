"""Stations of width so chosen that straight lines between them stay within a stated error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.outline.width import WidthCurve

Array = NDArray[np.float64]

RAMP_M = 1e-5
"""A step of the width becomes a ramp of this length."""
GRID_M = 1e-6
"""Stations lie on whole micrometres: a table a person can read."""
MOST_STATIONS = 120
NARROWEST = 0.002
"""A part that ends in a point ends in this share of its largest width instead."""


@dataclass(frozen=True, eq=False)
class Stations:
    """Stations x and widths, m, and how far the width between them is off at worst."""

    x_m: Array
    width_m: Array
    error_m: float
    error_share: float
    """Error over the largest width."""
    error_at_m: float


def choose(curve: WidthCurve, share: float) -> Stations:
    """Few stations with an error within `share` of the largest width (steps as short ramps).

    More than `MOST_STATIONS` are never taken; the error told is then larger than asked for.
    """
    x, w = _single_valued(curve)
    w = np.maximum(w, NARROWEST * curve.widest_m)
    allowed = share * curve.widest_m
    keep = _corners(x, w, 0.95 * allowed)
    while len(keep) > MOST_STATIONS:
        allowed *= 1.5
        keep = _corners(x, w, allowed)
    at, width = x[keep], w[keep]
    at, width = _whole(at, width, curve.span_m)
    best = _told(at, width, x, w, curve.widest_m)
    fitted = np.maximum(_fitted(at, width, x, w), 0.5 * NARROWEST * curve.widest_m)
    better = _told(at, np.round(fitted / GRID_M) * GRID_M, x, w, curve.widest_m)
    return better if better.error_m < best.error_m else best


def _single_valued(curve: WidthCurve) -> tuple[Array, Array]:
    """The curve with its jumps as ramps; x increases strictly."""
    x, w = curve.x_m.copy(), curve.width_m
    jump = np.flatnonzero(np.diff(x) <= 0)
    x[jump] -= 0.5 * RAMP_M
    x[jump + 1] += 0.5 * RAMP_M
    # Corners nearer than a ramp to a jump would now be out of order.
    keep = np.ones(len(x), dtype=bool)
    high = np.maximum.accumulate(x)
    keep[1:] = x[1:] > high[:-1] + 1e-9
    keep[0] = True
    last = len(x) - 1
    if not keep[last]:
        keep[np.flatnonzero(keep)[-1]] = False
        keep[last] = True
    return x[keep], w[keep]


def _corners(x: Array, w: Array, allowed: float) -> NDArray[np.intp]:
    """Indices of corners to keep: split at the worst point until nothing is off by more than `allowed`.

    After Ramer (1972) and Douglas & Peucker (1973), with the error counted across (in width).
    """
    keep = np.zeros(len(x), dtype=bool)
    keep[[0, -1]] = True
    open_spans = [(0, len(x) - 1)]
    while open_spans:
        i, j = open_spans.pop()
        if j - i < 2:
            continue
        line = w[i] + (w[j] - w[i]) * (x[i + 1 : j] - x[i]) / (x[j] - x[i])
        off = np.abs(w[i + 1 : j] - line)
        worst = int(off.argmax())
        if off[worst] > allowed:
            k = i + 1 + worst
            keep[k] = True
            open_spans += [(i, k), (k, j)]
    return np.flatnonzero(keep)


def _whole(at: Array, width: Array, span_m: float) -> tuple[Array, Array]:
    """Stations on whole micrometres, ends kept, none nearer than a ramp to the next."""
    x = np.round(at / GRID_M) * GRID_M
    x[0], x[-1] = 0.0, np.round(span_m / GRID_M) * GRID_M
    chosen = [0]
    for i in range(1, len(x) - 1):
        if x[i] - x[chosen[-1]] >= 0.9 * RAMP_M and x[-1] - x[i] >= 0.9 * RAMP_M:
            chosen.append(i)
    chosen.append(len(x) - 1)
    return np.round(x[chosen], 9), np.round(width[chosen] / GRID_M) * GRID_M


def _fitted(at: Array, width: Array, x: Array, w: Array) -> Array:
    """Widths at the stations that fit the curve best in the mean: corners alone lie all on one side."""
    if len(at) > 100:
        return width
    places = np.unique(np.concatenate([x, at, 0.5 * (at[1:] + at[:-1])]))
    true = np.interp(places, x, w)
    weight = np.sqrt(np.gradient(places))
    hats = np.stack([np.interp(places, at, row) for row in np.eye(len(at))], axis=1)
    return np.asarray(np.linalg.lstsq(hats * weight[:, None], true * weight, rcond=None)[0])


def _told(at: Array, width: Array, x: Array, w: Array, widest: float) -> Stations:
    """The stations with their error: both curves are straight between the corners of either.

    Where the true width is steep (a step, the end of a round hole) a ramp's length along x is no
    error: what counts is how far the width leaves all widths within `RAMP_M` of its place.
    """
    places = np.unique(np.concatenate([x, at]))
    near = np.stack([np.interp(places + by, x, w) for by in (-RAMP_M, 0.0, RAMP_M)])
    model = np.interp(places, at, width)
    off = np.maximum(np.maximum(model - near.max(axis=0), near.min(axis=0) - model), 0.0)
    worst = int(off.argmax())
    error = float(off[worst])
    return Stations(at, width, error, error / widest if widest > 0 else 0.0, float(places[worst]))
