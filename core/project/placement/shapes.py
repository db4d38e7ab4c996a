"""Rectangles that move against lines, discs and rings: by which shifts they overlap.

Everything follows from one question: for which shifts t along a direction does a rectangle
overlap a shape? Two convex bodies overlap when their shadows do on every separating axis, and under
a shift each axis allows one open interval of t. So the same numbers say whether a package lies
over something now, how far it can go before it does, and where it is clear again, exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Direction = tuple[float, float]
Directions = tuple[Array | float, Array | float]
"""One for all boxes, or arrays (P,) of one each."""
Stretch = tuple[float, float]
"""An open interval of shifts, m; its ends may be infinite."""

ALONG: Direction = (1.0, 0.0)
ACROSS: Direction = (0.0, 1.0)
BEYOND_M = 1e-6
"""Past the outermost boundary it is asked this far: right behind it, for a way aslant may leave the part by an end, which is
no boundary of its edge, and further off lies beside it."""


@dataclass(frozen=True)
class Boxes:
    """P rectangles in plan: centre, half length along and half width across, turn; each (P,), SI."""

    x: Array
    y: Array
    half_l: Array
    half_b: Array
    angle: Array

    def __len__(self) -> int:
        return len(self.x)

    def shrunk(self, by_m: float) -> Boxes:
        return Boxes(self.x, self.y, self.half_l - by_m, self.half_b - by_m, self.angle)

    def shifted(self, shift: Array | float, direction: Directions) -> Boxes:
        return replace(self, x=self.x + shift * direction[0], y=self.y + shift * direction[1])

    def only(self, which: NDArray[np.intp]) -> Boxes:
        """Some of the rectangles."""
        return Boxes(
            self.x[which], self.y[which], self.half_l[which], self.half_b[which], self.angle[which]
        )

    @cached_property
    def turn(self) -> tuple[Array, Array]:
        """(cosine, sine) of the turn."""
        return np.cos(self.angle), np.sin(self.angle)

    @cached_property
    def reach_x(self) -> Array:
        """How far each reaches from its centre along x."""
        c, s = self.turn
        return self.half_l * np.abs(c) + self.half_b * np.abs(s)

    @cached_property
    def corners(self) -> Array:
        """(P, 4, 2) counter-clockwise from the one at the root on the right."""
        c, s = self.turn
        u = self.half_l[:, None] * np.array([-1.0, 1.0, 1.0, -1.0])
        v = self.half_b[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
        x = self.x[:, None] + u * c[:, None] - v * s[:, None]
        return np.stack([x, self.y[:, None] + u * s[:, None] + v * c[:, None]], axis=-1)


class Shape(Protocol):
    """Something that rectangles can lie over."""

    def shifts(self, boxes: Boxes, direction: Directions) -> tuple[Array, Array]:
        """(P, N) ends of the open intervals of shifts at which a box crosses each of N boundaries."""
        ...

    def crosses(self, boxes: Boxes) -> Bools:
        """(P,) whether a box crosses a boundary where it is: of `shifts`, whether one of the intervals holds 0."""
        ...

    def holds(self, boxes: Boxes) -> Bools:
        """(P,) whether a box that crosses no boundary lies on the wrong side of all of them."""
        ...

    def distance(self, boxes: Boxes) -> Array:
        """(P,) least distance in plan; 0 where a box lies over it."""
        ...


@dataclass(frozen=True)
class End:
    """All of the plane past an end of the span: x below `x_m` where `outward` is -1, above where +1."""

    x_m: float
    outward: int

    def _depth(self, boxes: Boxes) -> Array:
        return np.asarray(boxes.reach_x - self.outward * (self.x_m - boxes.x))

    def crosses(self, boxes: Boxes) -> Bools:
        return np.asarray(self._depth(boxes) > 0.0)

    def shifts(self, boxes: Boxes, direction: Directions) -> tuple[Array, Array]:
        depth = self._depth(boxes)
        rate = np.broadcast_to(np.reshape(self.outward * direction[0], (-1, 1)), (len(boxes), 1))
        return _window(-depth[:, None], np.full((len(boxes), 1), np.inf), rate)

    def holds(self, boxes: Boxes) -> Bools:
        return np.zeros(len(boxes), dtype=bool)

    def distance(self, boxes: Boxes) -> Array:
        return np.maximum(self.outward * (self.x_m - boxes.x) - boxes.reach_x, 0.0)


@dataclass(frozen=True)
class Disc:
    """A round hole."""

    x_m: float
    y_m: float
    radius_m: float

    def _seen(self, boxes: Boxes) -> tuple[Array, Array]:
        """(u, v) of the middle in the axes of each box."""
        c, s = boxes.turn
        x, y = self.x_m - boxes.x, self.y_m - boxes.y
        return x * c + y * s, y * c - x * s

    def crosses(self, boxes: Boxes) -> Bools:
        u, v = self._seen(boxes)
        over_u, over_v, r = np.abs(u) - boxes.half_l, np.abs(v) - boxes.half_b, self.radius_m
        return ((over_u < r) & (over_v < 0.0)) | ((over_u < 0.0) & (over_v < r)) | (over_u**2 + over_v**2 < r**2)

    def shifts(self, boxes: Boxes, direction: Directions) -> tuple[Array, Array]:
        """The middle crosses the box widened by the radius with rounded corners: a convex body, and
        the union of two rectangles and four circles."""
        c, s = boxes.turn
        du, dv = direction[0] * c + direction[1] * s, direction[1] * c - direction[0] * s
        u, v = self._seen(boxes)
        a, b, r = boxes.half_l, boxes.half_b, self.radius_m
        low = np.full(len(boxes), np.inf)
        high = np.full(len(boxes), -np.inf)
        for wide_u, wide_v in ((a + r, b), (a, b + r)):
            one, two = _window(u - wide_u, u + wide_u, du), _window(v - wide_v, v + wide_v, dv)
            low, high = _widened(low, high, np.maximum(one[0], two[0]), np.minimum(one[1], two[1]))
        for side_u in (-1.0, 1.0):
            for side_v in (-1.0, 1.0):
                pu, pv = u - side_u * a, v - side_v * b
                middle, square = pu * du + pv * dv, pu**2 + pv**2
                half = np.sqrt(np.maximum(r**2 - square + middle**2, 0.0))
                low, high = _widened(low, high, middle - half, middle + half)
        return low[:, None], high[:, None]

    def holds(self, boxes: Boxes) -> Bools:
        return np.zeros(len(boxes), dtype=bool)

    def distance(self, boxes: Boxes) -> Array:
        u, v = self._seen(boxes)
        out = np.hypot(np.maximum(np.abs(u) - boxes.half_l, 0.0), np.maximum(np.abs(v) - boxes.half_b, 0.0))
        return np.maximum(out - self.radius_m, 0.0)


@dataclass(frozen=True, eq=False)
class Ring:
    """A closed line: what lies within it (a keep-out, a slot, a package), or what lies outside.

    corners : (M, 2); segments : (N, 4) the sides x0, y0, x1, y1 that count as boundary;
    span : where given, a box is asked about at the x of its middle clipped to it.
    """

    corners: Array
    segments: Array
    outside: bool = False
    span: Stretch | None = None

    @staticmethod
    def of(corners: Array) -> Ring:
        """What lies within a closed line of corners (M, 2)."""
        return Ring(corners, sides(corners))

    def _shadows(self, boxes: Boxes) -> tuple[Array, Array, Array, Array]:
        """(3, P, N) least and most of a shift of every side against every box, times `rate` of its axis, at which they
        overlap there: across the sides' own extent on both axes of the box, and across each side; and its normal (P, N)."""
        c, s = (v[:, None] for v in boxes.turn)
        x0, y0, x1, y1 = (self.segments[:, k] - (boxes.y if k % 2 else boxes.x)[:, None] for k in range(4))
        u0, v0, u1, v1 = x0 * c + y0 * s, y0 * c - x0 * s, x1 * c + y1 * s, y1 * c - x1 * s
        a, b = boxes.half_l[:, None], boxes.half_b[:, None]
        normal_u, normal_v = v0 - v1, u1 - u0
        radius, foot = a * np.abs(normal_u) + b * np.abs(normal_v), normal_u * u0 + normal_v * v0
        least = np.array([np.minimum(u0, u1) - a, np.minimum(v0, v1) - b, foot - radius])
        most = np.array([np.maximum(u0, u1) + a, np.maximum(v0, v1) + b, foot + radius])
        return least, most, normal_u, normal_v

    def crosses(self, boxes: Boxes) -> Bools:
        least, most, _, _ = self._shadows(boxes)
        over = np.logical_and(least < 0.0, most > 0.0).min(axis=0)
        return np.asarray(over.max(axis=1, initial=False))

    def shifts(self, boxes: Boxes, direction: Directions) -> tuple[Array, Array]:
        c, s = (v[:, None] for v in boxes.turn)
        direction = (np.reshape(direction[0], (-1, 1)), np.reshape(direction[1], (-1, 1)))
        du, dv = direction[0] * c + direction[1] * s, direction[1] * c - direction[0] * s
        least, most, normal_u, normal_v = self._shadows(boxes)
        across = normal_u * du + normal_v * dv
        rate = np.stack([np.broadcast_to(du, across.shape), np.broadcast_to(dv, across.shape), across])
        low, high = _window(least, most, rate)
        return low.max(axis=0), high.min(axis=0)

    def holds(self, boxes: Boxes) -> Bools:
        x = boxes.x if self.span is None else np.clip(boxes.x, *self.span)
        return self.has(x, boxes.y) != self.outside

    def has(self, x: Array, y: Array) -> Bools:
        """(P,) whether points lie within the closed line (crossings to the left are odd)."""
        x0, y0, y1, run, rise = self._crossed
        px, py = x[:, None], y[:, None]
        steps = (y0 > py) != (y1 > py)
        crossing = x0 + (py - y0) * run / rise
        return np.asarray((steps & (px < crossing)).sum(axis=1) % 2 == 1)

    @cached_property
    def _crossed(self) -> tuple[Array, Array, Array, Array, Array]:
        """(M,) x0, y0, y1, x1 - x0 and y1 - y0 (1 where that is nothing) of the closed line's sides."""
        a, b = self.corners, np.roll(self.corners, -1, axis=0)
        return a[:, 0], a[:, 1], b[:, 1], b[:, 0] - a[:, 0], np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])

    def distance(self, boxes: Boxes) -> Array:
        over = overlaps(self, boxes)
        corners = boxes.corners
        near = np.full(len(boxes), np.inf)
        for start, end in ((self.segments[:, :2], self.segments[:, 2:]),):
            for k in range(4):
                near = np.minimum(near, _to_segments(corners[:, k], start, end))
                one, two = corners[:, k, None], corners[:, (k + 1) % 4, None]
                near = np.minimum(near, _to_side(start[None], one, two).min(axis=1))
                near = np.minimum(near, _to_side(end[None], one, two).min(axis=1))
        return np.where(over, 0.0, near)

    def excess(self, boxes: Boxes) -> Array:
        """(P,) how far the furthest corner of a box lies on the wrong side of the boundary; 0 where none
        does."""
        out = np.zeros(len(boxes))
        for k in range(4):
            corner = boxes.corners[:, k]
            wrong = self.has(corner[:, 0], corner[:, 1]) != self.outside
            if self.span is not None:
                wrong &= (corner[:, 0] >= self.span[0]) & (corner[:, 0] <= self.span[1])
            far = _to_segments(corner, self.segments[:, :2], self.segments[:, 2:])
            out = np.where(wrong, np.maximum(out, far), out)
        return out


