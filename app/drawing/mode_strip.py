"""One mode over x: deflection as the solid emphasised line, curvature dashed over its filled area."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Align, Ink, polygon, strong_curve, text_width
from app.drawing.view_model import DrawingView, ModeView
from app.theme import look as looks
from core.units import words

FADED = 0.35


def paint_mode_frame(painter: QPainter, rect: QRectF, ink: Ink) -> None:
    """The empty strip: page, frame and zero line."""
    painter.fillRect(rect, ink.look.panel)
    painter.setPen(ink.pen(ink.look.line))
    painter.drawRect(rect)
    painter.drawLine(QLineF(rect.left(), rect.center().y(), rect.right(), rect.center().y()))


def paint_mode_caption(painter: QPainter, rect: QRectF, view: DrawingView, ink: Ink) -> None:
    """The key of the strips at the right, and what they stand for when they are not current."""
    look = ink.look
    font = ink.font(11)
    painter.setFont(font)
    x = rect.right()
    for text, dash in (("strain node", None), ("curvature", (4.0, 3.0)), ("deflection", ())):
        wide = text_width(font, text) + 4
        painter.setPen(ink.pen(look.faint_text))
        painter.drawText(QRectF(x - wide, rect.top(), wide, rect.height()), Align.AlignCenter, text)
        middle = rect.center().y()
        if dash is None:
            _node(painter, x - wide - 7, middle + 3, look.faint_text, ink)
        else:
            painter.setPen(ink.pen(look.faint_text, 1.0 if dash else 2.0, dash))
            painter.drawLine(QLineF(x - wide - 24, middle, x - wide - 3, middle))
        x -= wide + (22 if dash is None else 40)
    if view.stale:
        painter.setFont(ink.font(11, bold=True))
        painter.setPen(ink.pen(look.caution))
        painter.drawText(rect, Align.AlignLeft | Align.AlignVCenter, "last good result")
    elif not view.modes:
        painter.setPen(ink.pen(look.faint_text))
        painter.drawText(rect, Align.AlignLeft | Align.AlignVCenter, "no result yet")


def paint_mode(
    painter: QPainter, rect: QRectF, mode: ModeView, scale: XScale, ink: Ink, *, stale: bool
) -> None:
    """Curvature, deflection, strain nodes and the label of one mode in its strip."""
    look = ink.look
    colour = look.mode(mode.colour)
    if stale:
        colour = looks.faded(colour, FADED)
    x = scale.px_array(mode.x_m)
    middle, reach = rect.center().y(), 0.5 * rect.height() - 4
    curve = middle - reach * mode.curvature
    area = polygon(np.concatenate([[x[0]], x, [x[-1]]]), np.concatenate([[middle], curve, [middle]]))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(looks.faded(look.mode(mode.colour), 0.08 if stale else 0.20))
    painter.drawPolygon(area)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(ink.pen(colour, 1.0, (4.0, 3.0)))
    painter.drawPolyline(polygon(x, curve))
    for node in mode.strain_nodes_m.tolist():
        _node(painter, scale.px(node), middle, colour, ink)
    strong_curve(painter, scale.px_array(mode.deflection_x_m), middle - reach * mode.deflection, colour, ink)
    _paint_label(painter, rect, mode, ink, faded=stale)


def _node(painter: QPainter, x: float, y: float, colour, ink: Ink) -> None:
    """A tick with a small open diamond where the curvature is zero."""
    painter.setPen(ink.pen(colour))
    painter.setBrush(ink.look.panel)
    painter.drawPolygon([QPointF(x - 4, y), QPointF(x, y - 4), QPointF(x + 4, y), QPointF(x, y + 4)])
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _paint_label(painter: QPainter, rect: QRectF, mode: ModeView, ink: Ink, *, faded: bool) -> None:
    middle = rect.center().y()
    painter.setPen(ink.pen(ink.look.faint_text if faded else ink.look.mode(mode.colour)))
    painter.setFont(ink.font(12, bold=True))
    painter.drawText(
        QRectF(8, middle - 17, 66, 17), Align.AlignLeft | Align.AlignVCenter, f"Mode {mode.number}"
    )
    painter.setPen(ink.pen(ink.look.faint_text if faded else ink.look.text))
    painter.setFont(ink.font(11))
    frequency = words.frequency(mode.frequency_hz)
    painter.drawText(QRectF(8, middle, 66, 16), Align.AlignLeft | Align.AlignVCenter, frequency)
