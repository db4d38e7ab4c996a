"""The curves of an active loop: loop gain and its phase over frequency, Nyquist, root locus over gain."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.drawing.ink import polygon
from app.results.chart import Chart
from app.results.plane_chart import PlaneChart
from app.theme import look
from core.predict.loop.design import LoopView

Array = NDArray[np.float64]

LOWEST_DB = -100.0
"""Down to which the loop gain is drawn."""
FARTHEST = 4.0
"""From the origin, up to which the loop gain is drawn."""
HALF_TURN = 180.0


class PhaseChart(Chart):
    """A phase in degrees over frequency, from -180 to 180: where it goes on at the other end no line crosses the chart."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("loopPhase", "Phase of the loop gain", log_x=True, log_y=False, parent=parent)
        self.runs: tuple[tuple[Array, Array], ...] = ()
        """(log10 of frequency, degrees) of the pieces between two such places."""

    def show_phase(self, frequency_hz: Array, degrees: Array) -> None:
        ends = np.flatnonzero(np.abs(np.diff(degrees)) > HALF_TURN) + 1
        self.runs = tuple(zip(np.split(np.log10(frequency_hz), ends), np.split(degrees, ends), strict=True))
        self.set_curve("range", frequency_hz[[0, -1]], np.array([-HALF_TURN, HALF_TURN]), look.faded(look.current().line, 0.0))
        self.fit()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        area, now = self._area(), look.current()
        with QPainter(self) as p:
            p.setClipRect(area.box)
            p.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            p.setPen(look.pen(now.after, 1.0, self))
            for x, y in self.runs:
                p.drawPolyline(polygon(area.x_px(x), area.y_px(y)))


class LoopCurves:
    """The four charts; each is drawn anew unless it `waits`."""

    def __init__(self, parent: QWidget) -> None:
        self.bode = Chart("loopBode", "Loop gain over frequency", log_x=True, log_y=False, parent=parent)
        self.phase = PhaseChart(parent)
        for chart, least, most in ((self.bode, 130, 160), (self.phase, 90, 110)):
            chart.setMinimumHeight(least)
            chart.setMaximumHeight(most)
        self.nyquist = PlaneChart("loopNyquist", "Nyquist", (-1.0, 0.0), parent)
        self.locus = PlaneChart("loopLocus", "Root locus over gain", None, parent)

    def show_view(self, view: LoopView, waits: Callable[[QWidget], bool]) -> None:
        now = look.current()
        frequency, gain = view.gain
        if not waits(self.bode):
            level = np.maximum(20.0 * np.log10(np.maximum(np.abs(gain), 1e-300)), LOWEST_DB)
            self.bode.set_units("Hz", "")
            self.bode.set_curve("gain", frequency, level, now.after, width=1.0)
            self.bode.set_curve("one", frequency[[0, -1]], np.zeros(2), now.before, dash=(4.0, 3.0))
            self.bode.fit()
        if not waits(self.phase):
            self.phase.set_units("Hz", "")
            self.phase.show_phase(frequency, np.rad2deg(np.angle(gain)))
        if not waits(self.nyquist):
            far = np.minimum(1.0, FARTHEST / np.maximum(np.abs(gain), 1e-12))
            self.nyquist.show_path((gain * far).real, (gain * far).imag, (-1.6, 1.0, -1.2, 1.2))
        if not waits(self.locus):
            self._show_locus(view)

    def _show_locus(self, view: LoopView) -> None:
        poles = view.locus()[1]
        top = 1.3 * max(c.frequency_hz for c in view.changes) * 2 * np.pi
        kept = np.where((np.abs(poles) < top) & (poles.imag >= 0.0), poles, np.nan)
        flat = kept[np.isfinite(kept)]
        left = float(min(flat.real.min(initial=-1.0), -1.0))
        self.locus.show_path(flat.real, flat.imag / (2 * np.pi), (left, -0.25 * left, 0.0, top / (2 * np.pi)))
        present = view.loop.spectra[0].value_rad_s
        shown = present[(np.abs(present) < top) & (present.imag >= 0.0)]
        self.locus.show_points(tuple((float(p.real), float(p.imag) / (2 * np.pi), bool(p.real > 0)) for p in shown))
