"""The customer's drawing in the preview: axis, clamp line, tip line and traced points to drag."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from app.drawing.ink import Ink
from app.outline.scene import Scene, SheetScale, across, handles
from app.outline.sheet_paint import paint_sheet
from app.theme import look as looks
from core.outline.frame import Frame

REACH_PX = 9.0
MARGIN_PX = 48.0
SNAP_PX = 6.0
START_PX = 4.0
MOST_CATCHING = 50_000
"""With more corners than this in a drawing none of them catches."""


class SheetView(QWidget):
    """Shows a `Scene`; the wheel zooms at the pointer, dragging empty ground moves the sheet."""

    frame_dragged = Signal(object)
    """A `Frame` while the hand moves."""
    clicked = Signal(float, float)
    """A click on free ground, m."""
    point_moved = Signal(str, int, float, float)
    """("corner" or "scale", index, x, y) while a traced point is dragged."""
    closed_wanted = Signal()
    undo_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("outline sheet")
        self.setAccessibleName("Drawing of the outline; axis, clamp line and tip can be dragged")
        self.setMouseTracking(True)
        self.setMinimumSize(320, 220)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.tracing = False
        self.scene = Scene()
        self.scale = SheetScale()
        self._fitted = False
        self._held: tuple[str, object] | None = None
        self._pressed: QPointF | None = None
        self._moved = False
        looks.look_changed.connect(self.update)

    def show_scene(self, scene: Scene, *, fit: bool = False) -> None:
        """Show this; `fit` brings all of it into view."""
        self.scene = scene
        if fit or not self._fitted:
            self.fit()
        self.update()

    def fit(self) -> None:
        """All of the drawing in view."""
        points = self.scene.every_point()
        if points is not None and self.width() >= 50:
            self.scale = self.scale.fitted(points, MARGIN_PX)
            self._fitted = True
        self.update()

    def paintEvent(self, _event: object) -> None:
        with QPainter(self) as painter:
            ink = Ink(looks.current(), self.devicePixelRatioF())
            paint_sheet(painter, self.scene, self.scale, ink)
            if self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(ink.pen(ink.look.accent, 2.0))
                painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.scale = replace(self.scale, width=float(self.width()), height=float(self.height()))
        self.fit()

    # -- the hand ----------------------------------------------------------------------------------

    def _hit(self, point: QPointF) -> tuple[str, object] | None:
        """What lies under the pointer: a traced point, an axis point, a line across."""
        scene, scale = self.scene, self.scale
        if self.tracing:
            for kind, points in (("scale", scene.scale_points), ("corner", scene.points)):
                for i, p in enumerate(points):
                    if (scale.px(*p) - point).manhattanLength() < REACH_PX:
                        return kind, i
        places = handles(scene, scale)
        for name, place in places.items():
            if (place - point).manhattanLength() < REACH_PX + 2:
                return "frame", name
        for name in ("clamp", "end") if places else ():
            if _near_line(point, *across(scene, scale, name)) < REACH_PX - 2:
                return "frame", name
        return None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            left = event.button() == Qt.MouseButton.LeftButton
            self._held = self._hit(event.position()) if left else None
            self._pressed, self._moved = event.position(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        point = event.position()
        if self._pressed is None:
            hit = self._hit(point)
            idle = Qt.CursorShape.CrossCursor if self.tracing else Qt.CursorShape.ArrowCursor
            self.setCursor(idle if hit is None else Qt.CursorShape.SizeAllCursor)
            return
        if not self._moved and (point - self._pressed).manhattanLength() < START_PX:
            return
        self._moved = True
        if self._held is None:
            self.scale = self.scale.moved(point - self._pressed)
            self._pressed = point
            self.update()
        elif self._held[0] == "frame":
            free = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.frame_dragged.emit(self._dragged(str(self._held[1]), point, free=free))
        else:
            x, y = self.scale.at(point)
            self.point_moved.emit(self._held[0], int(str(self._held[1])), x, y)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pressed, moved, held = self._pressed, self._moved, self._held
        self._pressed, self._held = None, None
        if pressed is None or moved or event.button() != Qt.MouseButton.LeftButton:
            return
        if held == ("corner", 0) and not self.scene.points_closed:
            self.closed_wanted.emit()
        elif held is None:
            self.clicked.emit(*self.scale.at(event.position()))

    def _dragged(self, handle: str, point: QPointF, *, free: bool) -> Frame:
        """The frame with one handle under the hand, caught by corners of the drawing nearby."""
        frame = self.scene.frame or Frame((0.0, 0.0), (1.0, 0.0))
        x, y = self.scale.at(point) if free else self._caught(point, handle, frame)
        if handle in ("root", "tip"):
            return _axis_moved(frame, handle, x, y, SNAP_PX / self.scale.px_per_m)
        c, s = frame.direction
        along = round((x - frame.root[0]) * c + (y - frame.root[1]) * s, 6 if free else 5)
        return replace(frame, clamp_m=along) if handle == "clamp" else replace(frame, end_m=along)

    def _caught(self, point: QPointF, handle: str, frame: Frame) -> tuple[float, float]:
        x, y = self.scale.at(point)
        sets = [ring for area in self.scene.areas for ring in area]
        if not sets or sum(map(len, sets)) > MOST_CATCHING:
            return x, y
        corners = np.concatenate(sets)
        if handle in ("clamp", "end"):
            c, s = frame.direction
            off = np.abs((corners[:, 0] - x) * c + (corners[:, 1] - y) * s)
        else:
            off = np.hypot(corners[:, 0] - x, corners[:, 1] - y)
        nearest = int(off.argmin())
        if off[nearest] * self.scale.px_per_m < SNAP_PX:
            return float(corners[nearest, 0]), float(corners[nearest, 1])
        return x, y

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer."""
        self.scale = self.scale.zoomed(1.0015 ** event.angleDelta().y(), event.position())
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.tracing and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.closed_wanted.emit()
        elif self.tracing and event.key() in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self.undo_wanted.emit()
        elif event.key() in (Qt.Key.Key_0, Qt.Key.Key_Home):
            self.fit()
        else:
            super().keyPressEvent(event)


def _axis_moved(frame: Frame, handle: str, x: float, y: float, snap_m: float) -> Frame:
    """Another axis, level or upright where nearly so; clamp and tip line stay on the drawing."""
    other = frame.tip if handle == "root" else frame.root
    if abs(y - other[1]) < snap_m:
        y = other[1]
    elif abs(x - other[0]) < snap_m:
        x = other[0]
    if math.dist((x, y), other) < 2 * snap_m:
        return frame
    if handle == "tip":
        return replace(frame, tip=(x, y))
    c, s = frame.direction
    shift = (x - frame.root[0]) * c + (y - frame.root[1]) * s
    end = None if frame.end_m is None else frame.end_m - shift
    return replace(frame, root=(x, y), clamp_m=frame.clamp_m - shift, end_m=end)


def _near_line(point: QPointF, a: QPointF, b: QPointF) -> float:
    """Distance of a point from a stretch of line, px."""
    along = b - a
    length = math.hypot(along.x(), along.y())
    if length < 1e-9:
        return math.inf
    to = point - a
    share = (to.x() * along.x() + to.y() * along.y()) / length**2
    if not 0.0 <= share <= 1.0:
        return math.inf
    return abs(to.x() * along.y() - to.y() * along.x()) / length
