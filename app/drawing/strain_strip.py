"""The static strain in the ceramic against its place, both signs, each to its own allowable."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, fitting, polygon, text_width
from app.drawing.position_strip import OLD
from app.drawing.view_model import Array, DrawingView, StripView
from app.theme import look as looks
from core.units import words

TITLES = (
    "Static strain in the ceramic there, both signs, µε; each to its own allowable",
    "Static strain in the ceramic, both signs, µε",
    "Static strain, both signs, µε",
)
ROOM = 1.12
"""The allowable lies at this part of its half, so that what is beyond it can be seen."""


def _reach(values: Array, allowable: float) -> float:
    """The strain at the edge of a half."""
    good = values[np.isfinite(values)]
    most = float(np.abs(good).max()) if len(good) else 0.0
    return ROOM * max(allowable, min(most, 3.0 * allowable), 1e-12)


def strain_y(rect: QRectF, strip: StripView, values: Array, *, pull: bool) -> Array:
    """Heights in `rect` of strains of one sign, of the shape of `values`."""
    half = 0.5 * rect.height() - 1.0
    if pull:
        return rect.center().y() - half * values / _reach(strip.tension, strip.allowed_pull)
    return rect.center().y() + half * values / _reach(strip.compression, strip.allowed_push)


def paint_strain_ground(
    painter: QPainter, caption: QRectF, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink
) -> None:
    """Curves, allowables and the words at both sides: it changes only when the strip does."""
    look, strip = ink.look, view.strip
    painter.fillRect(rect, look.panel)
    font = ink.font(12)
    painter.setFont(font)
    painter.setPen(ink.pen(look.text))
    painter.drawText(caption, Align.AlignLeft | Align.AlignVCenter, fitting(font, TITLES, caption.width()))
    painter.setPen(ink.pen(look.line))
    middle = rect.center().y()
    painter.drawLine(QLineF(rect.left(), middle, rect.right(), middle))
    if strip is not None:
        painter.save()
        painter.setClipRect(rect)
        painter.setOpacity(OLD if view.strip_is_old else 1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        x = scale.px_array(strip.x_start_m)
        for values, pull, dash in ((strip.tension, True, ()), (strip.compression, False, (4.0, 3.0))):
            painter.setPen(ink.pen(look.text, 1.5, dash))
            good = np.isfinite(values)
            painter.drawPolyline(polygon(x[good], strain_y(rect, strip, values, pull=pull)[good]))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.restore()
        _paint_allowables(painter, rect, strip, ink)
    painter.setPen(ink.pen(look.line))
    painter.drawRect(rect)


def _paint_allowables(painter: QPainter, rect: QRectF, strip: StripView, ink: Ink) -> None:
    look = ink.look
    painter.setFont(ink.font(11))
    quarter = 0.25 * rect.height()
    for allowable, pull, word in ((strip.allowed_pull, True, "pull"), (strip.allowed_push, False, "push")):
        y = float(strain_y(rect, strip, np.array(allowable), pull=pull))
        painter.setPen(ink.pen(look.danger, 1.0, (5.0, 3.0)))
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
        sign = "" if pull else "\N{MINUS SIGN}"
        painter.setPen(ink.pen(look.danger))
        top = min(max(y - 8, rect.top() - 4), rect.bottom() - 12)
        painter.drawText(QRectF(rect.right() + 4, top, 42, 16), Align.AlignLeft | Align.AlignVCenter,
                         f"{sign}{words.significant(1e6 * allowable)}")  # fmt: skip
        painter.setPen(ink.pen(look.faint_text))
        at = rect.center().y() + (-quarter if pull else quarter)
        painter.drawText(QRectF(rect.left() - 60, at - 8, 54, 16), Align.AlignRight | Align.AlignVCenter, word)


def paint_strain_marker(painter: QPainter, rect: QRectF, view: DrawingView, scale: XScale, ink: Ink) -> None:
    """Both strains where the patch starts now, as value of allowable; a sign that is beyond is red."""
    patch, strip = view.selected, view.strip
    if patch is None:
        return
    look, at = ink.look, scale.px(patch.x_a_m)
    painter.setPen(ink.pen(look.accent))
    painter.drawLine(QLineF(at, rect.top(), at, rect.bottom()))
    if strip is None or len(strip.x_start_m) < 2:
        return
    font = ink.font(11, bold=True)
    painter.setFont(font)
    for values, allowable, pull, now in (
        (strip.tension, strip.allowed_pull, True, view.strain_now[0]),
        (strip.compression, strip.allowed_push, False, view.strain_now[1]),
    ):
        value = float(np.interp(patch.x_a_m, strip.x_start_m, values)) if now is None else now
        if not np.isfinite(value):
            continue
        y = min(max(float(strain_y(rect, strip, np.array(value), pull=pull)), rect.top()), rect.bottom())
        painter.setPen(ink.pen(look.text, 1.5))
        painter.setBrush(look.panel)
        painter.drawEllipse(QPointF(at, y), 3.5, 3.5)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        way = 1.0 if pull else -1.0
        text = words.unitless(words.value_of(way * value, way * allowable, "strain"))
        wide = text_width(font, text) + 6
        left = at + 8 if at + 8 + wide < rect.right() else at - 8 - wide
        box = QRectF(left, rect.center().y() + (-15 if pull else 1), wide, 14)
        painter.fillRect(box, looks.faded(look.panel, 0.85))
        used = value / allowable if allowable else 0.0
        colour = look.danger if used > 1.0 else look.caution if used > 2.0 / 3.0 else look.text
        painter.setPen(ink.pen(colour))
        painter.drawText(box, Align.AlignCenter, text)
