"""What a draw function draws with: the look, and pens and fonts for the device at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor
from typing import Any

import numpy as np
import shiboken6
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QPolygonF

from app.theme import look as looks

Align = Qt.AlignmentFlag


@lru_cache(maxsize=32)
def _font(size_px: int, bold: bool) -> QFont:
    return looks.font(size_px, bold=bold)


@dataclass(frozen=True)
class Ink:
    """A look bound to a device: `ratio` is the device pixel ratio of a screen, None for print,
    SVG and PDF, where line widths are real."""

    look: looks.Look
    ratio: float | None = None

    @property
    def hairline(self) -> float:
        """Width of the thinnest line in the painter's units: a whole pixel of a screen."""
        return 1.0 if self.ratio is None else max(1.0, floor(self.ratio + 0.01)) / self.ratio

    def pen(self, color: QColor, width: float = 1.0, dash: Sequence[float] = ()) -> QPen:
        return looks.pen_at(color, width, self.ratio, dash)

    def font(self, size_px: int = 11, *, bold: bool = False) -> QFont:
        return _font(size_px, bold)


def polygon(x: NDArray[np.float64], y: NDArray[np.float64]) -> QPolygonF:
    """(n,) and (n,) coordinates as a Qt polygon, copied in one block."""
    made = QPolygonF()
    count = len(x)
    if count == 0:
        return made
    made.resize(count)
    # PySide's stubs know neither the pointer's arguments nor that it can be read as a buffer.
    block: Any = shiboken6.VoidPtr(made.data(), count * 16, True)  # type: ignore[arg-type, call-arg]
    points = np.frombuffer(block, dtype=np.float64).reshape(count, 2)
    points[:, 0] = x
    points[:, 1] = y
    return made


def strong_curve(
    painter: QPainter,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    color: QColor,
    ink: Ink,
    width: float = 2.0,
) -> None:
    """A smooth curve of `width`, for functions of x of moderate slope.

    On a screen it is laid from hairlines: the raster's stroker takes five times as long for one
    smooth line of two pixels as for three of one.
    """
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    if ink.ratio is None:
        painter.setPen(ink.pen(color, width))
        painter.drawPolyline(polygon(x, y))
    else:
        painter.setPen(looks.pen_at(color, 0.0, ink.ratio))
        # One hairline more than pixels, so that their soft edges close up in between.
        spread, count = max(width - 1.0 / ink.ratio, 0.0), round(width * ink.ratio)
        line = polygon(x, y - 0.5 * spread)
        for place in range(count + 1):
            if place:
                line.translate(0.0, spread / count)
            painter.drawPolyline(line)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


@lru_cache(maxsize=4096)  # a frame asks for some fifty, most of them those of the frame before
def text_width(font: QFont, text: str) -> float:
    """Advance of `text` in the painter's units."""
    return QFontMetricsF(font).horizontalAdvance(text)


def fitting(font: QFont, wordings: Sequence[str], room: float) -> str:
    """The first of `wordings`, longest first, that fits into `room`; else the last one."""
    return next((text for text in wordings if text_width(font, text) <= room), wordings[-1])


def hatch(
    painter: QPainter, area: QPainterPath, pen: QPen, gap_px: float = 6.0, *, rising: bool = True
) -> None:
    """Fill `area` with parallel lines at 45 degrees, real lines on every device."""
    # A short span makes whatever lies beyond it larger than any page; only the page is filled.
    # Its viewport is in pixels of the device on a picture, in those of the layout on a widget: never less than the page.
    ratio, seen = painter.device().devicePixelRatio(), painter.viewport()
    whole = QRectF(ratio * seen.x(), ratio * seen.y(), ratio * seen.width(), ratio * seen.height())
    page = painter.combinedTransform().inverted()[0].mapRect(whole)
    box = area.boundingRect().intersected(page)
    if box.width() <= 0 or box.height() <= 0:
        return
    reach = box.height()
    # Lines start on a lattice of the page, not of the area, so that a moving area does not shimmer.
    first = np.floor((box.left() - reach) / gap_px) * gap_px
    lines = []
    for left in np.arange(first, box.right() + reach, gap_px).tolist():
        if rising:
            lines.append(QLineF(left, box.bottom(), left + reach, box.top()))
        else:
            lines.append(QLineF(left, box.top(), left + reach, box.bottom()))
    painter.save()
    painter.setClipPath(area, Qt.ClipOperation.IntersectClip)
    painter.setPen(pen)
    painter.drawLines(lines)
    painter.restore()


def rect_path(rect: QRectF) -> QPainterPath:
    """`rect` as a path."""
    path = QPainterPath()
    path.addRect(rect)
    return path


def polygon_path(points: QPolygonF) -> QPainterPath:
    """`points` as a closed path."""
    path = QPainterPath()
    path.addPolygon(points)
    path.closeSubpath()
    return path


def arrow(painter: QPainter, tip: QPointF, dx: float, dy: float, size: float = 6.0) -> None:
    """A filled arrow head at `tip` pointing along the unit vector (dx, dy), in the pen's colour."""
    back = QPointF(tip.x() - dx * size, tip.y() - dy * size)
    side = QPointF(-dy * size * 0.4, dx * size * 0.4)
    painter.save()
    painter.setBrush(painter.pen().color())
    painter.drawPolygon(QPolygonF([tip, back + side, back - side]))
    painter.restore()
