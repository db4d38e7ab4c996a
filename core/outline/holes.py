"""Holes of the outline: which are round or rectangular cut-outs, which count into the width itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LinearRing, Polygon

from core.project.plan import ROUND_M, off_round
from core.project.structure import CutOut

Array = NDArray[np.float64]

LEAST_CORNERS = 8
"""A circle drawn with fewer corners than this is taken as the polygon it is."""


def cut_out(ring: LinearRing) -> CutOut | None:
    """The ring, in beam axes, as a round hole or a slot along x; None for any other shape."""
    points = np.asarray(ring.coords)[:-1, :2]
    return _round(points) or _rectangle(points)


def _round(points: Array) -> CutOut | None:
    """A circle by least squares (Kasa 1976), if every corner lies on it."""
    if len(points) < LEAST_CORNERS:
        return None
    middle = points.mean(axis=0)
    p = points - middle
    rows = np.column_stack([2 * p, np.ones(len(p))])
    (a, b, c), *_ = np.linalg.lstsq(rows, (p**2).sum(axis=1), rcond=None)
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    off = np.abs(np.hypot(p[:, 0] - a, p[:, 1] - b) - radius).max()
    chords = np.hypot(*(np.roll(p, -1, axis=0) - p).T)
    if off > off_round(radius) or chords.max() > 0.9 * radius:
        return None
    return CutOut("hole", _tidy(middle[0] + a), _tidy(middle[1] + b), diameter_m=_tidy(2 * radius))


def _rectangle(points: Array) -> CutOut | None:
    """A rectangle with its sides along and across the axis."""
    low, high = points.min(axis=0), points.max(axis=0)
    length, width = (high - low).tolist()
    on_side = np.minimum(np.abs(points - low), np.abs(points - high)) < ROUND_M
    area = Polygon(points).area
    if not on_side.any(axis=1).all() or abs(area - length * width) > 1e-3 * length * width:
        return None
    x, y = (0.5 * (low + high)).tolist()
    return CutOut("slot", _tidy(x), _tidy(y), length_m=_tidy(length), width_m=_tidy(width))


def _tidy(value_m: float) -> float:
    """To 0.1 micrometre, free of binary dust."""
    return round(float(value_m), 7) + 0.0


def fits(cut: CutOut, x_m: Array, width_m: Array) -> bool:
    """Whether the cut-out lies within a centred outline of these stations, and between its ends."""
    length, across = (cut.diameter_m, cut.diameter_m) if cut.kind == "hole" else (cut.length_m, cut.width_m)
    x = cut.x_m + 0.5 * length * np.linspace(-1.0, 1.0, 33)
    if x[0] < x_m[0] or x[-1] > x_m[-1]:
        return False
    half = 0.5 * across * (np.sqrt(1.0 - np.linspace(-1.0, 1.0, 33) ** 2) if cut.kind == "hole" else 1.0)
    return bool(np.all(abs(cut.y_m) + half < 0.5 * np.interp(x, x_m, width_m) - 1e-6))
