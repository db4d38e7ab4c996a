"""The map itself: a field over start and size, the band hatched, the present layout as a dot."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QImage, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.drawing.ink import hatch
from app.fields.plain import plain
from app.results.ticks import linear_ticks
from app.studies.colours import picture, scale
from app.studies.words import cell_text
from app.theme import look
from core.study.placement.map_values import AXES, value_text
from core.study.placement.maps import PlacementMap

_OVER_WORDS = {"start": "start of the ceramic, mm", "length": "ceramic length, mm"}
LEFT, RIGHT, TOP, BOTTOM = 66.0, 96.0, 14.0, 44.0
BAR = 14.0


def scale_texts(low: float, high: float, unit: str) -> list[tuple[float, str]]:
    """(share of the way up, text) beside a scale of colours; a text that stands there already is not said again."""
    told: dict[str, float] = {}
    for share in (0.0, 1.0, 0.5, 0.25, 0.75):  # the ends first
        told.setdefault(value_text(low + share * (high - low), unit), share)
    return sorted((share, text) for text, share in told.items())


class MapView(QWidget):
    """Draws a `PlacementMap`; a click or Enter picks a cell, the arrow keys walk over the cells."""

    picked = Signal(int, int)
    pointed = Signal(int, int)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("placementMap")
        self.setAccessibleName("Map of placements")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._map: PlacementMap | None = None
        self._image: QImage | None = None
        self._levels = (0.0, 1.0)
        self._present: tuple[float, float] | None = None
        self._cell: tuple[int, int] | None = None
        self._band: QPainterPath | None = None
        look.look_changed.connect(self.update)

    @property
    def shown(self) -> PlacementMap | None:
        return self._map

    def sizeHint(self) -> QSize:
        return QSize(640, 420)

    def show_map(self, found: PlacementMap | None) -> None:
        """Draw this map, whole or in part; None for an empty page."""
        self._map, self._image, self._band = found, None, None
        if found is not None and np.isfinite(found.values).any():
            self._levels = (float(np.nanmin(found.values)), float(np.nanmax(found.values)))
            self._image = picture(found.values, *self._levels, lower_is_better=found.unit == "dB")
        if found is None or (self._cell is not None and not self._has(self._cell)):
            self._cell = None
        self.setAccessibleDescription("" if found is None else found.label)
        self.update()

    def show_present(self, start_m: float, size_m: float) -> None:
        """Where the layout is now."""
        if self._present != (start_m, size_m):
            self._present = (start_m, size_m)
            self.update()

    # ---- geometry ------------------------------------------------------------------------

    def plot(self) -> QRectF:
        """Where the field is drawn."""
        return QRectF(self.rect()).adjusted(LEFT, TOP, -RIGHT, -BOTTOM)

    def _range(self) -> tuple[float, float, float, float]:
        """(x low, x high, y low, y high) of the plot, half a cell past the outer centres."""
        assert self._map is not None
        out = []
        for axis in (self._map.across_m, self._map.size_m):
            half = 0.5 * (axis[1] - axis[0]) if len(axis) > 1 else 0.5 * max(abs(axis[0]), 1e-3)
            out += [float(axis[0] - half), float(axis[-1] + half)]
        return out[0], out[1], out[2], out[3]

    def at(self, start_m: float, size_m: float) -> QPointF:
        """Pixel of a layout."""
        x0, x1, y0, y1 = self._range()
        plot = self.plot()
        return QPointF(
            plot.left() + (start_m - x0) / (x1 - x0) * plot.width(),
            plot.bottom() - (size_m - y0) / (y1 - y0) * plot.height(),
        )

    def cell_at(self, point: QPointF) -> tuple[int, int] | None:
        """The cell under a pixel."""
        if self._map is None or not self.plot().contains(point):
            return None
        plot, (n, m) = self.plot(), self._map.values.shape
        i = int((point.x() - plot.left()) / plot.width() * n)
        j = int((plot.bottom() - point.y()) / plot.height() * m)
        return min(max(i, 0), n - 1), min(max(j, 0), m - 1)

    def _has(self, cell: tuple[int, int]) -> bool:
        return self._map is not None and all(
            0 <= c < n for c, n in zip(cell, self._map.values.shape, strict=True)
        )

    def _cell_box(self, i: int, j: int) -> QRectF:
        assert self._map is not None
        plot, (n, m) = self.plot(), self._map.values.shape
        w, h = plot.width() / n, plot.height() / m
        return QRectF(plot.left() + i * w, plot.bottom() - (j + 1) * h, w, h)

    # ---- painting ------------------------------------------------------------------------

    def paintEvent(self, _event: QPaintEvent) -> None:
        with QPainter(self) as p:
            p.fillRect(self.rect(), look.current().panel)
            if self._map is None:
                return
            self._paint_field(p)
            self._paint_band(p)
            self._paint_axes(p)
            self._paint_marks(p)
            if self._image is not None:
                self._paint_bar(p)
            if self.hasFocus():
                look.paint_focus(p, self)

    def _paint_field(self, p: QPainter) -> None:
        assert self._map is not None
        now, plot = look.current(), self.plot()
        p.fillRect(plot, now.window)
        barred = self._map.reason >= 0
        grey = self._runs(barred)
        p.fillPath(grey, now.line)
        hatch(p, grey, look.pen(look.faded(now.strong_line, 0.45), 1.0, self), 9.0, rising=False)
        if self._image is not None:
            p.drawImage(plot, self._image)

    def _runs(self, cells: np.ndarray) -> QPainterPath:
        """Cells (X, Y) as boxes, one for each run along x."""
        path = QPainterPath()
        path.setFillRule(Qt.FillRule.WindingFill)
        for j in range(cells.shape[1]):
            column = np.concatenate([[False], cells[:, j], [False]])
            ends = np.flatnonzero(column[1:] != column[:-1])
            for first, last in zip(ends[::2].tolist(), ends[1::2].tolist(), strict=True):
                path.addRect(self._cell_box(first, j).united(self._cell_box(last - 1, j)))
        return path

    def _paint_band(self, p: QPainter) -> None:
        assert self._map is not None
        if not self._map.band.any():
            return
        hatch(p, self._runs(self._map.band), look.pen(look.ON_SCALE, 1.0, self), 6.0)
        p.setPen(look.pen(look.ON_SCALE, 2.0, self))
        p.drawLines(self._outline(self._map.band))

    def _outline(self, cells: np.ndarray) -> list[QLineF]:
        """Edges between cells in the set and others."""
        padded = np.pad(cells, 1)
        lines = []
        for i, j in np.argwhere(padded[1:, 1:-1] != padded[:-1, 1:-1]).tolist():
            box = self._cell_box(i, j)
            lines.append(QLineF(box.topLeft(), box.bottomLeft()))
        for i, j in np.argwhere(padded[1:-1, 1:] != padded[1:-1, :-1]).tolist():
            box = self._cell_box(i, j)
            lines.append(QLineF(box.bottomLeft(), box.bottomRight()))
        return lines

    def _paint_axes(self, p: QPainter) -> None:
        assert self._map is not None
        now, plot = look.current(), self.plot()
        x0, x1, y0, y1 = (1e3 * v for v in self._range())
        p.setFont(look.font(11))
        p.setPen(look.pen(now.strong_line, 1.0, self))
        p.setBrush(Qt.BrushStyle.NoBrush)
        p.drawRect(plot)
        for value, text, _ in linear_ticks(max(x0, 0.0), x1, wanted=8):
            x = plot.left() + (value - x0) / (x1 - x0) * plot.width()
            p.setPen(look.pen(now.strong_line, 1.0, self))
            p.drawLine(QLineF(x, plot.bottom(), x, plot.bottom() + 4))
            p.setPen(now.text)
            p.drawText(QRectF(x - 40, plot.bottom() + 5, 80, 16), Qt.AlignmentFlag.AlignHCenter, text)
        for value, text, _ in linear_ticks(max(y0, 0.0), y1, wanted=6):
            y = plot.bottom() - (value - y0) / (y1 - y0) * plot.height()
            p.setPen(look.pen(now.strong_line, 1.0, self))
            p.drawLine(QLineF(plot.left() - 4, y, plot.left(), y))
            p.setPen(now.text)
            place = QRectF(plot.left() - 60, y - 8, 53, 16)
            p.drawText(place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
        p.setPen(now.faint_text)
        below = QRectF(plot.left(), plot.bottom() + 23, plot.width(), 16)
        p.drawText(below, Qt.AlignmentFlag.AlignHCenter, _OVER_WORDS[self._map.request.over])
        p.save()
        p.translate(14, plot.center().y())
        p.rotate(-90)
        words = f"{AXES[self._map.request.axis]}, mm"
        p.drawText(QRectF(-plot.height() / 2, -8, plot.height(), 16), Qt.AlignmentFlag.AlignCenter, words)
        p.restore()

    def _paint_marks(self, p: QPainter) -> None:
        assert self._map is not None
        p.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._cell is not None:
            p.setPen(look.pen(look.AROUND_INK, 3.0, self))
            p.setBrush(Qt.BrushStyle.NoBrush)
            p.drawRect(self._cell_box(*self._cell))
            p.setPen(look.pen(look.ON_SCALE, 1.0, self))
            p.drawRect(self._cell_box(*self._cell))
        if self._map.best is not None:
            i, j = self._map.best
            self._mark(p, self._cell_box(i, j).center(), "best", ring=True)
        if self._present is not None:
            point = self.at(*self._present)
            if self.plot().adjusted(-1, -1, 1, 1).contains(point):
                self._mark(p, point, "now", ring=False)

    def _mark(self, p: QPainter, at: QPointF, text: str, *, ring: bool) -> None:
        p.setPen(look.pen(look.ON_SCALE, 2.0, self))
        p.setBrush(Qt.BrushStyle.NoBrush if ring else look.AROUND_INK)
        p.drawEllipse(at, 6.5 if ring else 5.0, 6.5 if ring else 5.0)
        p.setFont(look.font(11, bold=True))
        width = p.fontMetrics().horizontalAdvance(text) + 8
        box = QRectF(at.x() + 9, at.y() - 18, width, 16)
        if not ring:
            box.moveTop(at.y() + 3)
        if box.right() > self.plot().right():
            box.moveRight(at.x() - 9)
        box.moveTop(min(max(box.top(), self.plot().top() + 1), self.plot().bottom() - 17))
        p.setPen(Qt.PenStyle.NoPen)
        p.setBrush(look.faded(look.AROUND_INK, 0.88))
        p.drawRoundedRect(box, 3, 3)
        p.setPen(look.ON_SCALE)
        p.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_bar(self, p: QPainter) -> None:
        assert self._map is not None
        now, plot, (low, high) = look.current(), self.plot(), self._levels
        p.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        bar = QRectF(plot.right() + 16, plot.top(), BAR, plot.height())
        upside_down = self._map.unit == "dB"
        colours = scale() if upside_down else scale()[::-1]
        strip = QImage(np.ascontiguousarray(colours).tobytes(), 1, 256, 4, QImage.Format.Format_RGBA8888)
        p.drawImage(bar, strip)
        p.setPen(look.pen(now.strong_line, 1.0, self))
        p.setBrush(Qt.BrushStyle.NoBrush)
        p.drawRect(bar)
        p.setFont(look.font(11))
        p.setPen(now.text)
        for share, text in scale_texts(low, high, self._map.unit):
            y = bar.bottom() - share * bar.height()
            p.drawLine(QLineF(bar.right(), y, bar.right() + 3, y))
            place = QRectF(bar.right() + 6, y - 8, RIGHT - 34, 16)
            p.drawText(place, Qt.AlignmentFlag.AlignVCenter, text)

    # ---- hand and keys -------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position())
        if cell is None:
            self.left.emit()
            QToolTip.hideText()
            return
        self.pointed.emit(*cell)
        assert self._map is not None
        reason = self._map.reason_at(*cell)
        if reason:
            QToolTip.showText(event.globalPosition().toPoint(), plain(f"Not allowed: {reason}"), self)
        else:
            QToolTip.hideText()

    def leaveEvent(self, event: object) -> None:
        self.left.emit()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position())
        if event.button() == Qt.MouseButton.LeftButton and cell is not None:
            self._cell = cell
            self.update()
            self.picked.emit(*cell)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        step = steps.get(Qt.Key(event.key()))
        if self._map is None:
            super().keyPressEvent(event)
        elif step is not None:
            far = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            self._walk(far * step[0], far * step[1])
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._cell is not None:
            self.picked.emit(*self._cell)
        else:
            super().keyPressEvent(event)

    @Slot(int, int)
    def _walk(self, di: int, dj: int) -> None:
        assert self._map is not None
        n, m = self._map.values.shape
        i, j = self._cell or self._map.best or (n // 2, m // 2)
        self._cell = (min(max(i + di, 0), n - 1), min(max(j + dj, 0), m - 1))
        self.setAccessibleDescription(cell_text(self._map, *self._cell))
        self.pointed.emit(*self._cell)
        self.update()
