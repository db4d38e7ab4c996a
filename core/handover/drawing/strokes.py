"""Drawing items reduced to four primitives that any medium can draw.

`strokes(item)` yields polylines, filled polygons, circles and text, in paper mm, in drawing order.
A painter, an SVG writer and a test see the same primitives, so they agree by construction.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from core.handover.drawing.items import (
    DASH_MM,
    LINE_WIDTH_MM,
    Arrow,
    Circle,
    Dash,
    DatumSymbol,
    Dimension,
    Hatch,
    Item,
    Layer,
    Line,
    Point,
    Polygon,
    Polyline,
    Text,
    Weight,
)
from core.handover.drawing.lettering import ink_below_mm, text_box

ARROW_MM = 2.6
OVERSHOOT_MM, GAP_MM = 1.0, 0.8
OUTSIDE_ARROW_MM = 3.0


@dataclass(frozen=True)
class Stroke:
    """A line through points with its width and dashes, mm."""

    points: tuple[Point, ...]
    closed: bool
    width_mm: float
    dash_mm: tuple[float, ...]
    layer: Layer


@dataclass(frozen=True)
class Fill:
    """An area, black or white."""

    points: tuple[Point, ...]
    white: bool
    layer: Layer


Primitive = Stroke | Fill | Circle | Text


def strokes(item: Item) -> Iterator[Primitive]:
    """The primitives of one item, first drawn first."""
    match item:
        case Line(start, end, layer, weight, dash):
            yield _stroke((start, end), layer, weight, dash)
        case Polyline(points, layer, weight, dash):
            yield _stroke(points, layer, weight, dash)
        case Polygon():
            yield from _polygon(item)
        case Circle():
            yield item
        case Text():
            yield from _text(item)
        case Arrow(start, end, layer, weight, head):
            yield _stroke((start, _along(end, start, 0.8 * head)), layer, weight)
            yield _head(end, start, head, layer)
        case Dimension():
            yield from _dimension(item)
        case DatumSymbol():
            yield from _datum(item)


def _stroke(
    points: tuple[Point, ...], layer: Layer, weight: Weight, dash: Dash = "solid", closed: bool = False
) -> Stroke:
    return Stroke(points, closed, LINE_WIDTH_MM[weight], DASH_MM[dash], layer)


def _along(start: Point, towards: Point, distance: float) -> Point:
    length = math.dist(start, towards) or 1.0
    share = distance / length
    return (start[0] + share * (towards[0] - start[0]), start[1] + share * (towards[1] - start[1]))


def _head(tip: Point, tail: Point, length: float, layer: Layer) -> Fill:
    base = _along(tip, tail, length)
    half = length / 6
    dx, dy = (tip[0] - base[0]) / length, (tip[1] - base[1]) / length
    left = (base[0] - half * dy, base[1] + half * dx)
    right = (base[0] + half * dy, base[1] - half * dx)
    return Fill((tip, left, right), False, layer)


def _text(item: Text) -> Iterator[Primitive]:
    if item.clear:
        left, top, right, bottom = text_box(item)
        pad = 0.4
        if not item.angle_deg:  # no line below is shaved for letters that do not reach it
            bottom = item.at[1] + ink_below_mm(item.text, item.size_mm)
        yield Fill(
            ((left - pad, top), (right + pad, top), (right + pad, bottom), (left - pad, bottom)),
            True, item.layer,
        )  # fmt: skip
    yield item


def _polygon(item: Polygon) -> Iterator[Primitive]:
    if item.fill:
        yield Fill(item.points, item.fill == "white", item.layer)
    if item.hatch:
        for start, end in hatch_lines(item.points, item.hatch):
            yield _stroke((start, end), item.layer, item.hatch.weight)
    if item.weight:
        yield _stroke(item.points, item.layer, item.weight, item.dash, closed=True)


def hatch_lines(points: tuple[Point, ...], hatch: Hatch) -> Iterator[tuple[Point, Point]]:
    """Hatch lines cut to the polygon by the even-odd rule."""
    for angle in (hatch.angle_deg, hatch.angle_deg + 90) if hatch.crossed else (hatch.angle_deg,):
        c, s = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
        turned = [(x * c + y * s, y * c - x * s) for x, y in points]
        low = min(v for _, v in turned)
        high = max(v for _, v in turned)
        # lines at multiples of the spacing, so that neighbouring polygons hatch as one
        for k in range(math.ceil(low / hatch.spacing_mm), math.floor(high / hatch.spacing_mm) + 1):
            v = k * hatch.spacing_mm
            cuts = sorted(_crossings(turned, v))
            for u1, u2 in zip(cuts[::2], cuts[1::2], strict=False):
                if u2 - u1 > 1e-6:
                    yield (u1 * c - v * s, u1 * s + v * c), (u2 * c - v * s, u2 * s + v * c)


def _crossings(points: list[Point], v: float) -> Iterator[float]:
    for (u1, v1), (u2, v2) in zip(points, points[1:] + points[:1], strict=True):
        if (v1 <= v) != (v2 <= v):
            yield u1 + (v - v1) * (u2 - u1) / (v2 - v1)


def _dimension(item: Dimension) -> Iterator[Primitive]:
    along_x = item.axis == "x"

    def point(along: float, across: float) -> Point:
        return (along, across) if along_x else (across, along)

    def split(p: Point) -> tuple[float, float]:
        return p if along_x else (p[1], p[0])

    ends = []
    for measured in (item.start, item.end):
        along, across = split(measured)
        sign = math.copysign(1.0, item.line_at - across)
        if abs(item.line_at - across) > GAP_MM:
            yield _stroke(
                (point(along, across + sign * GAP_MM), point(along, item.line_at + sign * OVERSHOOT_MM)),
                item.layer, "fine",
            )  # fmt: skip
        ends.append(along)
    low, high = min(ends), max(ends)
    a, b = point(low, item.line_at), point(high, item.line_at)
    if item.outside:
        for tip, step in ((low, -1), (high, 1)):
            tail = point(tip + step * (ARROW_MM + OUTSIDE_ARROW_MM), item.line_at)
            yield _stroke((point(tip, item.line_at), tail), item.layer, "fine")
            yield _head(point(tip, item.line_at), tail, ARROW_MM, item.layer)
        yield _stroke((a, b), item.layer, "fine")
    else:
        yield _stroke((a, b), item.layer, "fine")
        yield _head(a, b, ARROW_MM, item.layer)
        yield _head(b, a, ARROW_MM, item.layer)
    clear = item.axis == "x"
    yield from _text(Text(item.text_at, item.label, item.size_mm, item.layer, item.anchor, clear=clear))


def _datum(item: DatumSymbol) -> Iterator[Primitive]:
    dx, dy = {"up": (0, -1), "down": (0, 1), "left": (-1, 0), "right": (1, 0)}[item.towards]
    x, y = item.foot
    height, half = 2.6, 1.6
    apex = (x + dx * height, y + dy * height)
    yield Fill((apex, (x - half * dy, y - half * dx), (x + half * dy, y + half * dx)), False, item.layer)
    near = (x + dx * (height + item.stem_mm), y + dy * (height + item.stem_mm))
    yield _stroke((apex, near), item.layer, "narrow")
    side = item.box_mm / 2
    centre = (near[0] + dx * side, near[1] + dy * side)
    corners = tuple((centre[0] + sx * side, centre[1] + sy * side) for sx, sy in
                    ((-1, -1), (1, -1), (1, 1), (-1, 1)))  # fmt: skip
    yield Fill(corners, True, item.layer)
    yield _stroke(corners, item.layer, "narrow", closed=True)
    size = 0.72 * item.box_mm
    yield Text((centre[0], centre[1] + 0.365 * size), item.letter, size, item.layer, "middle", bold=True)
