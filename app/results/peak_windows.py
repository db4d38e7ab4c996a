"""The peaks asked about, each in a window of its own: before and after in per cent of before.

In a chart of the whole band two curves that differ by a quarter at their peaks lie on each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QLineF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.drawing.ink import Ink, polygon, strong_curve
from app.theme import look
from core.predict.asked import peak_wanted
from core.predict.mode_result import ModeResult
from core.predict.prediction import Prediction
from core.project.service import Asked
from core.units import words

Array = NDArray[np.float64]

MOST = 2
TOP = 1.12
"""The highest level shown, over the peak before."""
HEAD, FOOT, GAP = 18.0, 16.0, 8.0


@dataclass(frozen=True, eq=False)
class Peak:
    """One window: levels over that of the peak before, frequencies from 0 to 1 over the window."""

    mode: int
    change: str
    frequency: str
    at: Array
    before: Array
    after: Array
    wanted: float | None


def peaks_of(prediction: Prediction, modes: tuple[int, ...], asked: Asked) -> tuple[Peak, ...]:
    """The first windows of `modes` that have a peak in the response; none where there is no before."""
    response = prediction.response
    before, after = np.abs(response.before), np.abs(response.after)
    out = []
    for number in modes:
        mode = next((m for m in prediction.modes if m.number == number), None)
        if mode is None or mode.peak_change_db is None or not np.isfinite(before).all():
            continue
        low, high = window_of(mode)
        pick = slice(*np.searchsorted(response.frequency_hz, (low, high)).tolist())
        f = response.frequency_hz[pick]
        if len(f) < 5 or not before[pick].max() > 0.0:
            continue
        peak = float(before[pick].max())
        wanted = peak_wanted(asked, number)
        out.append(
            Peak(
                number,
                words.amplitude_change(mode.peak_change_db),
                words.frequency(mode.f_short_hz),
                (f - low) / (high - low),
                before[pick] / peak,
                after[pick] / peak,
                None if wanted is None else 1.0 + wanted,
            )
        )
        if len(out) == MOST:
            break
    return tuple(out)


def window_of(mode: ModeResult) -> tuple[float, float]:
    """Frequencies in Hz about a mode that show its peak with its feet, and both of a split one."""
    zeta = mode.zeta if np.isfinite(mode.zeta) else mode.zeta_before
    half = min(max(6.0 * mode.zeta_before, 2.5 * zeta, 0.8 * mode.k2**0.5), 0.35)
    middle = 0.5 * (mode.f_short_hz + mode.f_open_hz)
    return middle * (1.0 - half), middle * (1.0 + half)


class PeakWindows(QWidget):
    """Paints up to two `Peak`s side by side; hidden without any."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("peakWindows")
        self.setAccessibleName("Peaks before and after")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._peaks: tuple[Peak, ...] = ()
        self._faded = False
        look.look_changed.connect(self.update)

    @property
    def peaks(self) -> tuple[Peak, ...]:
        return self._peaks

    def show_peaks(self, peaks: tuple[Peak, ...], *, faded: bool = False) -> None:
        count = len(self._peaks)
        self._peaks, self._faded = peaks, faded
        if len(peaks) != count:
            self.setVisible(bool(peaks))
            self.updateGeometry()
        self.update()

    def sentences(self) -> list[str]:
        """The windows in words."""
        return [f"Peak of mode {p.mode} near {p.frequency}: {p.change} of before" for p in self._peaks]

    def sizeHint(self) -> QSize:
        return QSize(92 * max(len(self._peaks), 1), 150)

    def minimumSizeHint(self) -> QSize:
        return QSize(78 * len(self._peaks), 100)

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as p:
            p.fillRect(self.rect(), look.current().window)
            if not self._peaks:
                return
            if self._faded:
                p.setOpacity(0.55)
            wide = (self.width() - GAP * (len(self._peaks) - 1)) / len(self._peaks)
            for place, peak in enumerate(self._peaks):
                self._paint(p, peak, QRectF(place * (wide + GAP), 0.0, wide, float(self.height())))

    def _paint(self, p: QPainter, peak: Peak, box: QRectF) -> None:
        now = look.current()
        colour = now.mode(peak.mode)
        area = box.adjusted(1, HEAD, -1, -FOOT)
        p.fillRect(area, now.panel)
        p.setFont(look.font(11, bold=True))
        p.setPen(colour)
        head = QRectF(box.left(), box.top(), box.width(), HEAD)
        title = f"mode {peak.mode} {peak.change}"
        if p.fontMetrics().horizontalAdvance(title) > box.width():
            title = f"{peak.mode}: {peak.change}"
        p.drawText(head, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, title)
        p.setFont(look.font(11))
        p.setPen(now.faint_text)
        p.drawText(QRectF(box.left(), area.bottom(), box.width(), FOOT), Qt.AlignmentFlag.AlignCenter, peak.frequency)
        p.save()
        p.setClipRect(area)
        x = area.left() + area.width() * peak.at
        before, after = (area.bottom() - area.height() * level / TOP for level in (peak.before, peak.after))
        filled = np.concatenate([[area.bottom()], before, [area.bottom()]])
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(now.before, 0.25))
        p.drawPolygon(polygon(np.concatenate([x[:1], x, x[-1:]]), filled))
        p.setBrush(Qt.BrushStyle.NoBrush)
        p.setPen(look.pen(now.before, 1.0, self, (4.0, 3.0)))
        p.drawPolyline(polygon(x, before))
        strong_curve(p, x, after, now.after, Ink(now, self.devicePixelRatioF()))
        if peak.wanted is not None:
            y = area.bottom() - area.height() * peak.wanted / TOP
            p.setPen(look.pen(now.text, 1.0, self, (1.0, 3.0)))
            p.drawLine(QLineF(area.left(), y, area.right(), y))
        p.restore()
        p.setPen(look.pen(colour, 1.0, self))
        p.drawRect(area)
