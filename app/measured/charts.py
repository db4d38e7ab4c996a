"""The record, the envelope of a mode with its line, the response measured over that predicted, and its coherence."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.results.chart import Chart
from app.results.chart_area import Range
from app.theme import look
from core.measured.modes import ModeFound
from core.measured.overlay import Overlay
from core.measured.record import Block, Channel
from core.measured.thinned import thinned
from core.measured.transfer import LOW, lines_between
from core.units import words

GRAB = 6.0
"""Pixels within which a line is grabbed."""


def _unit(channel: Channel) -> str:
    """The unit an axis names: strain is a number."""
    return "" if channel.unit == "strain" else channel.unit


class RecordChart(Chart):
    """The whole record, thinned to what is in sight, with the part looked at between two lines to drag."""

    window_wanted = Signal(float, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("recordChart", "The record and the part of it looked at", log_x=False, log_y=False, parent=parent)
        self.setMinimumHeight(150)
        self._block: Block | None = None
        self._channel: Channel | None = None
        self._window: list[float] | None = None
        self._edge: int | None = None

    def show_record(self, block: Block | None, channel: Channel | None, window_s: tuple[float, float] | None) -> None:
        """Draw a time record; None empties the chart."""
        self._block, self._channel = block, channel
        self._window = None if window_s is None or block is None else list(window_s)
        if block is None or channel is None:
            self.keep_only(())
            return
        self.set_units("s", _unit(channel))
        self._draw(block.start, block.start + block.length_s)
        self.fit(force=True)

    def window_shown(self) -> tuple[float, float] | None:
        """The part looked at, s."""
        return None if self._window is None else (self._window[0], self._window[1])

    def _show(self, x: Range, y: Range) -> None:
        super()._show(x, y)
        self._draw(x.low, x.high)

    def _draw(self, low: float, high: float) -> None:
        if self._block is not None and self._channel is not None:
            x, y = thinned(self._channel.values, self._block.start, self._block.step, low, high)
            if len(x) > 1:
                self.set_curve("record", x, y, look.current().accent)

    def fit(self, *, force: bool = False, depth: float = 6.0) -> None:
        """The whole record, also after a closer look at a part of it."""
        if force and self._block is not None:
            self._draw(self._block.start, self._block.start + self._block.length_s)
        super().fit(force=force, depth=depth)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._window is None:
            return
        area, now = self._area(), look.current()
        low, high = (float(at) for at in area.x_px(np.array(self._window)))
        with QPainter(self) as p:
            p.setClipRect(area.box)
            shade = look.faded(now.strong_line, 0.18)
            p.fillRect(QRectF(area.box.left(), area.box.top(), max(low - area.box.left(), 0.0), area.box.height()), shade)
            p.fillRect(QRectF(high, area.box.top(), max(area.box.right() - high, 0.0), area.box.height()), shade)
            p.setPen(look.pen(now.text, 1.0, self))
            for at in (low, high):
                p.drawLine(QPointF(at, area.box.top()), QPointF(at, area.box.bottom()))
                p.fillRect(QRectF(at - 3, area.box.center().y() - 9, 6, 18), now.panel)
                p.drawRect(QRectF(at - 3, area.box.center().y() - 9, 6, 18))

    def _edge_at(self, at: QPointF) -> int | None:
        """Which end of the part looked at lies under the pointer."""
        if self._window is None:
            return None
        far = np.abs(self._area().x_px(np.array(self._window)) - at.x())
        return int(np.argmin(far)) if far.min() <= GRAB else None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._edge = self._edge_at(event.position())
        if self._edge is None:
            super().mousePressEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._edge is None or self._window is None or self._block is None:
            over = self._edge_at(event.position()) is not None
            self.setCursor(Qt.CursorShape.SizeHorCursor if over else Qt.CursorShape.ArrowCursor)
            super().mouseMoveEvent(event)
            return
        first, last = self._block.start, self._block.start + self._block.length_s
        self._window[self._edge] = min(max(self._area().at(event.position())[0], first), last)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._edge is None or self._window is None:
            super().mouseReleaseEvent(event)
            return
        self._edge = None
        self._window.sort()
        self.window_wanted.emit(*self._window)

    def reading_at(self, x: float) -> str:
        value = self.values_at("record", x) if "record" in self._curves else None
        return "" if value is None else f"{words.seconds(x)}: {words.significant(value)}"


class EnvelopeChart(Chart):
    """Swing of one mode over time, logarithmic, with the straight line through it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("envelopeChart", "Envelope of the mode and its line", log_x=False, log_y=True, parent=parent)
        self.setMinimumHeight(150)

    def show_mode(self, mode: ModeFound | None, channel: Channel | None = None) -> None:
        """Draw the envelope above the noise, in the unit of the channel; None empties the chart."""
        curve, line = (None, None) if mode is None else (mode.curve, mode.line)
        if mode is None or curve is None:
            self.keep_only(())
            return
        now = look.current()
        self.set_units("s", "" if channel is None else _unit(channel))
        keep = slice(0, max(min(int(1.3 * curve.used) + 2, len(curve.swing)), 2))
        self.set_curve("envelope", curve.time_s[keep], curve.swing[keep], now.mode(mode.number), width=2.0)
        if line is None:
            self.keep_only(("envelope",))
        else:
            t = curve.time_s[: curve.used]
            self.set_curve("line", t, line.at(t), now.text, dash=(5.0, 3.0), z=2)
        self.fit(force=True, depth=3.0)

    def reading_at(self, x: float) -> str:
        value = self.values_at("envelope", x) if "envelope" in self._curves else None
        return "" if value is None else f"{words.seconds(x)}: {words.significant(value)}"


