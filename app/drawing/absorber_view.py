"""Tuned masses on the drawing: a block on a coil in the side view, a ring about a disc in plan."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from app.drawing.axis import XScale
from app.drawing.ink import Ink
from app.drawing.labels import TALL, Labels, label_width
from app.drawing.view_model import AbsorberView, DrawingView
from app.theme import look as looks

COIL, BLOCK = 9.0, QRectF(-8.0, -9.0, 16.0, 9.0)
RING = 8.0
REACH = 4.0
TURNS = 4


def plan_box(absorber: AbsorberView, scale: XScale, middle_px: float) -> QRectF:
    """Where it is drawn in plan."""
    return QRectF(scale.px(absorber.x_m) - RING, middle_px - RING, 2 * RING, 2 * RING)


def side_box(absorber: AbsorberView, scale: XScale, top_px: float) -> QRectF:
    """Where block and coil are drawn in the side view, over the top face."""
    block = BLOCK.translated(scale.px(absorber.x_m), top_px - COIL)
    return QRectF(block.left(), block.top(), block.width(), top_px - block.top())


def paint_in_plan(painter: QPainter, view: DrawingView, scale: XScale, middle_px: float, ink: Ink) -> None:
    """Seen from above: the mass in its cage, with its name."""
    labels = Labels()
    for absorber in view.absorbers:
        box = plan_box(absorber, scale, middle_px)
        _pen(painter, absorber, ink)
        painter.setBrush(looks.faded(ink.look.window, 0.8))
        painter.drawEllipse(box)
        painter.setBrush(looks.faded(ink.look.accent if absorber.selected else ink.look.text, 0.75))
        painter.drawEllipse(box.center(), 0.45 * RING, 0.45 * RING)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        text = f"{absorber.label}, too far" if absorber.broken else absorber.label
        top, wide = box.center().y() - 0.5 * TALL, label_width(text, ink)
        places = [(box.left() - wide - 3, top), (box.right() + 3, top)]
        beside = places if absorber.x_m > 0.25 * view.span_m else places[::-1]
        labels.write(painter, beside, text, _colour(absorber, ink), ink)


def paint_in_side(painter: QPainter, view: DrawingView, scale: XScale, tops_px: list[float], ink: Ink) -> None:
    """Block and coil over the face."""
    for absorber, top in zip(view.absorbers, tops_px, strict=True):
        box = side_box(absorber, scale, top)
        block = QRectF(box.left(), box.top(), box.width(), BLOCK.height())
        at = box.center().x()
        _pen(painter, absorber, ink)
        painter.drawPolyline(_coil(at, block.bottom(), top))
        painter.setBrush(looks.faded(ink.look.accent if absorber.selected else ink.look.text, 0.75))
        painter.drawRoundedRect(block, 2, 2)
        painter.setBrush(Qt.BrushStyle.NoBrush)


def _pen(painter: QPainter, absorber: AbsorberView, ink: Ink) -> None:
    painter.setPen(ink.pen(_colour(absorber, ink), 1.5 if absorber.selected else 1.0))


def _colour(absorber: AbsorberView, ink: Ink) -> QColor:
    look = ink.look
    return look.danger if absorber.broken else look.accent if absorber.selected else look.text


def _coil(at: float, top: float, bottom: float) -> QPolygonF:
    """A zigzag from the block down to the face."""
    step = (bottom - top) / (TURNS + 1)
    points = [QPointF(at, top)]
    points += [QPointF(at + (4.0 if k % 2 else -4.0), top + (k + 0.5) * step) for k in range(1, TURNS)]
    return QPolygonF([*points, QPointF(at, bottom)])
