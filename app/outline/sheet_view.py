"""The customer's drawing in the preview: lines, axis, clamp line and tip to drag, the model behind."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPolygonF,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app import look as looks
from app.drawing.ink import Ink, hatch, polygon, polygon_path
from core.outline.frame import Frame

Array = NDArray[np.float64]
REACH_PX = 9.0
MARGIN_PX = 48.0
SNAP_PX = 6.0
Handle = Literal["root", "tip", "clamp", "end"]


@dataclass(frozen=True, eq=False)
class Scene:
    """What is shown, all in metres of the drawing, y up."""

    faint: tuple[Array, ...] = ()
    """Lines that are not used."""
    areas: tuple[tuple[Array, ...], ...] = ()
    """The part: rings of each area, the edge first."""
    zones: tuple[Array, ...] = ()
    model: Array | None = None
    """Corners of the outline the model takes."""
    cut_outs: tuple[Array, ...] = ()
    frame: Frame | None = None
    span_end_m: float = 0.0
    """Where the span ends, along the axis from the frame's root."""
    half_width_m: float = 0.0
    image: QImage | None = None
    m_per_px: float = 1.0
    points: tuple[tuple[float, float], ...] = ()
    """Corners of a tracing."""
    points_closed: bool = False
    scale_points: tuple[tuple[float, float], ...] = ()


