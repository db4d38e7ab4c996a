"""Curves of a pick-up and a shaker: the screen of an oscilloscope, a response, a waveform, a load line, the limits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.results.chart import Chart
from app.theme import look
from core.units import words

Array = NDArray[np.float64]


class MarkedChart(Chart):
    """A chart with upright lines at places of x, each with its words."""

    def __init__(self, name: str, accessible: str, *, log: bool, least: int, parent: QWidget | None = None) -> None:
        super().__init__(name, accessible, log_x=log, log_y=log, parent=parent)
        self.setMinimumHeight(least)
        self._marks: tuple[tuple[float, str], ...] = ()
        self._unit = ""
        self._x_unit = ""

    def set_marks(self, marks: tuple[tuple[float, str], ...]) -> None:
        if marks != self._marks:
            self._marks = marks
            self.update()

    def set_units(self, x_unit: str, y_unit: str) -> None:
        self._x_unit, self._unit = x_unit, y_unit
        super().set_units(x_unit, y_unit)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        area, now = self._area(), look.current()
        with QPainter(self) as p:
            p.setClipRect(area.box)
            p.setFont(look.font(11))
            for at, text in self._marks:
                x = float(area.x_px(np.array([np.log10(at) if self._log_x else at]))[0])
                p.setPen(look.pen(now.caution, 1.0, self, (3.0, 3.0)))
                p.drawLine(QPointF(x, area.box.top()), QPointF(x, area.box.bottom()))
                p.setPen(now.caution)
                wide = p.fontMetrics().horizontalAdvance(text)
                left = x + 4.0 if x + 4.0 + wide < area.box.right() else x - 4.0 - wide
                p.drawText(QPointF(left, area.box.bottom() - 5.0), text)

    def reading_at(self, x: float) -> str:
        at = words.engineering(10.0**x if self._log_x else x, self._x_unit)
        told = [
            f"{key} {words.engineering(value, self._unit)}"
            for key in self._curves
            if (value := self.values_at(key, x)) is not None
        ]
        return f"{at}: {', '.join(told)}" if told else ""


class ScreenChart(MarkedChart):
    """What an oscilloscope draws: ten divisions across, eight up, at the settings told."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("screenChart", "What an oscilloscope draws", log=False, least=150, parent=parent)

    def show_trace(self, time: Array, volts: Array, seconds: float, per_division: float, *, faded: bool) -> None:
        now = look.current()
        self.set_units("s", "V")
        colour = look.faded(now.after, 0.45 if faded else 1.0)
        edge = np.array([-4.0, 4.0]) * per_division
        still = look.faded(now.line, 0.0)
        self.set_curve("frame", np.array([0.0, 10.0 * seconds]), edge, still, z=-1)
        self.set_curve("volts", time, volts, colour, width=1.0)
        self.fit()

    def reading_at(self, x: float) -> str:
        value = self.values_at("volts", x)
        return "" if value is None else f"{words.engineering(x, 's')}: {words.voltage(value)}"


class LoadLineChart(Chart):
    """Force against stroke: the group's line, the load's, and where they meet."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("loadLineChart", "Force against stroke", log_x=False, log_y=False, parent=parent)
        self.setMinimumHeight(140)
        self._meet: tuple[float, float] | None = None

    def show_line(self, free: float, blocked: float, load: tuple[float, float], meet: tuple[float, float], *, faded: bool) -> None:
        """Free stroke and blocked force; the load's spring and force at rest; the stroke and force where both meet."""
        now, strength = look.current(), 0.45 if faded else 1.0
        self.set_units("m", "N")
        stroke = np.array([0.0, free])
        self.set_curve("patch", stroke, np.array([blocked, 0.0]), look.faded(now.after, strength), width=2.0)
        spring, still = load
        if spring or still:
            high = min(still + spring * free, 1.2 * blocked)
            end = (high - still) / spring if spring else free
            self.set_curve("load", np.array([0.0, end]), np.array([still, high]), look.faded(now.before, strength), dash=(4.0, 3.0))
        self.keep_only(["patch", "load"] if spring or still else ["patch"])
        self._meet = meet if spring or still else None
        self.fit()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._meet is None:
            return
        area, now = self._area(), look.current()
        x, y = (float(v[0]) for v in (area.x_px(np.array([self._meet[0]])), area.y_px(np.array([self._meet[1]]))))
        with QPainter(self) as p:
            p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            p.setPen(look.pen(now.text, 2.0, self))
            p.setBrush(now.panel)
            p.drawEllipse(QPointF(x, y), 4.5, 4.5)
            p.setFont(look.font(11, bold=True))
            told = f"{words.engineering(self._meet[0], 'm')}, {words.engineering(self._meet[1], 'N')}"
            wide = p.fontMetrics().horizontalAdvance(told)
            left = x + 9.0 if x + 9.0 + wide < area.box.right() else x - 9.0 - wide
            p.drawText(QPointF(left, max(y - 6.0, area.box.top() + 12.0)), told)

    def reading_at(self, x: float) -> str:
        value = self.values_at("patch", x)
        return "" if value is None else f"{words.engineering(x, 'm')}: {words.engineering(value, 'N')}"
