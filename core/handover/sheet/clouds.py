"""The change cloud: a scalloped line around what differs from the last released revision."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from core.handover.drawing.items import Dimension, Item, Point, Polyline, Text
from core.handover.drawing.lettering import text_box
from core.handover.drawing.strokes import strokes
from core.handover.sheet.layout import Box

RADIUS_MM = 1.1
PAD_MM = 0.5
STEPS = 5


@dataclass(frozen=True)
class Earlier:
    """What stood on the sheet of the reference revision; `index` names it."""

    index: str
    labels: frozenset[str] = field(default_factory=frozenset)
    paragraphs: frozenset[str] = field(default_factory=frozenset)


def labels_of(items: Iterable[Item]) -> frozenset[str]:
    """Every text in and around the views."""
    return frozenset(p.text for item in items for p in strokes(item) if isinstance(p, Text))


def cloud(box: Box) -> Polyline:
    """A closed line of outward scallops just outside a box."""
    left, top = box.left - PAD_MM, box.top - PAD_MM
    right, bottom = box.right + PAD_MM, box.bottom + PAD_MM
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    points: list[Point] = []
    for a, b in zip(corners, (*corners[1:], corners[0]), strict=True):
        points += _scallops(a, b)
    return Polyline((*points, points[0]), "revision", "narrow")


def _scallops(a: Point, b: Point) -> Iterator[Point]:
    length = math.dist(a, b)
    count = max(1, round(length / (2.2 * RADIUS_MM)))
    dx, dy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    each = length / count
    for n in range(count):
        for k in range(STEPS):
            t = math.pi * k / STEPS
            along = each * (n + (1 - math.cos(t)) / 2)
            out = 0.35 * each * math.sin(t)
            # outward is to the left of the way round, y being down
            yield (a[0] + along * dx + out * dy, a[1] + along * dy - out * dx)


def around_labels(items: Sequence[Item], earlier: Earlier) -> Iterator[Item]:
    """Clouds around dimensions and words of the views that the reference sheet did not have."""
    for item in items:
        if isinstance(item, Dimension | Text):
            for text in strokes(item):
                if isinstance(text, Text) and text.text not in earlier.labels:
                    yield cloud(Box(*text_box(text)))


def around_lines(lines: Sequence[Text], right: float) -> Polyline:
    """One cloud around consecutive lines of a column."""
    boxes = [text_box(line) for line in lines]
    return cloud(Box(boxes[0][0], boxes[0][1] + 0.7, min(right, max(b[2] for b in boxes)), boxes[-1][3] - 0.7))