class SheetView(QWidget):
    """Paints a `Scene`; wheel zooms at the pointer, dragging empty ground moves the sheet."""

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
        self.setMinimumSize(420, 300)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.tracing = False
        self._scene = Scene()
        self._middle = (0.0, 0.0)
        self._px_per_m = 1000.0
        self._fitted = False
        self._held: tuple[str, object] | None = None
        self._pressed: QPointF | None = None
        self._moved = False
        looks.look_changed.connect(self.update)

    # -- what is shown -----------------------------------------------------------------------------

    @property
    def scene(self) -> Scene:
        return self._scene

    def show_scene(self, scene: Scene, *, fit: bool = False) -> None:
        """Show this; `fit` brings all of it into view."""
        self._scene = scene
        if fit or not self._fitted:
            self.fit()
        self.update()

    def fit(self) -> None:
        """All of the drawing in view."""
        points = self._every_point()
        if points is None or self.width() < 50:
            return
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.maximum(high - low, 1e-9)
        room = max(self.width() - 2 * MARGIN_PX, 60), max(self.height() - 2 * MARGIN_PX, 60)
        self._px_per_m = float(min(room[0] / size[0], room[1] / size[1]))
        self._middle = tuple((0.5 * (low + high)).tolist())
        self._fitted = True
        self.update()

    def _every_point(self) -> Array | None:
        scene = self._scene
        sets = [*scene.faint, *(r for a in scene.areas for r in a), *scene.zones]
        if scene.image is not None:
            w, h = scene.image.width() * scene.m_per_px, scene.image.height() * scene.m_per_px
            sets.append(np.array([[0.0, 0.0], [w, -h]]))
        return np.concatenate(sets) if sets else None

    def px(self, x: float, y: float) -> QPointF:
        """A point of the drawing on the screen."""
        return QPointF(
            0.5 * self.width() + (x - self._middle[0]) * self._px_per_m,
            0.5 * self.height() - (y - self._middle[1]) * self._px_per_m,
        )

    def at(self, point: QPointF) -> tuple[float, float]:
        """The point of the drawing under a point of the screen."""
        return (
            self._middle[0] + (point.x() - 0.5 * self.width()) / self._px_per_m,
            self._middle[1] - (point.y() - 0.5 * self.height()) / self._px_per_m,
        )

    def _polygon(self, points: Array) -> QPolygonF:
        return polygon(
            0.5 * self.width() + (points[:, 0] - self._middle[0]) * self._px_per_m,
            0.5 * self.height() - (points[:, 1] - self._middle[1]) * self._px_per_m,
        )

    # -- painting ----------------------------------------------------------------------------------

    def paintEvent(self, _event: object) -> None:
        with QPainter(self) as painter:
            ink = Ink(looks.current(), self.devicePixelRatioF())
            painter.fillRect(self.rect(), ink.look.panel)
            self._paint_image(painter)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            self._paint_model_behind(painter, ink)
            self._paint_lines(painter, ink)
            self._paint_zones(painter, ink)
            self._paint_frame(painter, ink)
            self._paint_tracing(painter, ink)
            self._paint_scale_bar(painter, ink)
            if self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(ink.pen(ink.look.accent, 2.0))
                painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))

    def _paint_image(self, painter: QPainter) -> None:
        scene = self._scene
        if scene.image is None:
            return
        corner = self.px(0.0, 0.0)
        k = scene.m_per_px * self._px_per_m
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, k < 4)
        painter.setTransform(QTransform(k, 0, 0, k, corner.x(), corner.y()), True)
        painter.setOpacity(0.85)
        painter.drawImage(QPointF(0, 0), scene.image)
        painter.restore()

    def _paint_model_behind(self, painter: QPainter, ink: Ink) -> None:
        scene = self._scene
        if scene.model is None:
            return
        path = polygon_path(self._polygon(scene.model))
        for ring in scene.cut_outs:
            path = path.subtracted(polygon_path(self._polygon(ring)))
        painter.setBrush(looks.faded(ink.look.accent, 0.16))
        painter.setPen(ink.pen(looks.faded(ink.look.accent, 0.9), 1.0, (6.0, 4.0)))
        painter.drawPath(path)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_lines(self, painter: QPainter, ink: Ink) -> None:
        scene = self._scene
        painter.setPen(ink.pen(looks.faded(ink.look.faint_text, 0.55)))
        for line in scene.faint:
            painter.drawPolyline(self._polygon(line))
        painter.setPen(ink.pen(ink.look.structure_line, 1.5))
        for area in scene.areas:
            path = QPainterPath()
            for ring in area:
                path.addPath(polygon_path(self._polygon(ring)))
            painter.fillPath(path, looks.faded(ink.look.structure_fill, 0.25 if scene.image else 0.55))
            painter.drawPath(path)

    def _paint_zones(self, painter: QPainter, ink: Ink) -> None:
        for zone in self._scene.zones:
            path = polygon_path(self._polygon(zone))
            hatch(painter, path, ink.pen(looks.faded(ink.look.keep_out, 0.75)), 7.0)
            painter.setPen(ink.pen(ink.look.keep_out))
            painter.drawPath(path)

    def _paint_frame(self, painter: QPainter, ink: Ink) -> None:
        places = self._handles()
        frame = self._scene.frame
        if frame is None or not places:
            return
        look = ink.look
        painter.setPen(ink.pen(look.accent, 1.0, (12.0, 3.0, 2.0, 3.0)))
        root, tip = places["root"], places["tip"]
        along = tip - root
        painter.drawLine(root - along * 0.04, tip + along * 0.04)
        for name in ("clamp", "end"):
            a, b = self._across(name)
            painter.setPen(
                ink.pen(
                    look.danger if name == "clamp" else look.accent,
                    2.0,
                    () if name == "clamp" else (5.0, 3.0),
                )
            )
            painter.drawLine(a, b)
        self._paint_support(painter, ink)
        painter.setFont(ink.font(12, bold=True))
        for name, text in (("root", "root"), ("tip", "tip")):
            painter.setPen(ink.pen(look.accent, 2.0))
            painter.setBrush(look.panel)
            painter.drawEllipse(places[name], 6.0, 6.0)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawText(places[name] + QPointF(9, -9), text)
        for name, text in (("clamp", "clamp line"), ("end", "tip of the span")):
            a, b = self._across(name)
            top = a if a.y() < b.y() else b
            painter.setPen(ink.pen(look.text))
            wide = painter.fontMetrics().horizontalAdvance(text)
            x = min(max(top.x() - wide / 2, 4.0), self.width() - wide - 4.0)
            painter.drawText(QPointF(x, max(top.y() - 6, 14.0)), text)

    def _paint_support(self, painter: QPainter, ink: Ink) -> None:
        """Hatching on the held side of the clamp line."""
        a, b = self._across("clamp")
        frame = self._scene.frame
        if frame is None:
            return
        c, s = frame.direction
        depth = QPointF(-12 * c, 12 * s)
        path = polygon_path(QPolygonF([a, b, b + depth, a + depth]))
        hatch(painter, path, ink.pen(looks.faded(ink.look.danger, 0.8)), 6.0)

    def _paint_tracing(self, painter: QPainter, ink: Ink) -> None:
        scene, look = self._scene, ink.look
        if scene.points:
            corners = [self.px(*p) for p in scene.points]
            painter.setPen(ink.pen(look.accent, 2.0))
            painter.drawPolyline(corners + (corners[:1] if scene.points_closed else []))
            painter.setPen(ink.pen(look.accent))
            painter.setBrush(look.panel)
            for corner in corners:
                painter.drawRect(QRectF(corner.x() - 3, corner.y() - 3, 6, 6))
        if scene.scale_points:
            marks = [self.px(*p) for p in scene.scale_points]
            painter.setPen(ink.pen(look.danger, 2.0))
            if len(marks) == 2:
                painter.drawLine(*marks)
            painter.setFont(ink.font(12, bold=True))
            for number, mark in enumerate(marks, 1):
                painter.drawLine(mark - QPointF(7, 0), mark + QPointF(7, 0))
                painter.drawLine(mark - QPointF(0, 7), mark + QPointF(0, 7))
                painter.drawText(mark + QPointF(8, -8), str(number))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_scale_bar(self, painter: QPainter, ink: Ink) -> None:
        wanted = 100.0 / self._px_per_m
        if not math.isfinite(wanted) or wanted <= 0:
            return
        step = 10.0 ** math.floor(math.log10(wanted))
        length = max(k for k in (1.0, 2.0, 5.0, 10.0) if k * step <= wanted * 1.0001) * step
        wide = length * self._px_per_m
        left, y = 14.0, self.height() - 14.0
        painter.setPen(ink.pen(ink.look.text))
        painter.drawLine(QPointF(left, y), QPointF(left + wide, y))
        for x in (left, left + wide):
            painter.drawLine(QPointF(x, y - 4), QPointF(x, y + 4))
        painter.setFont(ink.font(11))
        painter.drawText(QPointF(left + 4, y - 6), f"{1e3 * length:g} mm")

    # -- the hand ----------------------------------------------------------------------------------

    def _handles(self) -> dict[str, QPointF]:
        frame = self._scene.frame
        if frame is None or frame.root == frame.tip:
            return {}
        return {"root": self.px(*frame.root), "tip": self.px(*frame.tip)}

    def _across(self, name: str) -> tuple[QPointF, QPointF]:
        """Ends of the clamp line or the tip line on the screen."""
        frame = self._scene.frame
        assert frame is not None
        c, s = frame.direction
        along = frame.clamp_m if name == "clamp" else self._scene.span_end_m
        half = max(0.65 * self._scene.half_width_m, 24.0 / self._px_per_m)
        x, y = frame.root[0] + along * c, frame.root[1] + along * s
        return self.px(x - half * s, y + half * c), self.px(x + half * s, y - half * c)

    def _hit(self, point: QPointF) -> tuple[str, object] | None:
        """What lies under the pointer: a traced point, an axis point, a line across."""
        scene = self._scene
        if self.tracing:
            for kind, points in (("scale", scene.scale_points), ("corner", scene.points)):
                for i, p in enumerate(points):
                    if (self.px(*p) - point).manhattanLength() < REACH_PX:
                        return kind, i
        for name, place in self._handles().items():
            if (place - point).manhattanLength() < REACH_PX + 2:
                return "frame", name
        if self._handles():
            for name in ("clamp", "end"):
                if _near_line(point, *self._across(name)) < REACH_PX - 2:
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
            free = Qt.CursorShape.CrossCursor if self.tracing else Qt.CursorShape.ArrowCursor
            self.setCursor(free if hit is None else Qt.CursorShape.SizeAllCursor)
            return
        if not self._moved and (point - self._pressed).manhattanLength() < 4:
            return
        self._moved = True
        if self._held is None:
            by = point - self._pressed
            self._pressed = point
            self._middle = (
                self._middle[0] - by.x() / self._px_per_m,
                self._middle[1] + by.y() / self._px_per_m,
            )
            self.update()
        elif self._held[0] == "frame":
            free = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.frame_dragged.emit(self._dragged(str(self._held[1]), point, free=free))
        else:
            x, y = self.at(point)
            self.point_moved.emit(self._held[0], int(self._held[1]), x, y)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pressed, moved, held = self._pressed, self._moved, self._held
        self._pressed, self._held = None, None
        if pressed is None or moved or event.button() != Qt.MouseButton.LeftButton:
            return
        if held == ("corner", 0) and not self._scene.points_closed:
            self.closed_wanted.emit()
        elif held is None:
            self.clicked.emit(*self.at(event.position()))

    def _dragged(self, handle: str, point: QPointF, *, free: bool) -> Frame:
        """The frame with one handle under the hand, caught by corners of the drawing nearby."""
        frame = self._scene.frame
        assert frame is not None
        x, y = self.at(point) if free else self._caught(point, handle)
        if handle in ("root", "tip"):
            return self._axis_moved(frame, handle, x, y)
        c, s = frame.direction
        along = (x - frame.root[0]) * c + (y - frame.root[1]) * s
        along = round(along, 5) if not free else along
        return replace(frame, clamp_m=along) if handle == "clamp" else replace(frame, end_m=along)

    def _axis_moved(self, frame: Frame, handle: str, x: float, y: float) -> Frame:
        """Another axis; clamp line and tip stay where they are on the drawing."""
        other = frame.tip if handle == "root" else frame.root
        if abs(y - other[1]) * self._px_per_m < SNAP_PX:
            y = other[1]
        if abs(x - other[0]) * self._px_per_m < SNAP_PX and abs(y - other[1]) > abs(x - other[0]):
            x = other[0]
        if math.dist((x, y), other) * self._px_per_m < 2 * SNAP_PX:
            return frame
        if handle == "tip":
            return replace(frame, tip=(x, y))
        c, s = frame.direction
        shift = (x - frame.root[0]) * c + (y - frame.root[1]) * s
        end = None if frame.end_m is None else frame.end_m - shift
        return replace(frame, root=(x, y), clamp_m=frame.clamp_m - shift, end_m=end)

    def _caught(self, point: QPointF, handle: str) -> tuple[float, float]:
        x, y = self.at(point)
        sets = [r for a in self._scene.areas for r in a]
        if not sets or sum(map(len, sets)) > 50_000:
            return x, y
        corners = np.concatenate(sets)
        if handle in ("clamp", "end"):
            frame = self._scene.frame
            assert frame is not None
            c, s = frame.direction
            off = np.abs((corners[:, 0] - x) * c + (corners[:, 1] - y) * s)
        else:
            off = np.hypot(corners[:, 0] - x, corners[:, 1] - y)
        nearest = int(off.argmin())
        if off[nearest] * self._px_per_m < SNAP_PX:
            return float(corners[nearest, 0]), float(corners[nearest, 1])
        return x, y

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer."""
        before = self.at(event.position())
        factor = 1.0015 ** event.angleDelta().y()
        self._px_per_m = min(max(self._px_per_m * factor, 1e-2), 1e7)
        after = self.at(event.position())
        self._middle = (
            self._middle[0] + before[0] - after[0],
            self._middle[1] + before[1] - after[1],
        )
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

    def resizeEvent(self, event: object) -> None:
        super().resizeEvent(event)
        self.fit()


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
