"""What a shop document is made of: plain drawing items in millimetres on the paper.

Paper coordinates: x to the right, y DOWN, from the top left corner of the sheet. Text sizes are
the em in mm (capital height is 0.73 of it). Every item names the layer it belongs to and the
weight of its line, so that screen, PDF, SVG, PNG and an exchange file draw the same thing.
An item that stands for something of the part (a dimension) also carries its value in the model.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]

Layer = Literal[
    "frame", "part", "support", "package", "ceramic", "centre", "dimension", "datum", "keep-out",
    "polarity", "lead", "section", "text", "caution", "title block", "mass", "revision", "figure",
]  # fmt: skip
Weight = Literal["wide", "medium", "narrow", "fine"]
Dash = Literal["solid", "dashed", "chain"]
Anchor = Literal["start", "middle", "end"]

LINE_WIDTH_MM: dict[Weight, float] = {"wide": 0.5, "medium": 0.35, "narrow": 0.25, "fine": 0.13}
DASH_MM: dict[Dash, tuple[float, ...]] = {
    "solid": (), "dashed": (2.4, 1.2), "chain": (7.0, 1.2, 0.6, 1.2),
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    layer: Layer
    weight: Weight = "narrow"
    dash: Dash = "solid"


@dataclass(frozen=True)
class Polyline:
    """A line through points, open."""

    points: tuple[Point, ...]
    layer: Layer
    weight: Weight = "narrow"
    dash: Dash = "solid"


@dataclass(frozen=True)
class Hatch:
    """Parallel lines across a polygon; nothing grey, so that a photocopy keeps it."""

    angle_deg: float = 45.0
    spacing_mm: float = 1.6
    crossed: bool = False
    weight: Weight = "fine"


@dataclass(frozen=True)
class Polygon:
    """A closed outline. `weight` None draws no edge, `fill` None leaves it open."""

    points: tuple[Point, ...]
    layer: Layer
    weight: Weight | None = "narrow"
    dash: Dash = "solid"
    hatch: Hatch | None = None
    fill: Literal["white", "black"] | None = None


@dataclass(frozen=True)
class Circle:
    """A circle, drawn or filled."""

    centre: Point
    radius_mm: float
    layer: Layer
    weight: Weight = "narrow"
    filled: bool = False


@dataclass(frozen=True)
class Text:
    """A line of text; `at` is on its base line. `clear` wipes what lies under it first."""

    at: Point
    text: str
    size_mm: float
    layer: Layer = "text"
    anchor: Anchor = "start"
    bold: bool = False
    angle_deg: float = 0.0
    clear: bool = False


@dataclass(frozen=True)
class Arrow:
    """A line with a filled head at its end."""

    start: Point
    end: Point
    layer: Layer
    weight: Weight = "medium"
    head_mm: float = 3.0


@dataclass(frozen=True)
class Dimension:
    """A linear dimension along x or y of the paper.

    `start`, `end` are the points measured between, `line_at` the paper y (along x) or x (along y)
    of the dimension line. `value_mm` is the length in the model and `scale` the paper mm per
    model mm of its view, so `value_mm * scale` is the distance drawn. `reference` values stand in
    brackets and carry no tolerance.
    """

    start: Point
    end: Point
    axis: Literal["x", "y"]
    line_at: float
    value_mm: float
    text: str
    scale: float
    text_at: Point
    anchor: Anchor = "middle"
    size_mm: float = 2.8
    tolerance: str = ""
    reference: bool = False
    outside: bool = False
    """Arrow heads point inward from outside, for a length too short to hold them."""
    layer: Layer = "dimension"

    @property
    def label(self) -> str:
        """What stands on the sheet: value and tolerance, a reference in brackets."""
        if self.reference:
            return self.text
        return f"{self.text} {self.tolerance}".strip()


@dataclass(frozen=True)
class DatumSymbol:
    """Datum letter in a square on a filled triangle (after ISO 5459); `foot` touches the feature."""

    foot: Point
    towards: Literal["up", "down", "left", "right"]
    letter: str
    stem_mm: float = 3.0
    box_mm: float = 5.0
    layer: Layer = "datum"


Item = Line | Polyline | Polygon | Circle | Text | Arrow | Dimension | DatumSymbol


@dataclass(frozen=True)
class View:
    """A view of the part on the sheet: paper = origin + scale * (x, -y) of the model in mm.

    `flip_y` is -1 where the part is seen from below, so that its left edge lies at the bottom.
    """

    name: str
    origin: Point
    scale: float
    flip_y: int = 1

    def at(self, x_mm: float, y_mm: float) -> Point:
        """The paper point of a model point, both in mm."""
        return (self.origin[0] + self.scale * x_mm, self.origin[1] - self.flip_y * self.scale * y_mm)


@dataclass(frozen=True)
class Drawing:
    """One sheet of a document."""

    paper: str
    width_mm: float
    height_mm: float
    items: tuple[Item, ...]
    title: str
    views: tuple[View, ...] = ()
    in_view: tuple[int, int] = (0, 0)
    """First and past the last of the items that lie in the first view, at its scale."""
    document: str = ""
    """Title of the document this is a page of."""


class SheetError(ValueError):
    """The document cannot be made as asked; the message says what to do."""
