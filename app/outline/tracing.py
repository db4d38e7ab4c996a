"""A picture traced by hand: two points of known distance for the scale, then the outline's corners."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from PySide6.QtGui import QImage, QImageReader

from core.outline.drawing import OutlineDrawing, OutlineError, Trace
from core.outline.readers import check_file

Point = tuple[float, float]
Step = Literal["scale", "trace", "done"]
PROVISIONAL_M = 1e-3
"""Metres per pixel before the scale is known."""
NEAREST_PX = 3.0
LARGEST_SIDE_PX = 12_000
MOST_PX = 100_000_000
"""A3 at 600 dpi has 70 million."""
BYTES_PER_PX = 4
LARGEST_BYTES = 200_000_000


def load_picture(path: Path) -> QImage:
    """The picture, turned as its camera says; OutlineError in words if there is none."""
    check_file(path, LARGEST_BYTES)
    reader = QImageReader(str(path))
    reader.setAutoTransform(True)
    reader.setDecideFormatFromContent(True)
    size = reader.size()
    longest, pixels = max(size.width(), size.height()), size.width() * size.height()
    if size.isValid() and (longest > LARGEST_SIDE_PX or pixels > MOST_PX):
        raise OutlineError(
            f"{path.name} has {size.width()} x {size.height()} pixels. Save it with at most "
            f"{LARGEST_SIDE_PX} on the longer side and {MOST_PX // 1_000_000} million in all."
        )
    # Qt refuses more than 256 MB by itself, less than a sheet of A3 at 600 dpi.
    QImageReader.setAllocationLimit(MOST_PX * BYTES_PER_PX // 2**20 + 1)
    image = reader.read()
    if image.isNull():
        raise OutlineError(
            f"{path.name} is no readable picture: {reader.errorString()} Save it as PNG or JPEG."
        )
    return image


@dataclass(frozen=True)
class Tracing:
    """Points in pixels of the picture, y up from its top edge (so y is negative)."""

    name: str
    scale_points: tuple[Point, ...] = ()
    distance_m: float | None = None
    corners: tuple[Point, ...] = ()
    closed: bool = False

    @property
    def m_per_px(self) -> float:
        """Metres per pixel; a provisional value until two points and their distance are known."""
        if not self.has_scale:
            return PROVISIONAL_M
        (a, b) = self.scale_points
        return float(self.distance_m or 0.0) / math.dist(a, b)

    @property
    def has_scale(self) -> bool:
        return (
            len(self.scale_points) == 2
            and self.distance_m is not None
            and self.distance_m > 0
            and math.dist(*self.scale_points) > NEAREST_PX
        )

    @property
    def step(self) -> Step:
        """What the next click does: set the scale, add a corner, nothing."""
        if len(self.scale_points) < 2:
            return "scale"
        return "done" if self.closed else "trace"

    def words(self) -> str:
        """What to do next."""
        if len(self.scale_points) < 2:
            which = "first" if not self.scale_points else "second"
            return f"Click the {which} of two points whose distance you know."
        if math.dist(*self.scale_points) <= NEAREST_PX:
            return "The two points lie on each other, so there is no scale. Drag one of them apart."
        if self.distance_m is None:
            return "Type the distance between the two points."
        if not self.closed:
            return (
                f"Click along the outline ({len(self.corners)} points so far); click the first point or press "
                "Enter to close it. Backspace takes the last point back."
            )
        return "Drag points to correct the outline; lay axis and clamp line."

    def outline(self) -> OutlineDrawing:
        """The traced outline as a drawing in metres; OutlineError while it is not finished."""
        if not self.has_scale or not self.closed:
            raise OutlineError(self.words())
        points = np.array(self.corners) * self.m_per_px
        return OutlineDrawing(self.name, (Trace(points, True, "traced"),), "m", "file", kind="picture")
