"""The output over the part's time, before and after, with the moment shown: dragged, it moves the picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPixmap, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.results.ticks import linear_ticks
from app.theme import look
from core.handover.show.programme import Programme
from core.predict.decay import Decay
from core.units import words

Array = NDArray[np.float64]

POINTS_A_SWING = 16
MOST_POINTS = 6000


class Trace(QWidget):
    """`wanted` with a time since the part was let go, s."""

    wanted = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("showTrace")
        self.setAccessibleName("Output over time, before and after")
        self.setMinimumHeight(120)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setCursor(Qt.CursorShape.SizeHorCursor)
        self._programme: Programme | None = None
        self._curves: tuple[Array, Array, Array] | None = None
        self._at_s = 0.0
        self._still: QPixmap | None = None
        look.look_changed.connect(self._forget)

    def sizeHint(self) -> QSize:
        return QSize(800, 190)

    def show_programme(self, programme: Programme | None) -> None:
        self._programme = programme
        self._curves = None if programme is None else _curves(programme)
        self._forget()

    def at(self, time_s: float) -> None:
        """The moment marked, s since let go."""
        self._at_s = time_s
        self.update()

    def _forget(self) -> None:
        self._still = None
        self.update()

    def _box(self) -> QRectF:
        return QRectF(76.0, 8.0, max(self.width() - 92.0, 40.0), max(self.height() - 32.0, 30.0))

    def x_of(self, time_s: float) -> float:
        """Pixel of a time."""
        box, length = self._box(), 1.0 if self._programme is None else self._programme.length_s
        return float(box.left() + box.width() * min(max(time_s / length, 0.0), 1.0))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._still = None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._want(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._want(event)

    def _want(self, event: QMouseEvent) -> None:
        if self._programme is not None and event.buttons() & Qt.MouseButton.LeftButton:
            box = self._box()
            share = min(max((event.position().x() - box.left()) / box.width(), 0.0), 1.0)
            self.wanted.emit(share * self._programme.length_s)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._still is None:
            ratio = self.devicePixelRatioF()
            self._still = QPixmap(self.size() * ratio)
            self._still.setDevicePixelRatio(ratio)
            self._still.fill(look.current().window)
            with QPainter(self._still) as p:
                self._paint_curves(p)
        with QPainter(self) as p:
            p.drawPixmap(0, 0, self._still)
            if self._programme is not None:
                self._paint_moment(p)

    def _paint_moment(self, p: QPainter) -> None:
        now, box, x = look.current(), self._box(), self.x_of(self._at_s)
        p.setRenderHint(QPainter.RenderHint.Antialiasing)
        p.setPen(look.pen(now.text, 2.0, self))
        p.drawLine(QLineF(x, box.top() - 2, x, box.bottom()))
        p.setFont(look.font(12, bold=True))
        told = words.seconds(self._at_s)
        width = p.fontMetrics().horizontalAdvance(told) + 12
        left = x + 5 if x + 8 + width < box.right() else x - 5 - width
        tag = QRectF(left, box.top() + 3, width, 20)
        p.setBrush(now.panel)
        p.setPen(look.pen(now.line, 1.0, self))
        p.drawRoundedRect(tag, 3, 3)
        p.setPen(now.text)
        p.drawText(tag, Qt.AlignmentFlag.AlignCenter, told)

    def _paint_curves(self, p: QPainter) -> None:
        now, box, align = look.current(), self._box(), Qt.AlignmentFlag
        p.fillRect(box, now.panel)
        p.setFont(look.font(11))
        if self._programme is None or self._curves is None:
            return
        time, before, after = self._curves
        top = 1.08 * max(float(np.abs(before).max()), float(np.abs(after).max()), 1e-300)
        unit = self._programme.swing.ring.unit
        for value, text, labelled in linear_ticks(-top, top, unit, wanted=4):
            y = box.center().y() - 0.5 * box.height() * value / top
            p.setPen(look.pen(now.line, 1.0, self))
            p.drawLine(QLineF(box.left(), y, box.right(), y))
            if labelled:
                p.setPen(now.faint_text)
                p.drawText(QRectF(0, y - 9, box.left() - 8, 18), align.AlignRight | align.AlignVCenter, text)
        for value, text, labelled in linear_ticks(0.0, self._programme.length_s, "s", wanted=6):
            x = self.x_of(value)
            p.setPen(look.pen(now.strong_line, 1.0, self))
            p.drawLine(QLineF(x, box.bottom(), x, box.bottom() + 4))
            if labelled:
                p.setPen(now.faint_text)
                p.drawText(QRectF(x - 40, box.bottom() + 4, 80, 18), align.AlignHCenter | align.AlignTop, text)
        p.setRenderHint(QPainter.RenderHint.Antialiasing)
        p.setClipRect(box)
        for curve, colour, width in ((before, now.before, 1.0), (after, now.after, 1.6)):
            y_px = box.center().y() - 0.5 * box.height() * curve / top
            x_px = box.left() + box.width() * time / self._programme.length_s
            p.setPen(look.pen(colour, width, self))
            p.drawPolyline(QPolygonF([QPointF(a, b) for a, b in zip(x_px.tolist(), y_px.tolist(), strict=True)]))
        p.setClipping(False)
        p.setPen(look.pen(now.line, 1.0, self))
        p.setBrush(Qt.BrushStyle.NoBrush)
        p.drawRect(box)


def _curves(programme: Programme) -> tuple[Array, Array, Array]:
    swing, length = programme.swing, programme.length_s
    count = int(min(max(length * swing.f_hz * POINTS_A_SWING, 400), MOST_POINTS)) + 1
    step = length / (count - 1)

    def at_output(decay: Decay) -> Array:
        return Decay(decay.rate, decay.amplitude[-1]).analytic(0.0, step, count).real

    return step * np.arange(count, dtype=float), at_output(swing.before), at_output(swing.after)
