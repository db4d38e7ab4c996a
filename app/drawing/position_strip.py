"""Damping each mode would get with the patch starting at x, static strain on the same axis."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale, nice_step, tick_text, ticks
from app.drawing.ink import Align, Ink, hatch, polygon, rect_path, text_width
from app.drawing.view_model import FLAT, DrawingView, StripView
from app.theme import look as looks
from core.units import words

TITLE = "Damping each mode would get with the patch starting at x"


@dataclass(frozen=True)
class DampingScale:
    """The damping scale of a strip in per cent: from zero, or from a round value below the least
    damping when all curves lie high above zero."""

    low: float
    high: float
    step: float

    def y(self, rect: QRectF, percent):
        """Height in `rect` of a damping ratio in per cent."""
        return rect.bottom() - rect.height() * (np.asarray(percent) - self.low) / (self.high - self.low)


def damping_scale(strip: StripView, height_px: float) -> DampingScale:
    """The scale that suits what the strip holds."""
    good = 100.0 * strip.zeta[np.isfinite(strip.zeta)]
    parts = max(2, int(height_px // 26))
    if not good.size or good.max() <= 0:
        return DampingScale(0.0, 1.0, nice_step(1.0, parts))
    least, most = float(good.min()), float(good.max())
    if most - least <= FLAT * most:
        return DampingScale(0.0, 1.6 * most, nice_step(1.6 * most, parts))
    if least > 0.4 * most:
        step = nice_step(1.2 * (most - least), parts)
        low = max(0.0, floor((least - 0.05 * (most - least)) / step) * step)
    else:
        low, step = min(0.0, least), nice_step(1.08 * most, parts)
    return DampingScale(low, most + 0.08 * (most - low), step)


def paint_strip_ground(
    painter: QPainter, caption: QRectF, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink
) -> None:
    """Everything but strain nodes and marker: it changes only when the strip does."""
    look = ink.look
    painter.fillRect(rect, look.panel)
    painter.setFont(ink.font(12))
    painter.setPen(ink.pen(look.text))
    painter.drawText(caption, Align.AlignLeft | Align.AlignTop, _title(view))
    strip = view.strip
    if strip is None:
        painter.setPen(ink.pen(look.line))
        painter.drawRect(rect)
        painter.setPen(ink.pen(look.faint_text))
        text = _empty(view)
        painter.drawText(rect, Align.AlignCenter, text)
        return
    _paint_not_allowed(painter, rect, strip, scale, ink)
    _paint_scale(painter, rect, strip, ink)
    _paint_static_strain(painter, caption, rect, strip, scale, ink)
    _paint_curves(painter, rect, view, strip, scale, ink)
    painter.setPen(ink.pen(look.line))
    painter.drawRect(rect)


def _empty(view: DrawingView) -> str:
    if view.selected is None:
        return "Add a patch to see where it would work best."
    return "Working it out ..." if view.modes and not view.stale else "Waits for a layout without problems."


def _title(view: DrawingView) -> str:
    patch = view.selected
    return TITLE if patch is None else TITLE.replace("the patch", patch.id)


def _paint_not_allowed(painter: QPainter, rect: QRectF, strip: StripView, scale: XScale, ink: Ink) -> None:
    """Grey with hatching where the package may not start."""
    for start, end in blocked_stretches(strip):
        area = QRectF(scale.px(start), rect.top(), scale.px(end) - scale.px(start), rect.height())
        area = area.intersected(rect)
        painter.fillRect(area, looks.faded(ink.look.strong_line, 0.16))
        hatch(painter, rect_path(area), ink.pen(looks.faded(ink.look.strong_line, 0.35)), 8.0)


def blocked_stretches(strip: StripView) -> list[tuple[float, float]]:
    """Stretches of start positions that are not allowed, out to half a step beyond their samples."""
    x, blocked = strip.x_start_m, ~strip.allowed
    if len(x) < 2:
        return []
    edges = np.diff(np.concatenate([[0], blocked.astype(int), [0]]))
    starts, ends = np.nonzero(edges == 1)[0], np.nonzero(edges == -1)[0] - 1
    half = 0.5 * float(x[1] - x[0])
    return [(float(x[a]) - half, float(x[b]) + half) for a, b in zip(starts, ends, strict=True)]


def _paint_scale(painter: QPainter, rect: QRectF, strip: StripView, ink: Ink) -> None:
    shown = damping_scale(strip, rect.height())
    painter.setFont(ink.font(11))
    for value in ticks(shown.low, shown.high, shown.step):
        y = float(shown.y(rect, value))
        painter.setPen(ink.pen(ink.look.line))
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
        painter.setPen(ink.pen(ink.look.faint_text))
        box = QRectF(rect.left() - 60, y - 8, 54, 16)
        if y < rect.bottom() - 4:
            painter.drawText(box, Align.AlignRight | Align.AlignVCenter, f"{tick_text(value, shown.step)} %")
    low = f"{tick_text(shown.low, shown.step)} %" if shown.low else "0"
    box = QRectF(rect.left() - 60, rect.bottom() - 13, 54, 16)
    painter.drawText(box, Align.AlignRight | Align.AlignVCenter, low)


def _paint_static_strain(
    painter: QPainter, caption: QRectF, rect: QRectF, strip: StripView, scale: XScale, ink: Ink
) -> None:
    """The static service strain in the ceramic as a dotted grey line on its own scale at the right."""
    if strip.static_strain is None:
        return
    look, micro = ink.look, 1e6 * strip.static_strain
    reach = max(float(np.nanmax(np.abs(micro))), 1e-6)
    if reach < 0.01:
        return
    low, high = min(0.0, float(np.nanmin(micro))), max(0.0, float(np.nanmax(micro)))
    step = nice_step(high - low, max(2, int(rect.height() // 40)))
    low, high = low - 0.04 * (high - low), high + 0.04 * (high - low)

    def y_of(value):
        return rect.bottom() - rect.height() * (np.asarray(value) - low) / (high - low)

    painter.setPen(ink.pen(look.text, 1.0, (1.0, 3.0)))
    painter.drawPolyline(polygon(scale.px_array(strip.x_start_m), y_of(micro)))
    painter.setFont(ink.font(11))
    painter.setPen(ink.pen(look.faint_text))
    for value in ticks(low, high, step):
        y = float(y_of(value))
        painter.drawLine(QLineF(rect.right(), y, rect.right() + 4, y))
        box = QRectF(rect.right() + 6, y - 8, 38, 16)
        painter.drawText(box, Align.AlignLeft | Align.AlignVCenter, tick_text(value, step))
    text = "static strain, µε"
    wide = text_width(ink.font(11), text) + 4
    box = QRectF(caption.right() + 40 - wide, caption.top(), wide, 16)
    painter.drawText(box, Align.AlignCenter, text)
    painter.setPen(ink.pen(look.text, 1.0, (1.0, 3.0)))
    y, x = caption.top() + 8, caption.right() + 40 - wide
    painter.drawLine(QLineF(x - 24, y, x - 4, y))


def _paint_curves(
    painter: QPainter, rect: QRectF, view: DrawingView, strip: StripView, scale: XScale, ink: Ink
) -> None:
    """One curve per mode in its colour and dash, with its number at its best allowed place."""
    shown = damping_scale(strip, rect.height())
    x = scale.px_array(strip.x_start_m)
    painter.save()
    painter.setClipRect(rect)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    spots = []
    for index in reversed(range(min(strip.zeta.shape[1], view.modes_shown))):
        number = index + 1
        colour = ink.look.mode(number)
        wide = 2.0 if number == strip.target_mode else 1.0
        painter.setPen(ink.pen(colour, wide, ink.look.mode_dash(number)))
        good = np.isfinite(strip.zeta[:, index])
        painter.drawPolyline(polygon(x[good], shown.y(rect, 100.0 * strip.zeta[good, index])))
        best = strip.best(number)
        if best is not None:
            y = float(shown.y(rect, 100.0 * strip.zeta[best, index]))
            spots.append((number, float(x[best]), y, colour))
    placed: list[QRectF] = []
    for number, at, y, colour in reversed(spots):
        _paint_best(painter, rect, number, at, y, colour, placed, ink)
    painter.restore()


def _paint_best(
    painter: QPainter, rect: QRectF, number: int, x: float, y: float, colour, placed: list[QRectF], ink: Ink
) -> None:
    """A numbered disc at the best allowed place of a mode, moved aside where discs would cover each other."""
    x = min(max(x, rect.left() + 9), rect.right() - 9)
    y = min(max(y, rect.top() + 9), rect.bottom() - 9)
    disc = QRectF(x - 8, y - 8, 16, 16)
    while any(disc.intersects(other) for other in placed) and disc.right() + 16 < rect.right():
        disc.translate(17, 0)
    placed.append(disc)
    painter.setPen(ink.pen(colour))
    painter.setBrush(ink.look.panel)
    painter.drawEllipse(disc)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setFont(ink.font(11, bold=True))
    painter.drawText(disc, Align.AlignCenter, str(number))


def paint_strip_nodes(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Strain nodes as ticks on the lower edge, one row per mode, with the mode's number below."""
    painter.setFont(ink.font(11))
    taken: list[tuple[float, float]] = []
    for mode in view.modes:
        colour = ink.look.mode(mode.colour)
        painter.setPen(ink.pen(colour, 2.0))
        for node in mode.strain_nodes_m.tolist():
            at = scale.px(node)
            painter.drawLine(QLineF(at, rect.bottom() - 3, at, rect.bottom() + 5))
            if all(abs(at - other) > 11 for other, _ in taken):
                painter.drawText(
                    QRectF(at - 8, rect.bottom() + 5, 16, 14), Align.AlignCenter, str(mode.number)
                )
                taken.append((at, 0.0))
    if any(len(mode.strain_nodes_m) for mode in view.modes):
        painter.setPen(ink.pen(ink.look.faint_text))
        box = QRectF(4, rect.bottom() + 4, rect.left() - 8, 16)
        painter.drawText(box, Align.AlignLeft | Align.AlignVCenter, "strain nodes")


