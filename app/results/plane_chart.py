"""A chart of the complex plane: the loop gain about -1, poles left of the axis."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.drawing.ink import polygon
from app.results.chart import Chart
from app.theme import look

Array = NDArray[np.float64]


class PlaneChart(Chart):
    """Curves in a plane with a cross at a place: Nyquist about -1, poles left of the axis."""

    def __init__(self, name: str, accessible: str, cross: tuple[float, float] | None, parent: QWidget | None = None) -> None:
        super().__init__(name, accessible, log_x=False, log_y=False, parent=parent)
        self.setMinimumHeight(190)
        self._cross = cross
        self._points: tuple[tuple[float, float, bool], ...] = ()
        self._path: tuple[Array, Array] = (np.zeros(0), np.zeros(0))
        self._joined = cross is not None

    def show_path(self, x: Array, y: Array, about: tuple[float, float, float, float]) -> None:
        """A line through places that may run any way (dots where there is no cross), and what to keep in sight."""
        self._path = (x, y)
        left, right, low, high = about
        edge = look.faded(look.current().line, 0.0)
        self.set_curve("about", np.array([left, right]), np.array([low, high]), edge)
        self.fit()

    def show_points(self, points: tuple[tuple[float, float, bool], ...]) -> None:
        """Marks at (x, y); True for those that grow."""
        self._points = points
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        area, now = self._area(), look.current()
        with QPainter(self) as p:
            p.setClipRect(area.box)
            p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            x_px, y_px = area.x_px(self._path[0]), area.y_px(self._path[1])
            p.setPen(look.pen(now.after, 1.5 if self._joined else 3.0, self))
            if self._joined:
                p.drawPolyline(polygon(x_px, y_px))
            else:
                p.drawPoints(polygon(x_px, y_px))
            marks = [*((x, y, now.danger if grows else now.accent, "o") for x, y, grows in self._points)]
            if self._cross is not None:
                marks.append((*self._cross, now.danger, "x"))
            for x, y, colour, kind in marks:
                at = QPointF(float(area.x_px(np.array([x]))[0]), float(area.y_px(np.array([y]))[0]))
                p.setPen(look.pen(colour, 2.0, self))
                if kind == "o":
                    p.drawRect(int(at.x()) - 3, int(at.y()) - 3, 7, 7)
                else:
                    p.drawLine(at + QPointF(-5, -5), at + QPointF(5, 5))
                    p.drawLine(at + QPointF(-5, 5), at + QPointF(5, -5))
            if self._cross is None:
                x0 = float(area.x_px(np.array([0.0]))[0])
                p.setPen(look.pen(now.danger, 1.0, self))
                p.drawLine(QPointF(x0, area.box.top()), QPointF(x0, area.box.bottom()))

    def reading_at(self, x: float) -> str:
        return ""
