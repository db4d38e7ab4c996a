"""The plan that the model makes of a part: its centred outline less the cut-outs, as an area."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from core.outline.width import WidthCurve, width_curve
from core.project.plan import cut_reach
from core.project.structure import CutOut

Array = NDArray[np.float64]

ROUND_CORNERS = 128
"""Corners of a round hole: its width is off by less than 4e-4 of the diameter."""


def corners(x_m: Array, width_m: Array) -> Array:
    """(2 n, 2) corners of the centred outline of these stations, beam axes, m."""
    half = 0.5 * width_m
    return np.concatenate([np.column_stack([x_m, half]), np.column_stack([x_m, -half])[::-1]])


def net_curve(x_m: Array, width_m: Array, cut_outs: tuple[CutOut, ...]) -> WidthCurve:
    """Width of stations less cut-outs, as the model takes it."""
    if not cut_outs:
        return WidthCurve(x_m, width_m)
    holes = [_area(cut) for cut in cut_outs]
    area = Polygon(corners(x_m, width_m), [hole.exterior for hole in holes])
    if not area.is_valid:  # cut-outs that overlap or cross the edge
        area = Polygon(corners(x_m, width_m)).difference(shapely.union_all(holes))
    if area.is_empty or not isinstance(area, Polygon):
        return WidthCurve(x_m, width_m)  # cut in two: a problem of its own, told there
    return width_curve(area)


def _area(cut: CutOut) -> Polygon:
    half_length, half_width = cut_reach(cut)
    if cut.kind != "hole":
        return box(cut.x_m - half_length, cut.y_m - half_width, cut.x_m + half_length, cut.y_m + half_width)
    angle = 2 * np.pi * np.arange(ROUND_CORNERS) / ROUND_CORNERS
    ring = np.column_stack([cut.x_m + half_length * np.cos(angle), cut.y_m + half_length * np.sin(angle)])
    return Polygon(ring)
