"""The width of a polygon along x, exactly: it is straight between the corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

Array = NDArray[np.float64]
SAME_M = 1e-8
"""Corners closer than this along x count as one, at the x of the first."""


@dataclass(frozen=True, eq=False)
class WidthCurve:
    """Net width over x, m: straight between the points; x repeats where the width jumps."""

    x_m: Array
    width_m: Array

    @property
    def span_m(self) -> float:
        return float(self.x_m[-1])

    @property
    def widest_m(self) -> float:
        return float(self.width_m.max())

    @property
    def area_m2(self) -> float:
        return float(np.sum(0.5 * (self.width_m[1:] + self.width_m[:-1]) * np.diff(self.x_m)))


def edges_of(polygon: Polygon) -> tuple[Array, Array]:
    """(n, 2) starts and ends of all edges, material on the left of each."""
    starts, ends = [], []
    for ring, anticlockwise in ((polygon.exterior, True), *((r, False) for r in polygon.interiors)):
        points = np.asarray(ring.coords)[:, :2]
        if ring.is_ccw != anticlockwise:
            points = points[::-1]
        starts.append(points[:-1])
        ends.append(points[1:])
    return np.concatenate(starts), np.concatenate(ends)


def width_curve(polygon: Polygon) -> WidthCurve:
    """Net width of a polygon in beam axes from x = 0 to its far end."""
    a, b = edges_of(polygon)
    # Corners are merged and never moved onto a grid, which would change the area of a short part.
    every = np.unique(np.concatenate([a[:, 0], b[:, 0]]))
    x = every[np.concatenate([[True], np.diff(every) > SAME_M])]
    i, j = (np.searchsorted(x, side[:, 0], side="right") - 1 for side in (a, b))
    xa, xb = x[i], x[j]
    keep = i != j
    i, j, xa, xb, ya, yb = i[keep], j[keep], xa[keep], xb[keep], a[keep, 1], b[keep, 1]
    # Material lies above an edge that runs to larger x and below one that runs back.
    sign = np.where(j > i, -1.0, 1.0)
    slope = (yb - ya) / (xb - xa)
    level = ya - slope * xa
    first, last = np.minimum(i, j), np.maximum(i, j)
    slopes, levels = np.zeros(len(x)), np.zeros(len(x))
    for at, by in ((first, 1.0), (last, -1.0)):
        np.add.at(slopes, at, by * sign * slope)
        np.add.at(levels, at, by * sign * level)
    slopes, levels = np.cumsum(slopes)[:-1], np.cumsum(levels)[:-1]
    left = np.maximum(levels + slopes * x[:-1], 0.0)
    right = np.maximum(levels + slopes * x[1:], 0.0)
    xs = np.column_stack([x[:-1], x[1:]]).ravel()
    ws = np.column_stack([left, right]).ravel()
    keep_point = np.ones(len(xs), dtype=bool)
    keep_point[2::2] = np.abs(ws[2::2] - ws[1:-1:2]) > 1e-9
    return WidthCurve(xs[keep_point], ws[keep_point])


@dataclass(frozen=True, eq=False)
class CentreLine:
    """At places along the span: middle of the net section, m, and how many strips it is in."""

    x_m: Array
    middle_m: Array
    strips: NDArray[np.intp]
    low_m: Array
    high_m: Array


def centre_line(polygon: Polygon, count: int = 161) -> CentreLine:
    """Middle, outer edges and number of strips of the section at `count` places inside the span."""
    a, b = edges_of(polygon)
    low, high = polygon.bounds[0], polygon.bounds[2]
    x = low + (high - low) * (np.arange(count) + 0.5) / count
    sections = np.array([_section(a, b, float(place)) for place in x])
    middle, strips, lowest, highest = sections.T
    return CentreLine(x, middle, strips.astype(np.intp), lowest, highest)


def _section(a: Array, b: Array, x: float) -> tuple[float, float, float, float]:
    """Middle, strips, lowest and highest y of the section at x."""
    before, after = a[:, 0] <= x, b[:, 0] <= x
    crosses = np.flatnonzero(before != after)
    if not len(crosses):
        return 0.0, 0.0, np.inf, -np.inf
    p, q = a[crosses], b[crosses]
    y = p[:, 1] + (x - p[:, 0]) / (q[:, 0] - p[:, 0]) * (q[:, 1] - p[:, 1])
    sign = np.where(before[crosses], -1.0, 1.0)
    width, first = float(sign @ y), 0.5 * float(sign @ y**2)
    middle = first / width if width > 1e-12 else 0.0
    return middle, float(len(crosses) // 2), float(y.min()), float(y.max())
