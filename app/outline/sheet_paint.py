"""Paints a scene of the import preview."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPolygonF, QTransform

from app.drawing.ink import Ink, hatch, polygon_path
from app.outline.scene import Scene, SheetScale, across, handles
from app.theme import look as looks


def paint_sheet(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    """The picture, the model behind, the lines of the drawing, and what can be dragged."""
    painter.fillRect(QRectF(0, 0, scale.width, scale.height), ink.look.panel)
    _image(painter, scene, scale)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    _model_behind(painter, scene, scale, ink)
    _lines(painter, scene, scale, ink)
    _zones(painter, scene, scale, ink)
    _beam(painter, scene, scale, ink)
    _tracing(painter, scene, scale, ink)
    if scene.scaled:
        _scale_bar(painter, scale, ink)


def _image(painter: QPainter, scene: Scene, scale: SheetScale) -> None:
    if scene.image is None:
        return
    corner = scale.px(0.0, 0.0)
    k = scene.m_per_px * scale.px_per_m
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, k < 4)
    painter.setTransform(QTransform(k, 0, 0, k, corner.x(), corner.y()), True)
    painter.setOpacity(0.85)
    painter.drawImage(QPointF(0, 0), scene.image)
    painter.restore()


def _model_behind(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    if scene.model is None:
        return
    path = polygon_path(scale.polygon(scene.model))
    for ring in scene.cut_outs:
        path = path.subtracted(polygon_path(scale.polygon(ring)))
    painter.setBrush(looks.faded(ink.look.accent, 0.16))
    painter.setPen(ink.pen(looks.faded(ink.look.accent, 0.9), 1.0, (6.0, 4.0)))
    painter.drawPath(path)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _lines(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    painter.setPen(ink.pen(looks.faded(ink.look.faint_text, 0.55)))
    for line in scene.faint:
        painter.drawPolyline(scale.polygon(line))
    painter.setPen(ink.pen(ink.look.structure_line, 1.5))
    for area in scene.areas:
        path = QPainterPath()
        for ring in area:
            path.addPath(polygon_path(scale.polygon(ring)))
        painter.fillPath(path, looks.faded(ink.look.structure_fill, 0.25 if scene.image else 0.55))
        painter.drawPath(path)


def _zones(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    for zone in scene.zones:
        path = polygon_path(scale.polygon(zone))
        hatch(painter, path, ink.pen(looks.faded(ink.look.keep_out, 0.75)), 7.0)
        painter.setPen(ink.pen(ink.look.keep_out))
        painter.drawPath(path)


def _beam(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    """Axis, clamp line with the hatching of a support, tip line, their names and grips."""
    places = handles(scene, scale)
    if scene.frame is None or not places:
        return
    look = ink.look
    painter.setPen(ink.pen(look.accent, 1.0, (12.0, 3.0, 2.0, 3.0)))
    along = places["tip"] - places["root"]
    painter.drawLine(places["root"] - along * 0.04, places["tip"] + along * 0.04)
    for name, colour, dash in (("clamp", look.danger, ()), ("end", look.accent, (5.0, 3.0))):
        painter.setPen(ink.pen(colour, 2.0, dash))
        painter.drawLine(*across(scene, scale, name))
    c, s = scene.frame.direction
    a, b = across(scene, scale, "clamp")
    depth = QPointF(-12 * c, 12 * s)
    support = polygon_path(QPolygonF([a, b, b + depth, a + depth]))
    hatch(painter, support, ink.pen(looks.faded(look.danger, 0.8)), 6.0)
    painter.setFont(ink.font(12, bold=True))
    for name, place in places.items():
        painter.setPen(ink.pen(look.accent, 2.0))
        painter.setBrush(look.panel)
        painter.drawEllipse(place, 6.0, 6.0)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawText(place + QPointF(9, -9), name)
    for name, text in (("clamp", "clamp line"), ("end", "tip of the span")):
        a, b = across(scene, scale, name)
        top = a if a.y() < b.y() else b
        painter.setPen(ink.pen(look.text))
        wide = painter.fontMetrics().horizontalAdvance(text)
        x = min(max(top.x() - wide / 2, 4.0), scale.width - wide - 4.0)
        painter.drawText(QPointF(x, max(top.y() - 6, 14.0)), text)


def _tracing(painter: QPainter, scene: Scene, scale: SheetScale, ink: Ink) -> None:
    """Clicked corners, and the two points of known distance with their numbers."""
    look = ink.look
    if scene.points:
        corners = [scale.px(*p) for p in scene.points]
        painter.setPen(ink.pen(look.accent, 2.0))
        painter.drawPolyline(corners + (corners[:1] if scene.points_closed else []))
        painter.setPen(ink.pen(look.accent))
        painter.setBrush(look.panel)
        for corner in corners:
            painter.drawRect(QRectF(corner.x() - 3, corner.y() - 3, 6, 6))
    marks = [scale.px(*p) for p in scene.scale_points]
    painter.setPen(ink.pen(look.danger, 2.0))
    if len(marks) == 2:
        painter.drawLine(*marks)
    painter.setFont(ink.font(12, bold=True))
    for number, mark in enumerate(marks, 1):
        painter.drawLine(mark - QPointF(7, 0), mark + QPointF(7, 0))
        painter.drawLine(mark - QPointF(0, 7), mark + QPointF(0, 7))
        painter.drawText(mark + QPointF(8, -8), str(number))
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _scale_bar(painter: QPainter, scale: SheetScale, ink: Ink) -> None:
    wanted = 100.0 / scale.px_per_m
    step = 10.0 ** math.floor(math.log10(wanted))
    length = max(k for k in (1.0, 2.0, 5.0) if k * step <= wanted * 1.0001) * step
    wide = length * scale.px_per_m
    left, y = 14.0, scale.height - 14.0
    painter.setPen(ink.pen(ink.look.text))
    painter.drawLine(QPointF(left, y), QPointF(left + wide, y))
    for x in (left, left + wide):
        painter.drawLine(QPointF(x, y - 4), QPointF(x, y + 4))
    painter.setFont(ink.font(11))
    painter.drawText(QPointF(left + 4, y - 6), f"{1e3 * length:g} mm")
