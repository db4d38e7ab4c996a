"""The damping of the served mode along one value: curve, tolerance band, where it stands; unstable is hatched."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.drawing.ink import Align, Ink, hatch, rect_path, strong_curve
from app.results.ticks import linear_ticks
from app.theme import look
from core.units import words

Array = NDArray[np.float64]
LEFT, RIGHT, TOP, FOOT = 46.0, 9.0, 6.0, 20.0
X_MARKS = 4
NOTHING_TOP = 0.01
"""Of the axis where nothing on it has a damping."""


@dataclass(frozen=True, eq=False)
class Curve:
    """What is drawn. values (n,) ascending, SI; damping (n,), nan where a pole grows; band: the tolerance around the
    present value, factors; factors: marks tell multiples of `tuned` in place of values."""

    values: Array
    damping: Array
    present: float
    at_present: float
    low: float
    high: float
    unit: str
    band: tuple[float, float]
    tuned: float | None
    in_factors: bool


class PriceCurve(QWidget):
    """Axes: the value, logarithmic, and damping in per cent from nothing up."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._curve: Curve | None = None
        self._top = 0.01
        look.look_changed.connect(self.update)

    def show_curve(self, curve: Curve, *, keep_scale: bool) -> None:
        """`keep_scale` while a hand moves: the axis may grow, not breathe."""
        self._curve = curve
        inside = (curve.values >= curve.low) & (curve.values <= curve.high)
        largest = float(np.nanmax(np.append(curve.damping[inside], [np.nan_to_num(curve.at_present)])))
        wanted = rounded_top(1.08 * largest) if largest > 0.0 else NOTHING_TOP
        self._top = max(self._top, wanted) if keep_scale else wanted
        self.update()

    @property
    def unstable(self) -> tuple[tuple[float, float], ...]:
        """The ranges of the value in which a pole grows, as they are hatched."""
        return () if self._curve is None else unstable_ranges(self._curve)

    def sizeHint(self) -> QSize:
        return QSize(190, 118)

    def minimumSizeHint(self) -> QSize:
        return QSize(130, 84)

    def _box(self) -> QRectF:
        return QRectF(LEFT, TOP, max(self.width() - LEFT - RIGHT, 10.0), max(self.height() - TOP - FOOT, 10.0))

    def _x(self, value: float, box: QRectF) -> float:
        curve = self._curve
        assert curve is not None
        share = np.log(value / curve.low) / np.log(curve.high / curve.low)
        return box.left() + float(np.clip(share, 0.0, 1.0)) * box.width()

    def paintEvent(self, event: QPaintEvent) -> None:
        curve, box, now = self._curve, self._box(), look.current()
        ink = Ink(now, self.devicePixelRatioF())
        with QPainter(self) as p:
            self._paint_axes(p, box, ink)
            if curve is None:
                return
            p.save()
            p.setClipRect(box.adjusted(-1, -1, 1, 1))
            low, high = (self._x(curve.present * factor, box) for factor in curve.band)
            p.fillRect(QRectF(low, box.top(), max(high - low, 1.0), box.height()), look.faded(now.accent, 0.13))
            self._paint_unstable(p, box, ink)
            self._paint_runs(p, box, ink)
            at = self._x(curve.present, box)
            p.setPen(ink.pen(now.text, 1.0, (2.0, 2.0)))
            p.drawLine(QPointF(at, box.top()), QPointF(at, box.bottom()))
            p.restore()
            if np.isfinite(curve.at_present):
                p.setRenderHint(QPainter.RenderHint.Antialiasing)
                p.setPen(look.pen(now.accent, 2.0))
                p.setBrush(now.panel)
                p.drawEllipse(QPointF(at, self._y(curve.at_present, box)), 4.5, 4.5)

    def _y(self, zeta: float, box: QRectF) -> float:
        return box.bottom() - zeta / self._top * box.height()

    def _paint_axes(self, p: QPainter, box: QRectF, ink: Ink) -> None:
        now, font = ink.look, ink.font(11)
        tall = QFontMetricsF(font).height()
        p.setFont(font)
        for at, text in ((self._top, _mark(self._top)), (self._top / 2, _mark(self._top / 2)), (0.0, "0")):
            y = self._y(at, box)
            p.setPen(ink.pen(now.line))
            p.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            p.setPen(ink.pen(now.faint_text))
            label = f"{text} %" if at == self._top else text
            p.drawText(QRectF(0, y - tall / 2, LEFT - 5, tall), Align.AlignRight | Align.AlignVCenter, label)
        if self._curve is None:
            return
        taken = 0.0
        for value, text in self._marks(self._curve):
            x, half = self._x(value, box), 0.5 * QFontMetricsF(font).horizontalAdvance(text) + 2.0
            left = min(max(x - half, 0.0), self.width() - 2 * half)
            if left >= taken:
                p.drawText(QRectF(left, box.bottom() + 4, 2 * half, tall), Align.AlignCenter, text)
                taken = left + 2 * half + 3.0

    def _marks(self, curve: Curve) -> list[tuple[float, str]]:
        if curve.in_factors and curve.tuned:
            known = ((0.25, "¼"), (0.5, "½"), (1.0, "1"), (2.0, "2"), (4.0, "4 ×"))
            return [(f * curve.tuned, text) for f, text in known if curve.low <= f * curve.tuned * 1.001 and f * curve.tuned <= curve.high * 1.001]
        sign = {"ohm": "Ω"}.get(curve.unit, curve.unit)
        return [(value, text) for value, text, _ in linear_ticks(curve.low, curve.high, sign, wanted=X_MARKS)]

    def _paint_runs(self, p: QPainter, box: QRectF, ink: Ink) -> None:
        """The curve, in pieces where it has gaps."""
        curve = self._curve
        assert curve is not None
        good = np.isfinite(curve.damping)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(int)))
        for first, last in zip(edges[::2], edges[1::2], strict=True):
            share = np.log(curve.values[first:last] / curve.low) / np.log(curve.high / curve.low)
            y = box.bottom() - curve.damping[first:last] / self._top * box.height()
            strong_curve(p, box.left() + share * box.width(), y, ink.look.accent, ink, 1.6)

    def _paint_unstable(self, p: QPainter, box: QRectF, ink: Ink) -> None:
        now = ink.look
        for low, high in self.unstable:
            left, right = self._x(low, box), self._x(high, box)
            area = QRectF(left, box.top(), right - left, box.height())
            hatch(p, rect_path(area), ink.pen(look.faded(now.danger, 0.45)), 7.0)
            p.setPen(look.pen(now.danger, 2.0))
            for x in (left, right):
                if box.left() + 1 < x < box.right() - 1:
                    p.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            font = ink.font(11, bold=True)
            room = QFontMetricsF(font).horizontalAdvance("unstable") + 6
            if area.width() >= room:
                label = QRectF(area.left(), area.top() + 2, area.width(), 16)
                words_box = QRectF(label.center().x() - room / 2, label.top(), room, 16)
                p.fillRect(words_box, now.panel)
                p.setFont(font)
                p.setPen(now.danger)
                p.drawText(words_box, Align.AlignCenter, "unstable")


def unstable_ranges(curve: Curve) -> tuple[tuple[float, float], ...]:
    """Where poles grow, between the values at which it is known that they do not (half-way, logarithmic)."""
    grows = ~np.isfinite(curve.damping)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], grows, [False]]).astype(int)))
    middle = np.sqrt(curve.values[1:] * curve.values[:-1])
    bounds = np.concatenate([[min(curve.low, curve.values[0])], middle, [max(curve.high, curve.values[-1])]])
    return tuple((float(bounds[a]), float(bounds[b])) for a, b in zip(edges[::2], edges[1::2], strict=True))


def rounded_top(value: float) -> float:
    """The next damping ratio with a round number in per cent, halves of which are round too."""
    power = 10.0 ** floor(log10(value))
    step = next(s for s in (1.0, 1.2, 1.6, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if s * power >= value * (1 - 1e-9))
    return step * power


def _mark(zeta: float) -> str:
    percent = 100.0 * zeta
    return words.fixed(percent, max(0, 1 - floor(log10(percent)))) if percent < 9.95 and percent != ceil(percent) else words.fixed(percent, 0)


