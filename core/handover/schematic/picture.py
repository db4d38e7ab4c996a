"""A schematic as plain strokes and lettering, for the screen, an SVG file and the papers alike.

Units of the drawing: a part with its leads is three long. x to the right, y DOWN, from the top left corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Ink = Literal["line", "ceramic", "faint", "frame", "value", "part"]
"""What a stroke or a text is, for its colour."""

TEXT = 0.5
"""Size of lettering, units."""


@dataclass(frozen=True)
class Stroke:
    """A line through points, or an area where `fill` is given."""

    points: tuple[Point, ...]
    ink: Ink = "line"
    fill: Ink | None = None
    dashed: bool = False


@dataclass(frozen=True)
class Disc:
    """A junction (filled) or a terminal (open)."""

    centre: Point
    radius: float
    filled: bool
    ink: Ink = "line"


@dataclass(frozen=True)
class Label:
    """A line of text; `at` is on its base line."""

    at: Point
    text: str
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    ink: Ink = "line"


@dataclass(frozen=True)
class Schematic:
    """A drawing of that size, in units."""

    width: float
    height: float
    strokes: tuple[Stroke, ...]
    discs: tuple[Disc, ...]
    labels: tuple[Label, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """Everything that is written in it."""
        return tuple(label.text for label in self.labels)
