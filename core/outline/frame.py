"""Where the beam lies on the drawing: its axis, its clamp line and tip, and the part in beam axes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from core.outline.difference import REACH_M
from core.outline.drawing import Array, OutlineError
from core.outline.ends import slant
from core.outline.width import WidthCurve, centre_line, width_curve
from core.units.words import millimetres

Point = tuple[float, float]
FAR_M = 1e3
SHORTEST_M = 1e-3
LEVEL_M = 1e-5
"""An axis that leaves a line by no more than this over its length runs along it."""
LONG_SIDE = 0.3
"""An edge of this share of the length is a side of the part."""
TURN = 0.1
STRAIGHT = 0.02
"""The middle of the section gives the axis within this angle, rad, and if it leaves a straight line by no more
than this share of the width."""
MIRROR_REACH = 0.02
"""A half outline may stop this share of its width short of the axis, or run past it."""


@dataclass(frozen=True)
class Frame:
    """Axis from `root` to `tip` (points of the drawing, m), and where the span begins and ends on it.

    `clamp_m` is the clamp line and `end_m` the tip, as distances along the axis from `root`;
    `mirrored` completes a half outline by its mirror image about the axis.
    """

    root: Point
    tip: Point
    clamp_m: float = 0.0
    end_m: float | None = None
    mirrored: bool = False

    @property
    def direction(self) -> Point:
        """Unit vector along the axis; OutlineError where its two points coincide."""
        dx, dy = self.tip[0] - self.root[0], self.tip[1] - self.root[1]
        length = math.hypot(dx, dy)
        if not length > 1e-9:
            raise OutlineError("The two points of the axis lie on each other. Drag one of them apart.")
        return dx / length, dy / length

    def scaled(self, ratio: float) -> Frame:
        """The same axis on a drawing `ratio` times as large."""
        root, tip = ((x * ratio, y * ratio) for x, y in (self.root, self.tip))
        end = None if self.end_m is None else self.end_m * ratio
        return Frame(root, tip, self.clamp_m * ratio, end, self.mirrored)

    def to_beam(self, points: Array) -> Array:
        """(n, 2) points of the drawing in beam axes: x from the clamp line, y to the left."""
        c, s = self.direction
        d = np.asarray(points, dtype=float) - np.array(self.root)
        return np.column_stack([d[:, 0] * c + d[:, 1] * s - self.clamp_m, -d[:, 0] * s + d[:, 1] * c])

    def to_drawing(self, points: Array) -> Array:
        """(n, 2) points in beam axes back on the drawing."""
        c, s = self.direction
        p = np.asarray(points, dtype=float)
        x, y = p[:, 0] + self.clamp_m, p[:, 1]
        return np.column_stack([self.root[0] + x * c - y * s, self.root[1] + x * s + y * c])

    def transformed(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the drawing in beam axes."""
        c, s = self.direction
        x, y = self.root
        return affine_transform(shape, [c, s, -s, c, -(x * c + y * s) - self.clamp_m, x * s - y * c])


def suggest(polygon: Polygon) -> Frame:
    """An axis along the longer side of the smallest box around the part, root at the left (or below).

    Where that side lies on a short edge only (an end that may be out of square), the middle of
    the section gives the direction. The root is where the part has its whole width.
    """
    corners = np.asarray(shapely.minimum_rotated_rectangle(polygon).exterior.coords)[:-1]
    a, b = corners[1] - corners[0], corners[2] - corners[1]
    along = a if np.hypot(*a) >= np.hypot(*b) else b
    length = float(np.hypot(*along))
    c, s = _level(float(along[0]) / length, float(along[1]) / length, length)
    if min(abs(c), abs(s)) > 0 and not _has_long_side(polygon, c, s, length):
        c, s = _level(*_along_middle(polygon, c, s), length)
    across = _middle_line(polygon, c, s)
    return _squared(polygon, along_axis(polygon, (-across * s, across * c), (c, s)))


