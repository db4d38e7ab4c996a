"""Where a chart's values lie on its widget: the range shown, the rectangle for curves, marks on both axes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF

from app.results.ticks import Tick

Array = NDArray[np.float64]
TickMaker = Callable[..., list[Tick]]
MARK_WIDE, MARK_TALL = 46.0, 24.0
"""Room a mark needs along either axis, pixels."""
FARTHEST_PX = 1e4
"""Points are drawn no farther off than this: the raster walks along every line it is given."""


@dataclass(frozen=True)
class Range:
    """What is shown of one axis, in axis coordinates (a logarithmic one: exponents of ten)."""

    low: float
    high: float

    @property
    def length(self) -> float:
        return self.high - self.low

    def scaled(self, factor: float, about: float) -> Range:
        return Range(about + factor * (self.low - about), about + factor * (self.high - about))

    def moved(self, by: float) -> Range:
        return Range(self.low + by, self.high + by)


@dataclass(frozen=True)
class Area:
    """Both ranges on the rectangle `box`, pixels."""

    box: QRectF
    x: Range
    y: Range

    @property
    def px_per_x(self) -> float:
        return self.box.width() / (self.x.length or 1.0)

    @property
    def px_per_y(self) -> float:
        return self.box.height() / (self.y.length or 1.0)

    def x_px(self, x: Array) -> Array:
        return np.clip(self.box.left() + (x - self.x.low) * self.px_per_x, -FARTHEST_PX, FARTHEST_PX)

    def y_px(self, y: Array) -> Array:
        return np.clip(self.box.bottom() - (y - self.y.low) * self.px_per_y, -FARTHEST_PX, FARTHEST_PX)

    def at(self, point: QPointF) -> tuple[float, float]:
        """The values at a point of the widget."""
        x = self.x.low + (point.x() - self.box.left()) / (self.px_per_x or 1.0)
        return x, self.y.low + (self.box.bottom() - point.y()) / (self.px_per_y or 1.0)

    def seen(self, x: Array) -> slice:
        """Of rising x those shown, and one more at each end."""
        first, last = np.searchsorted(x, (self.x.low, self.x.high)).tolist()
        return slice(max(first - 1, 0), last + 1)

    def x_marks(self, maker: TickMaker, unit: str, most: int) -> list[tuple[float, str]]:
        """(pixel, label) of the marks with a label along the foot."""
        wanted = max(min(most, int(self.box.width() / MARK_WIDE)), 1)
        found = [(at, text) for at, text, labelled in maker(self.x.low, self.x.high, unit, wanted=wanted) if labelled]
        places = self.x_px(np.array([at for at, _ in found])).tolist()
        return [(px, text) for px, (_, text) in zip(places, found, strict=True)]

    def y_marks(self, maker: TickMaker, unit: str, most: int) -> list[tuple[float, str]]:
        """The same along the left side."""
        wanted = max(min(most, int(self.box.height() / MARK_TALL)), 1)
        found = [(at, text) for at, text, labelled in maker(self.y.low, self.y.high, unit, wanted=wanted) if labelled]
        places = self.y_px(np.array([at for at, _ in found])).tolist()
        return [(px, text) for px, (_, text) in zip(places, found, strict=True)]
