"""The long edges of the part at x: those of the drawing where there is one, else what the stations say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.project.plan import profile_at
from core.project.structure import Structure

Array = NDArray[np.float64]

SAME_M = 1e-5
"""Edges that stay within this of a line are straight to a rule."""
STRAIGHT_SHARE = 0.8
"""Share of the span over which a straight edge must run; a tip may be round."""
PLACES = 201
LOOKING = "looking from root to tip, top face up"
"""The sheet of the underside shows the part turned over: left and right need this said."""


@dataclass(frozen=True)
class Across:
    """Where across the part is measured from: an edge at y, or None for the line in words."""

    y_m: float | None
    name: str


def edges_m(structure: Structure, x_m: Array) -> tuple[Array, Array]:
    """(lowest, highest) y of the part at each x, m; x beyond the span counts as its end."""
    x = np.clip(np.asarray(x_m, dtype=float), 0.0, structure.span_m)
    half = 0.5 * np.array([profile_at(structure.width_m, structure.stations_m, float(v)) for v in x])
    if structure.outline is None:
        return -half, half
    ring = np.asarray(structure.outline.exterior, dtype=float)
    a, b = ring, np.roll(ring, -1, axis=0)
    low, high = np.minimum(a[:, 0], b[:, 0])[:, None], np.maximum(a[:, 0], b[:, 0])[:, None]
    crosses = (low <= x) & (x <= high)
    run = (b[:, 0] - a[:, 0])[:, None]
    share = np.divide(x - a[:, :1], run, out=np.zeros((len(a), len(x))), where=np.abs(run) > 0.0)
    y = a[:, 1:] + share * (b[:, 1:] - a[:, 1:])
    steep = np.broadcast_to(np.abs(run) == 0.0, y.shape)
    upper = np.where(steep, np.maximum(a[:, 1], b[:, 1])[:, None], y)
    lower = np.where(steep, np.minimum(a[:, 1], b[:, 1])[:, None], y)
    lowest = np.where(crosses, lower, np.inf).min(axis=0)
    highest = np.where(crosses, upper, -np.inf).max(axis=0)
    return np.where(np.isfinite(lowest), lowest, -half), np.where(np.isfinite(highest), highest, half)


def measured_across(structure: Structure) -> Across:
    """A straight long edge where there is one, else the centreline, else the axis with where it runs."""
    x = structure.span_m * (np.arange(PLACES) + 0.5) / PLACES
    low, high = edges_m(structure, x)
    share = STRAIGHT_SHARE if structure.outline is not None else 1.0
    for y, side in ((low, "right"), (high, "left")):
        level = float(np.median(y))
        if (np.abs(y - level) <= SAME_M).mean() >= share:
            return Across(round(level, 9), f"long edge on the {side}, {LOOKING}")
    if np.abs(low + high).max() <= 2.0 * SAME_M:
        return Across(None, "centreline between the two long edges")
    at_root, at_tip = float(-low[0]), float(-low[-1])
    return Across(
        None,
        f"line {1e3 * at_root:.1f} off the right edge at the root end and {1e3 * at_tip:.1f} off it at the "
        f"tip end, {LOOKING}",
    )