def sides(corners: Array) -> Array:
    """(N, 4) sides of a closed line of corners (M, 2), those of no length left out."""
    found = np.concatenate([corners, np.roll(corners, -1, axis=0)], axis=1)
    return np.asarray(found[(found[:, :2] != found[:, 2:]).any(axis=1)])


def overlaps(shape: Shape, boxes: Boxes) -> Bools:
    """(P,) whether each box lies over the shape."""
    return shape.crosses(boxes) | shape.holds(boxes)


def stretches(shape: Shape, box: Boxes, direction: Direction) -> list[Stretch]:
    """Every open interval of shifts at which one box lies over the shape, apart and in order."""
    return stretches_each(shape, box, direction)[0]


def stretches_each(shape: Shape, boxes: Boxes, direction: Directions) -> list[list[Stretch]]:
    """`stretches` of each of many boxes, with a direction of its own each where that is two arrays (P,).

    Between two boundaries a box stays on one side of them, so one look there is enough.
    """
    low, high = (side.tolist() for side in shape.shifts(boxes, direction))
    every = [_merged([(a, b) for a, b in zip(*ends, strict=True) if a < b]) for ends in zip(low, high, strict=True)]
    gaps = [
        (p, gap)
        for p, merged in enumerate(every)
        for gap in pairwise([-np.inf, *(end for stretch in merged for end in stretch), np.inf])
    ]
    gaps = [(p, (a, b)) for p, (a, b) in gaps if a < b and (a, b) not in every[p]]
    which = np.array([p for p, _ in gaps], dtype=np.intp)
    shift = np.array([_within(gap) for _, gap in gaps])
    x_way, y_way = (d[which] if isinstance(d, np.ndarray) else d for d in direction)
    held = shape.holds(boxes.only(which).shifted(shift, (x_way, y_way))).tolist() if gaps else []
    for (p, gap), over in zip(gaps, held, strict=True):
        if over:
            every[p].append(gap)
    return [_joined(sorted(found)) for found in every]