class OverlayChart(Chart):
    """The response measured over the response predicted for the state measured."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("overlayChart", "Response measured and predicted", log_x=True, log_y=True, parent=parent)
        self.setMinimumHeight(180)
        self._unit = ""

    def show_overlay(self, overlay: Overlay | None) -> None:
        """Draw both; None empties the chart."""
        if overlay is None:
            self.keep_only(())
            return
        now = look.current()
        self._unit = overlay.unit
        self.set_curve("predicted", overlay.predicted_hz, overlay.predicted, now.before, dash=(4.0, 3.0), z=1)
        self.set_curve("measured", overlay.measured_hz, overlay.measured, now.text, z=2)
        self.fit(force=True, depth=5.0)

    def reading_at(self, x: float) -> str:
        parts = []
        for key in ("measured", "predicted"):
            value = self.values_at(key, x) if key in self._curves else None
            if value is not None:
                parts.append(f"{key} {words.level(value, self._unit)}")
        return f"{words.frequency(10.0**x)}: {', '.join(parts)}" if parts else ""


class CoherenceChart(Chart):
    """Coherence from 0 to 1 over the frequencies of the response above it and what is believed at least."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("coherenceChart", "Coherence of force and response", log_x=True, log_y=False, parent=parent)
        self.setMinimumHeight(80)
        self.setMaximumHeight(110)

    def show_coherence(self, block: Block | None, overlay: Overlay | None) -> None:
        """Draw it over the range of the response; None empties the chart."""
        if block is None or overlay is None:
            self.keep_only(())
            return
        low, high = float(overlay.predicted_hz[0]), float(overlay.predicted_hz[-1])
        now, ends = look.current(), np.array([low, high])
        self.set_curve("coherence", *lines_between(block, low, high), now.text, z=2)
        self.set_curve("least", ends, np.full(2, LOW), now.before, dash=(4.0, 3.0), z=1)
        self._show(Range(float(np.log10(low)), float(np.log10(high))), Range(0.0, 1.05))

    def reading_at(self, x: float) -> str:
        value = self.values_at("coherence", x) if "coherence" in self._curves else None
        return "" if value is None else f"{words.frequency(10.0**x)}: coherence {words.fixed(value, 2)}"