def _level(c: float, s: float, length_m: float) -> Point:
    """A direction that points to the right (or up), along an axis of the drawing if next to it."""
    if abs(s) * length_m < LEVEL_M:
        c, s = math.copysign(1.0, c), 0.0
    elif abs(c) * length_m < LEVEL_M:
        c, s = 0.0, math.copysign(1.0, s)
    return (-c, -s) if c < -1e-9 or (abs(c) <= 1e-9 and s < 0) else (c, s)


def _has_long_side(polygon: Polygon, c: float, s: float, length_m: float) -> bool:
    """Whether an edge in that direction is no mere end edge."""
    steps = np.diff(np.asarray(polygon.exterior.coords)[:, :2], axis=0)
    run = steps @ np.array([c, s])
    beside = np.abs(steps @ np.array([-s, c]))
    return bool(np.any((np.abs(run) > LONG_SIDE * length_m) & (beside < LEVEL_M)))


def _along_middle(polygon: Polygon, c: float, s: float) -> Point:
    """The direction of the middle of the section, if that is straight and within `TURN` of the one given."""
    line = centre_line(affine_transform(polygon, [c, s, -s, c, 0.0, 0.0]))
    inner = slice(len(line.x_m) // 20, -(len(line.x_m) // 20))  # ends out of square lead astray
    x, y = line.x_m[inner], line.middle_m[inner]
    slope, level = np.polyfit(x, y, 1)
    off = np.abs(y - slope * x - level)
    width = float(np.median((line.high_m - line.low_m)[inner]))
    if abs(slope) > TURN or off.max() > STRAIGHT * width:
        return c, s
    turned = np.array([c - slope * s, s + slope * c])
    c, s = (turned / np.hypot(*turned)).tolist()
    return c, s


def along_axis(polygon: Polygon, through: Point, direction: Point) -> Frame:
    """The frame of an axis through a point of the drawing, from end to end of the part."""
    c, s = direction
    places = (np.asarray(polygon.exterior.coords)[:, :2] - np.array(through)) @ np.array([c, s])
    low, high = float(places.min()), float(places.max())
    x, y = through
    return Frame((x + low * c, y + low * s), (x + high * c, y + high * s))


def _squared(polygon: Polygon, frame: Frame) -> Frame:
    """The frame with its root where the part has its whole width, if its root edge is out of square."""
    length = slant(_curve_of(polygon, frame))
    if length <= REACH_M:
        return frame
    c, s = frame.direction
    return replace(frame, root=(frame.root[0] + length * c, frame.root[1] + length * s))


def root_slant(polygon: Polygon, frame: Frame) -> float | None:
    """Length, m, of a root edge out of square that the clamp line cuts off just so; None otherwise."""
    whole = replace(frame, clamp_m=0.0, end_m=None, mirrored=False)
    before = -float(whole.to_beam(np.asarray(polygon.exterior.coords)[:, :2])[:, 0].min())
    length = slant(_curve_of(polygon, replace(whole, clamp_m=-before)))
    cut = before + frame.clamp_m
    return length if length > REACH_M and abs(cut - length) < REACH_M else None


def _curve_of(polygon: Polygon, frame: Frame) -> WidthCurve:
    """Width of the whole part along the axis, from its own end on."""
    level = frame.transformed(polygon)
    return width_curve(affine_transform(level, [1, 0, 0, 1, -level.bounds[0], 0]))


def suggest_mirrored(polygon: Polygon) -> Frame:
    """An axis along the straight side of a closed half outline: the long side of its box that it fills more."""
    plain = suggest(polygon)
    beam = plain.to_beam(np.asarray(polygon.exterior.coords))
    step = np.diff(beam, axis=0)
    middle = 0.5 * (beam[1:, 1] + beam[:-1, 1])
    low, high = float(beam[:, 1].min()), float(beam[:, 1].max())
    near = 0.02 * (high - low)
    filled = [float(np.abs(step[np.abs(middle - y) < near, 0]).sum()) for y in (low, high)]
    y = low if filled[0] >= filled[1] else high
    ends = plain.to_drawing(np.array([[0.0, y], [float(beam[:, 0].max()), y]]))
    root, tip = ((float(a), float(b)) for a, b in ends)
    return Frame(root, tip, mirrored=True)


def suggest_half(chain: Array) -> Frame:
    """An axis through both ends of an open half outline."""
    root, tip = sorted((tuple(chain[0]), tuple(chain[-1])))
    return Frame((float(root[0]), float(root[1])), (float(tip[0]), float(tip[1])), mirrored=True)


def _middle_line(polygon: Polygon, c: float, s: float) -> float:
    """Distance across at which the axis runs: the middle of the section at most places of the part."""
    across = np.asarray(polygon.exterior.coords) @ np.array([-s, c])
    middle = 0.5 * float(across.min() + across.max())
    level = affine_transform(polygon, [c, s, -s, c, 0.0, 0.0])
    usual = float(np.median(centre_line(level).middle_m))
    # A part that is the same on both sides keeps the round number of its drawing.
    return middle if abs(usual - middle) < 0.02 * float(np.ptp(across)) else usual


def half_area(chain: Array, frame: Frame) -> Polygon:
    """The area between an open half outline and the axis, in drawing axes."""
    beam = frame.to_beam(chain)
    foot = np.array([[beam[-1, 0], 0.0], [beam[0, 0], 0.0]])
    polygon = Polygon(frame.to_drawing(np.concatenate([beam, foot])))
    if not polygon.is_valid or polygon.area <= 0:
        raise OutlineError(
            "The half outline crosses the axis. Lay the axis through both ends of it, or drag its points."
        )
    return polygon


def on_beam(polygon: Polygon, frame: Frame) -> Polygon:
    """The part in beam axes: mirrored if it is a half, cut off at the clamp line and the tip.

    Of several pieces the largest counts. OutlineError where nothing is left.
    """
    shape = frame.transformed(polygon)
    if frame.mirrored:
        shape = _whole(shape)
    end = FAR_M if frame.end_m is None else frame.end_m - frame.clamp_m
    if end <= SHORTEST_M:
        raise OutlineError("The tip line lies before the clamp line. Drag one of them away.")
    cut = shape.intersection(box(0.0, -FAR_M, end, FAR_M))
    pieces = [p for p in getattr(cut, "geoms", [cut]) if isinstance(p, Polygon) and p.area > 0]
    if not pieces:
        raise OutlineError(
            "Nothing of the part lies past the clamp line. Drag the clamp line towards the root."
        )
    part = max(pieces, key=lambda p: p.area)
    if part.bounds[2] < SHORTEST_M:
        raise OutlineError(
            f"Only {millimetres(part.bounds[2], 2)} of the part lie past the clamp line. Drag it towards the root."
        )
    return part


def _whole(half: BaseGeometry) -> BaseGeometry:
    """A half and its mirror image about the axis, with the slit between them closed.

    What lies on the smaller side of the axis is left out, so that a line drawn slightly past it
    does no harm.
    """
    upper, lower = (
        half.intersection(box(-FAR_M, *side)) for side in ((0.0, FAR_M, FAR_M), (-FAR_M, FAR_M, 0.0))
    )
    keep = upper if upper.area >= lower.area else lower
    if keep.is_empty or keep.area <= 0:
        raise OutlineError(
            "The axis does not run along the half outline. Drag its two points onto its straight side."
        )
    low, high = keep.bounds[1], keep.bounds[3]
    gap, tall = min(abs(low), abs(high)), high - low
    if gap > MIRROR_REACH * tall:
        raise OutlineError(
            f"The half outline stays {millimetres(gap)} away from the axis. "
            "Drag the axis onto its straight side, or switch the mirror image off."
        )
    if gap > 0:  # lay the straight side on the axis
        keep = affine_transform(keep, [1, 0, 0, 1, 0, -low if abs(low) < abs(high) else -high])
    both = shapely.union(keep, affine_transform(keep, [1, 0, 0, -1, 0, 0]))
    return shapely.simplify(both, 0.0)
