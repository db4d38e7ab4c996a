"""Supports of either end as the drawing board knows them: hatched wall, triangle, slide, spring."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from app.drawing.ink import Ink, hatch, rect_path

WALL = 13.0


def paint_support(painter: QPainter, end: QRectF, kind: str, ink: Ink, *, at_root: bool) -> None:
    """The support at a vertical line `end` (a box of no width); the structure lies right of the root."""
    out = -1.0 if at_root else 1.0
    if kind in ("clamped", "guided", "elastic"):
        offset = {"clamped": 0.0, "guided": 7.0, "elastic": 15.0}[kind]
        _paint_wall(painter, end, out, offset, ink)
    if kind == "guided":
        _paint_rollers(painter, end, out, ink)
    elif kind == "elastic":
        _paint_zigzag(painter, end, out, ink)
    elif kind == "pinned":
        _paint_pin(painter, end, out, ink)


def _paint_wall(painter: QPainter, end: QRectF, out: float, offset: float, ink: Ink) -> None:
    face = end.left() + out * offset
    back = face + out * WALL
    area = QRectF(min(face, back), end.top(), WALL, end.height())
    hatch(painter, rect_path(area), ink.pen(ink.look.strong_line), 6.0)
    painter.setPen(ink.pen(ink.look.text, 2.0))
    painter.drawLine(QLineF(face, end.top(), face, end.bottom()))


def _paint_rollers(painter: QPainter, end: QRectF, out: float, ink: Ink) -> None:
    painter.setPen(ink.pen(ink.look.text))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for share in (0.2, 0.5, 0.8):
        at = QPointF(end.left() + out * 3.5, end.top() + share * end.height())
        painter.drawEllipse(at, 3.0, 3.0)


def _paint_zigzag(painter: QPainter, end: QRectF, out: float, ink: Ink) -> None:
    painter.setPen(ink.pen(ink.look.text))
    middle = end.center().y()
    swing = min(6.0, 0.25 * end.height())
    points = [QPointF(end.left(), middle)]
    points += [
        QPointF(end.left() + out * (2.5 + 2.0 * i), middle + (swing if i % 2 else -swing)) for i in range(6)
    ]
    points.append(QPointF(end.left() + out * 15.0, middle))
    painter.drawPolyline(points)


def _paint_pin(painter: QPainter, end: QRectF, out: float, ink: Ink) -> None:
    painter.setPen(ink.pen(ink.look.text))
    painter.setBrush(ink.look.panel)
    at, middle = end.left(), end.center().y()
    painter.drawPolygon(
        [QPointF(at, middle), QPointF(at + out * 11, middle - 7), QPointF(at + out * 11, middle + 7)]
    )
    painter.setBrush(Qt.BrushStyle.NoBrush)
    area = QRectF(min(at + out * 11, at + out * 17), middle - 9, 6, 18)
    hatch(painter, rect_path(area), ink.pen(ink.look.strong_line), 4.0)


def paint_ground_spring(painter: QPainter, top: QPointF, length: float, ink: Ink) -> None:
    """A spring from `top` down to a hatched ground `length` lower."""
    painter.setPen(ink.pen(ink.look.text))
    steps = 6
    points = [top]
    points += [
        QPointF(top.x() + (5 if i % 2 else -5), top.y() + length * (i + 0.5) / steps) for i in range(steps)
    ]
    points.append(QPointF(top.x(), top.y() + length))
    painter.drawPolyline(points)
    ground = QRectF(top.x() - 9, top.y() + length, 18, 5)
    hatch(painter, rect_path(ground), ink.pen(ink.look.strong_line), 4.0)
    painter.setPen(ink.pen(ink.look.text))
    painter.drawLine(ground.topLeft(), ground.topRight())
