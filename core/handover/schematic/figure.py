"""A schematic on paper: black lines in the box of a document, ceramics left white for a photocopy."""

from __future__ import annotations

from core.handover.drawing.items import Circle, Item, Polygon, Polyline, Text
from core.handover.schematic.picture import TEXT, Point, Schematic
from core.handover.sheet.layout import Box
from core.handover.text.document import Figure

UNIT_MM = 4.4
"""Of one unit where there is room: lettering of 2.2 mm."""


def schematic_figure(drawn: Schematic, caption: str, width_mm: float) -> Figure:
    """The drawing as a figure of a document whose lines are that wide; `words` list what is written in it."""
    unit = min(UNIT_MM, width_mm / drawn.width)
    return Figure(drawn.height * unit, lambda box: schematic_items(drawn, box), caption, drawn.words)


def schematic_items(drawn: Schematic, box: Box) -> tuple[Item, ...]:
    """The drawing in the middle of a box, as large as it may be."""
    unit = min(UNIT_MM, box.width / drawn.width, box.height / drawn.height)
    left = (box.left + box.right - unit * drawn.width) / 2

    def at(point: Point) -> Point:
        return (left + unit * point[0], box.top + unit * point[1])

    items: list[Item] = []
    for stroke in drawn.strokes:
        points = tuple(map(at, stroke.points))
        if stroke.fill is None:
            items.append(Polyline(points, "figure", "narrow", "dashed" if stroke.dashed else "solid"))
    for disc in drawn.discs:
        if not disc.filled:
            items.append(Polygon(_around(at(disc.centre), unit * disc.radius), "figure", None, fill="white"))
        items.append(Circle(at(disc.centre), unit * disc.radius, "figure", "narrow", disc.filled))
    for label in drawn.labels:
        items.append(Text(at(label.at), label.text, TEXT * unit, "figure", label.anchor, label.bold))
    return tuple(items)


def _around(centre: Point, r: float) -> tuple[Point, ...]:
    x, y = centre
    return ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
