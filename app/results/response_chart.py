"""Response at the output and free decay, before and after, as charts to look into."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.results.chart import Chart
from app.theme import look
from core.predict.prediction import Response, RingDown
from core.units import words

if TYPE_CHECKING:
    from core.project.measurement import KeptMode
    from core.study.tolerance.tolerance import ResponseBand

BEFORE, AFTER = "before", "after"


class ResponseChart(Chart):
    """Amplitude against frequency, both axes logarithmic."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("responseChart", "Response before and after", log_x=True, log_y=True, parent=parent)
        self.setMinimumHeight(170)
        self._unit = ""
        self._band_shown: tuple[ResponseBand | None, str] = (None, "")
        self._measured: tuple[KeptMode, ...] = ()

    def show_response(self, response: Response, *, dragging: bool, stale: bool = False) -> None:
        """Draw both curves, faded when stale; the view is fitted unless a hand is dragging."""
        now, strength = look.current(), 0.45 if stale else 1.0
        self._unit = response.unit
        self.set_units("", "")
        before = look.faded(now.before, strength)
        self.set_curve(BEFORE, response.frequency_hz, np.abs(response.before), before, dash=(4.0, 3.0), z=2)
        after = look.faded(now.after, strength)
        self.set_curve(AFTER, response.frequency_hz, np.abs(response.after), after, width=2.0, z=1)
        if not dragging:
            self.fit()

    def show_band(self, band: ResponseBand | None) -> None:
        """P10 to P90 of the response with the circuits under tolerances; None takes it away."""
        name = look.current().name
        if band is self._band_shown[0] and name == self._band_shown[1]:
            return
        self._band_shown = (band, name)
        empty = np.zeros(0)
        x, low, high = (empty,) * 3 if band is None else (band.frequency_hz, band.p10, band.p90)
        self.set_band(x, low, high, look.faded(look.current().after, 0.22))

    def show_measured(self, modes: tuple[KeptMode, ...]) -> None:
        """Mark where the prototype's modes were measured, leads shorted."""
        if modes != self._measured:
            self._measured = modes
            told = ", ".join(f"mode {m.mode} {words.frequency(m.f_hz)}" for m in modes)
            self.setAccessibleDescription(f"Measured: {told}" if told else "")
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        area = self._area()
        with QPainter(self) as p:
            p.setClipRect(area.box)
            p.setFont(look.font(11))
            for mode, x in zip(self._measured, area.x_px(np.log10([m.f_hz for m in self._measured])).tolist(), strict=True):
                p.setPen(look.pen(look.current().mode(mode.mode), 1.0, self, (2.0, 2.0)))
                p.drawLine(QPointF(x, area.box.top()), QPointF(x, area.box.bottom()))
                p.drawText(QPointF(x + 3.0, area.box.top() + 11.0), "meas.")

    def reading_at(self, x: float) -> str:
        before, after = self.values_at(BEFORE, x), self.values_at(AFTER, x)
        if after is None:
            return ""
        if before is None or before <= 0.0:
            return f"{words.frequency(10.0**x)}: {words.level(after, self._unit)}"
        change = words.decibel(20.0 * np.log10(after / before))
        levels = words.change(words.level(before, self._unit), words.level(after, self._unit))
        return f"{words.frequency(10.0**x)}: {levels}, {change}"


class RingDownChart(Chart):
    """Free decay against time."""

    def __init__(self, parent: QWidget | None = None) -> None:
        about = "Ring-down before and after"
        super().__init__("ringDownChart", about, log_x=False, log_y=False, parent=parent)
        self.setMinimumHeight(130)
        self._unit = ""

    def show_ring_down(self, ring: RingDown, *, dragging: bool, stale: bool = False) -> None:
        """Draw both decays, faded when stale; the view is fitted unless a hand is dragging."""
        now, strength = look.current(), 0.45 if stale else 1.0
        self._unit = ring.unit
        self.set_units("s", ring.unit)
        self.set_curve(BEFORE, ring.time_s, ring.before, look.faded(now.before, 0.75 * strength))
        self.set_curve(AFTER, ring.time_s, ring.after, look.faded(now.after, strength), z=1)
        if not dragging:
            self.fit()

    def reading_at(self, x: float) -> str:
        before, after = self.values_at(BEFORE, x), self.values_at(AFTER, x)
        if before is None or after is None:
            return ""
        levels = words.change(words.level(before, self._unit), words.level(after, self._unit))
        return f"{words.seconds(x)}: {levels}"