def _merged(crossing: list[Stretch]) -> list[Stretch]:
    """Intervals that overlap as one, in order."""
    merged: list[Stretch] = []
    for a, b in sorted(crossing):
        if merged and a < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], b))
        else:
            merged.append((a, b))
    return merged


def _within(gap: Stretch) -> float:
    a, b = gap
    if np.isinf(a) and np.isinf(b):
        return 0.0
    if np.isinf(a):
        return b - BEYOND_M
    return a + BEYOND_M if np.isinf(b) else 0.5 * (a + b)


def _joined(found: list[Stretch]) -> list[Stretch]:
    """Intervals in order, those that meet as one."""
    out: list[Stretch] = []
    for a, b in found:
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(b, out[-1][1]))
        else:
            out.append((a, b))
    return out


def _window(low: Array, high: Array, rate: Array) -> tuple[Array, Array]:
    """Ends of the open interval of t with low < t rate < high."""
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = low / rate, high / rate
    still, inside = rate == 0.0, (low < 0.0) & (high > 0.0)
    start = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, two))
    return start, np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, two))


def _widened(low: Array, high: Array, more_low: Array, more_high: Array) -> tuple[Array, Array]:
    """Two intervals of one convex body as one; an empty one adds nothing."""
    real = more_low < more_high
    return np.where(real, np.minimum(low, more_low), low), np.where(real, np.maximum(high, more_high), high)


def _to_segments(points: Array, start: Array, end: Array) -> Array:
    """(P,) least distance of points (P, 2) to segments (N, 2), (N, 2)."""
    if not len(start):
        return np.full(len(points), np.inf)
    return _to_side(points[:, None], start[None], end[None]).min(axis=1)


def _to_side(point: Array, start: Array, end: Array) -> Array:
    """Distance of points (..., 2) to segments (..., 2)."""
    along = end - start
    square = np.maximum((along**2).sum(axis=-1), 1e-300)
    share = np.clip(((point - start) * along).sum(axis=-1) / square, 0.0, 1.0)
    off = point - start - share[..., None] * along
    return np.asarray(np.hypot(off[..., 0], off[..., 1]))
