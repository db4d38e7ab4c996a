"""The strip under the drawing while the patch is driven or listens: what each mode would move or give with the
patch starting at x. Both are one curve in two units, so a dip is a blind spot both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, polygon
from app.drawing.view_model import Array, DrawingView, StripView
from app.results.ticks import log_ticks
from core.project.use import Use
from core.units import words

TITLES = {
    "drive": ("Tip motion per volt each mode would get with {} starting at x", "Motion per volt with {} at x"),
    "sense": ("Volts per mm each mode would give with {} starting at x", "Volts per mm with {} at x"),
}
DECADES = 4.0


@dataclass(frozen=True)
class UseScale:
    """A logarithmic scale; low and high are exponents of ten of what is shown (m/V, or V/mm)."""

    low: float
    high: float
    unit: str
    factor: float

    def ys(self, rect: QRectF, values: Array) -> Array:
        """Heights in `rect` of values in SI; what is far below stays at the lower edge."""
        exponent = np.log10(np.maximum(values * self.factor, 1e-30))
        share = np.clip((exponent - self.low) / (self.high - self.low), 0.0, 1.0)
        return np.asarray(rect.bottom() - rect.height() * share)


def use_scale(strip: StripView) -> UseScale | None:
    """The scale that suits the curves; None without any."""
    if strip.of_use is None:
        return None
    unit, factor = ("m", 1.0) if strip.use == "drive" else ("V", 1e-3)
    good = strip.of_use[np.isfinite(strip.of_use) & (strip.of_use > 0.0)] * factor
    if not good.size:
        return None
    high = float(np.log10(good.max())) + 0.08
    return UseScale(max(float(np.log10(good.min())), high - DECADES), high, unit, factor)


def use_titles(use: Use) -> tuple[str, ...]:
    """Headings of the strip in a use that does not damp."""
    return TITLES[use]


def paint_use(painter: QPainter, rect: QRectF, view: DrawingView, strip: StripView, scale: XScale, ink: Ink) -> None:
    """Marks and curves in `rect`; a disc with the mode's number where it gives most."""
    shown = use_scale(strip)
    if shown is None or strip.of_use is None:
        return
    painter.setFont(ink.font(11))
    for at, text, labelled in log_ticks(shown.low, shown.high, shown.unit, wanted=4):
        if not labelled:
            continue
        y = rect.bottom() - rect.height() * (at - shown.low) / (shown.high - shown.low)
        painter.setPen(ink.pen(ink.look.line))
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
        painter.setPen(ink.pen(ink.look.faint_text))
        painter.drawText(QRectF(rect.left() - 72, y - 8, 66, 16), Align.AlignRight | Align.AlignVCenter, text)
    x = scale.px_array(strip.x_start_m)
    painter.save()
    painter.setClipRect(rect)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    count = min(strip.of_use.shape[1], view.modes_shown)
    for number in range(count, 0, -1):
        values = strip.of_use[:, number - 1]
        good = np.isfinite(values)
        painter.setPen(ink.pen(ink.look.mode(number), 2.0 if number in view.asked else 1.0, ink.look.mode_dash(number)))
        painter.drawPolyline(polygon(x[good], shown.ys(rect, values[good])))
    taken: list[QRectF] = []
    for number in range(1, count + 1):
        values = np.where(strip.allowed & np.isfinite(strip.of_use[:, number - 1]), strip.of_use[:, number - 1], -1.0)
        best = int(np.argmax(values))
        if values[best] > 0.0:
            at_y = float(shown.ys(rect, values[best : best + 1])[0])
            _disc(painter, rect, number, QPointF(float(x[best]), at_y), taken, ink, filled=number in view.asked)
    painter.restore()


def _disc(
    painter: QPainter, rect: QRectF, number: int, at: QPointF, taken: list[QRectF], ink: Ink, *, filled: bool
) -> None:
    left = min(max(at.x(), rect.left() + 9), rect.right() - 9)
    top = min(max(at.y(), rect.top() + 9), rect.bottom() - 9)
    disc, colour = QRectF(left - 8, top - 8, 16, 16), ink.look.mode(number)
    while any(disc.intersects(other) for other in taken) and disc.right() + 16 < rect.right():
        disc.translate(17, 0)
    taken.append(disc)
    painter.setPen(ink.pen(colour))
    painter.setBrush(colour if filled else ink.look.panel)
    painter.drawEllipse(disc)
    painter.setPen(ink.pen(ink.look.panel if filled else colour))
    painter.setFont(ink.font(11, bold=True))
    painter.drawText(disc, Align.AlignCenter, str(number))


def use_text(strip: StripView, index: int) -> list[str]:
    """What each mode would move or give with the patch starting at that sample."""
    assert strip.of_use is not None
    out = []
    for column, value in enumerate(strip.of_use[index].tolist()):
        told = words.engineering(value, "m") + "/V" if strip.use == "drive" else words.engineering(1e-3 * value, "V") + "/mm"
        out.append(f"mode {column + 1}: {told if np.isfinite(value) else words.NO_VALUE}")
    return out
