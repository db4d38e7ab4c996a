"""Outline to net width: what holes and slots leave of the plan width."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.beam.distinct import distinct
from core.beam.profile import Linear
from core.project.structure import CutOut, Structure

Array = NDArray[np.float64]


@dataclass(frozen=True)
class NetWidth:
    """Width, m, linear between bounds, less the chords of round holes.

    centre_m, radius_m : (holes,); every end of a hole inside the span is a bound.
    """

    linear: Linear
    centre_m: Array
    radius_m: Array

    @property
    def bounds(self) -> Array:
        return self.linear.bounds

    def at(self, x: Array, *, side: str = "right") -> Array:
        """Width at x; at a jump that of the segment on the given side."""
        return self.linear.at(x, side=side) - self.chord_m(x)

    def chord_m(self, x: Array) -> Array:
        """Sum of the holes' chords at x."""
        return chord_m(np.asarray(x, dtype=float), self.centre_m, self.radius_m)

    def in_hole(self) -> NDArray[np.bool_]:
        """(segments,) whether a hole takes width away there."""
        middle = 0.5 * (self.bounds[1:] + self.bounds[:-1])
        return self.chord_m(middle) > 0.0


def chord_m(x: Array, centre_m: Array, radius_m: Array) -> Array:
    """Sum of the chords at x of circles; zero beside them."""
    out = np.zeros(x.shape)
    for c, r in zip(centre_m.tolist(), radius_m.tolist(), strict=True):
        out += 2.0 * np.sqrt(np.maximum((x - (c - r)) * ((c + r) - x), 0.0))
    return out


def _slot(cut: CutOut) -> Linear:
    ends = np.array([cut.x_m - 0.5 * cut.length_m, cut.x_m + 0.5 * cut.length_m])
    return Linear(ends, np.array([cut.width_m]), np.array([cut.width_m]))


def net_width(structure: Structure) -> NetWidth:
    """Plan width less cut-outs along the span (PHYSICS of a section: E b with net b).

    Cut-outs that reach past the ends of the span count only inside it.
    """
    stations = np.asarray(structure.stations_m, dtype=float)
    width = Linear.through(stations, structure.width_m)
    lo, hi = stations[0], stations[-1]
    holes = [c for c in structure.cut_outs if c.kind == "hole"]
    for cut in structure.cut_outs:
        if cut.kind != "hole":
            width = _less(width, _slot(cut), lo, hi)
    centre, radius = np.array([c.x_m for c in holes]), np.array([0.5 * c.diameter_m for c in holes])
    ends = np.concatenate([centre - radius, centre + radius])
    ends = ends[(ends > lo) & (ends < hi)]
    return NetWidth(width.on(distinct(np.concatenate([width.bounds, ends]))), centre, radius)


def _less(width: Linear, removed: Linear, lo: float, hi: float) -> Linear:
    inner = removed.bounds[(removed.bounds > lo) & (removed.bounds < hi)]
    bounds = distinct(np.concatenate([width.bounds, inner]))
    gone = removed.on(distinct(np.concatenate([removed.bounds, bounds])))
    a, b = removed.bounds[0], removed.bounds[-1]
    keep = (gone.bounds[:-1] >= lo - 1e-15) & (gone.bounds[1:] <= hi + 1e-15)
    gone = Linear(bounds, gone.left[keep], gone.right[keep]).masked(a, b)
    return width.on(bounds).minus(gone)