def _best_words(strip: StripView) -> str:
    """Where the tuned mode has its best allowed place; nothing where no place is allowed."""
    mode = strip.target_mode
    if strip.is_flat(mode):
        return f"mode {mode} gains nothing anywhere"
    best = strip.best(mode)
    return "" if best is None else f"best for mode {mode}: start at {words.millimetres(float(strip.x_start_m[best]))}"


def paint_strip_marker(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """The line of the present start, and in words where the tuned mode has its best."""
    patch, strip = view.selected, view.strip
    if patch is None:
        return
    look, at = ink.look, scale.px(patch.x_a_m)
    painter.setPen(ink.pen(look.accent, 1.0))
    painter.drawLine(QLineF(at, rect.top() - 4, at, rect.bottom()))
    painter.setBrush(look.accent)
    painter.drawPolygon(
        [QPointF(at - 6, rect.top() - 8), QPointF(at + 6, rect.top() - 8), QPointF(at, rect.top())]
    )
    painter.setBrush(Qt.BrushStyle.NoBrush)
    text = "" if strip is None or len(strip.x_start_m) < 2 else _best_words(strip)
    if strip is None or not text:
        return
    font = ink.font(11, bold=True)
    wide = text_width(font, text) + 10
    box = QRectF(rect.right() - wide - 6, rect.top() + 4, wide, 17)
    painter.fillRect(box, looks.faded(look.panel, 0.85))
    painter.setFont(font)
    painter.setPen(ink.pen(look.mode(strip.target_mode)))
    painter.drawText(box, Align.AlignCenter, text)
