"""The shared x axis: metres along the span to pixels across the page, with its ruler."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QRectF
from PySide6.QtGui import QPainter

from app.drawing.ink import Align, Ink


@dataclass(frozen=True)
class XScale:
    """Linear scale from x = 0 at `left_px` to x = `span_m` at `right_px`; it always fits the span."""

    left_px: float
    right_px: float
    span_m: float

    @property
    def px_per_m(self) -> float:
        return (self.right_px - self.left_px) / self.span_m

    def px(self, x_m: float) -> float:
        return self.left_px + x_m * self.px_per_m

    def px_array(self, x_m: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.left_px + np.asarray(x_m) * self.px_per_m

    def x(self, px: float) -> float:
        return (px - self.left_px) / self.px_per_m


def nice_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 x 10^k that divides `span` into at most `most` parts."""
    if span <= 0 or most < 1:
        return 1.0
    rough = span / most
    decade = 10.0 ** floor(log10(rough))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if factor * decade >= rough * (1 - 1e-9):
            return factor * decade
    return 10.0 * decade


def ticks(low: float, high: float, step: float) -> list[float]:
    """Multiples of `step` from `low` to `high`, both included."""
    first = ceil(low / step - 1e-9)
    last = floor(high / step + 1e-9)
    return [index * step for index in range(first, last + 1)]


def tick_text(value: float, step: float) -> str:
    """`value` with as many decimals as `step` needs."""
    decimals = max(0, -floor(log10(step) + 1e-9))
    return f"{value:.{decimals}f}"


def paint_ruler(painter: QPainter, rect: QRectF, scale: XScale, ink: Ink, unit: str = "mm") -> None:
    """The ruler: baseline at the bottom of `rect`, millimetres above it."""
    per_m = 1000.0
    span = scale.span_m * per_m
    width = scale.right_px - scale.left_px
    step = nice_step(span, max(2, int(width // 70)))
    minor = step / 5
    base = rect.bottom()
    painter.setPen(ink.pen(ink.look.strong_line))
    lines = [QLineF(scale.left_px, base, scale.right_px, base)]
    for value in ticks(0.0, span, minor):
        at = scale.px(value / per_m)
        lines.append(QLineF(at, base, at, base - 3))
    majors = ticks(0.0, span, step)
    lines.extend(QLineF(scale.px(v / per_m), base, scale.px(v / per_m), base - 7) for v in majors)
    painter.drawLines(lines)
    painter.setFont(ink.font(11))
    painter.setPen(ink.pen(ink.look.faint_text))
    for value in majors:
        box = QRectF(scale.px(value / per_m) - 30, base - 22, 60, 14)
        painter.drawText(box, Align.AlignHCenter | Align.AlignBottom, tick_text(value, step))
    painter.drawText(QRectF(rect.left(), base - 22, 40, 14), Align.AlignLeft | Align.AlignBottom, unit)
