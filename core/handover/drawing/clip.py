"""Items moved to another place of the paper and cut to a window of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

from core.handover.drawing.items import Arrow, Circle, Item, Line, Point, Polygon, Polyline, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import hatch_lines
from core.handover.sheet.layout import Box

CORNERS = 72
"""Sides of the polygon that stands for a circle which is cut or stretched."""

Place = Callable[[Point], Point]


def round_outline(centre: Point, radius: float) -> tuple[Point, ...]:
    """A circle as a closed polygon; its corners lie on it."""
    turns = (2 * math.pi * n / CORNERS for n in range(CORNERS))
    return tuple((centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns)


def moved(item: Item, place: Place) -> Item:
    """The item with its points taken elsewhere; lettering and round marks keep their size."""
    match item:
        case Line() | Arrow():
            return replace(item, start=place(item.start), end=place(item.end))
        case Polyline() | Polygon():
            return replace(item, points=tuple(place(p) for p in item.points))
        case Circle():
            return replace(item, centre=place(item.centre))
        case Text():
            return replace(item, at=place(item.at))
        case _:
            raise TypeError(f"{type(item).__name__} is drawn on a sheet, not on a template")


def clipped(items: Iterable[Item], window: Box) -> Iterator[Item]:
    """What of the items lies in the window: lines are cut, text and marks are kept or left out whole."""
    for item in items:
        match item:
            case Line(start, end, layer, weight, dash):
                part = cut(start, end, window)
                if part:
                    yield Line(*part, layer, weight, dash)
            case Polyline(points, layer, weight, dash):
                for run in runs(points, window):
                    yield Polyline(run, layer, weight, dash)
            case Polygon():
                yield from _polygon(item, window)
            case Circle():
                (x, y), r = item.centre, item.radius_mm
                if _holds(window, (x - r, y - r, x + r, y + r)):
                    yield item
            case Arrow():
                if _inside(window, item.start) and _inside(window, item.end):
                    yield item
                elif part := cut(item.start, item.end, window):
                    yield Line(*part, item.layer, item.weight)
            case Text():
                if _holds(window, text_box(item)):
                    yield item


def _polygon(item: Polygon, window: Box) -> Iterator[Item]:
    if item.hatch:
        for start, end in hatch_lines(item.points, item.hatch):
            part = cut(start, end, window)
            if part:
                yield Line(*part, item.layer, item.hatch.weight)
    if item.fill and all(_inside(window, p) for p in item.points):
        yield replace(item, hatch=None)
    elif item.weight:
        for run in runs((*item.points, item.points[0]), window):
            yield Polyline(run, item.layer, item.weight, item.dash)


def runs(points: tuple[Point, ...], window: Box) -> Iterator[tuple[Point, ...]]:
    """The pieces of a polyline inside the window, each as long as it stays inside."""
    run: list[Point] = []
    for a, b in pairwise(points):
        part = cut(a, b, window)
        if part is None:
            if len(run) > 1:
                yield tuple(run)
            run = []
            continue
        if not run or run[-1] != part[0]:
            if len(run) > 1:
                yield tuple(run)
            run = [part[0]]
        run.append(part[1])
    if len(run) > 1:
        yield tuple(run)


def cut(a: Point, b: Point, window: Box) -> tuple[Point, Point] | None:
    """The part of a segment inside the window (Liang and Barsky 1984); ends inside stay untouched."""
    low, high = 0.0, 1.0
    for p, q, near, far in ((a[0], b[0], window.left, window.right), (a[1], b[1], window.top, window.bottom)):
        step = q - p
        if step == 0:
            if not near <= p <= far:
                return None
            continue
        t0, t1 = sorted(((near - p) / step, (far - p) / step))
        low, high = max(low, t0), min(high, t1)
    if low >= high:
        return None

    def along(t: float) -> Point:
        return a if t == 0.0 else b if t == 1.0 else (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))

    return along(low), along(high)


def _inside(window: Box, p: Point) -> bool:
    return window.left <= p[0] <= window.right and window.top <= p[1] <= window.bottom


def _holds(window: Box, box: tuple[float, float, float, float]) -> bool:
    return _inside(window, (box[0], box[1])) and _inside(window, (box[2], box[3]))
