"""The sheet on screen: white paper in the middle, drawn by the function that prints it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.handover.render import draw
from app.theme import look
from core.handover.drawing.items import Drawing

MARGIN = 14
LARGEST_ZOOM = 8.0
ZOOM_STEP = 1.25


class SheetPreview(QWidget):
    """One drawing fitted to the widget; the wheel zooms about the pointer, dragging shifts it,
    a double click or Home fits it again. Without a drawing it tells why in words."""

    zoom_changed = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sheetPreview")
        self.setAccessibleName("Preview of the sheet")
        self.setMinimumSize(300, 200)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._drawing: Drawing | None = None
        self._words = ""
        self._zoom = 1.0
        self._shift = QPointF()
        self._grip: QPointF | None = None
        self._picture: QPixmap | None = None
        look.look_changed.connect(self._forget)

    def sizeHint(self) -> QSize:
        return QSize(820, 600)

    def drawing(self) -> Drawing | None:
        return self._drawing

    def words(self) -> str:
        """What stands in place of the sheet; '' while there is one."""
        return self._words

    def show_drawing(self, drawing: Drawing) -> None:
        self._drawing, self._words = drawing, ""
        self.setAccessibleDescription(drawing.title)
        self._forget()

    def show_words(self, text: str) -> None:
        """Say why there is no sheet."""
        self._drawing, self._words = None, text
        self.setAccessibleDescription(text)
        self._forget()

    @Slot()
    def fit(self) -> None:
        """The whole sheet in the middle."""
        self._zoom, self._shift = 1.0, QPointF()
        self.zoom_changed.emit(self._zoom)
        self._forget()

    def zoom_about(self, factor: float, point: QPointF) -> None:
        """Enlarge by `factor`, the paper under `point` staying where it is."""
        zoom = min(max(self._zoom * factor, 1.0), LARGEST_ZOOM)
        if zoom == 1.0:
            self.fit()
            return
        before = self._paper().topLeft()
        share = (point - before) / self._zoom
        self._zoom = zoom
        self._shift += point - share * zoom - self._paper().topLeft()
        self.zoom_changed.emit(zoom)
        self._forget()

    # ---- events --------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._picture is None:
            self._picture = self._render()
        with QPainter(self) as painter:
            painter.drawPixmap(0, 0, self._picture)
            if self.hasFocus():
                look.paint_focus(painter, self)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._forget()
        super().resizeEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        self.zoom_about(ZOOM_STEP ** (event.angleDelta().y() / 120), event.position())
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._grip = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._grip is not None and self._zoom > 1.0:
            self._shift += event.position() - self._grip
            self._grip = event.position()
            self._forget()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._grip = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self._zoom > 1.0:
            self.fit()
        else:
            self.zoom_about(2.5, event.position())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        centre = QPointF(self.width() / 2, self.height() / 2)
        if event.key() == Qt.Key.Key_Home:
            self.fit()
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_about(ZOOM_STEP, centre)
        elif event.key() == Qt.Key.Key_Minus:
            self.zoom_about(1 / ZOOM_STEP, centre)
        else:
            super().keyPressEvent(event)

    # ---- drawing -------------------------------------------------------------------------

    @Slot()
    def _forget(self) -> None:
        self._picture = None
        self.update()

    def _paper(self) -> QRectF:
        """The paper in widget pixels."""
        assert self._drawing is not None
        room_w, room_h = self.width() - 2 * MARGIN, self.height() - 2 * MARGIN
        fit = max(min(room_w / self._drawing.width_mm, room_h / self._drawing.height_mm), 0.1)
        width, height = self._drawing.width_mm * fit * self._zoom, self._drawing.height_mm * fit * self._zoom
        left = (self.width() - width) / 2 + self._shift.x()
        top = (self.height() - height) / 2 + self._shift.y()
        return QRectF(left, top, width, height)

    def _render(self) -> QPixmap:
        """Drawn once and kept: hovering over the dialog must not lay out text again."""
        ratio = self.devicePixelRatioF()
        picture = QPixmap(self.size() * ratio)
        picture.setDevicePixelRatio(ratio)
        now = look.current()
        picture.fill(now.line)
        with QPainter(picture) as painter:
            if self._drawing is None:
                self._paint_words(painter)
            else:
                paper = self._paper()
                painter.fillRect(paper, QColor("white"))
                painter.setClipRect(paper)
                painter.translate(paper.topLeft())
                scale = paper.width() / self._drawing.width_mm
                painter.scale(scale, scale)
                draw(painter, self._drawing)
        return picture

    def _paint_words(self, painter: QPainter) -> None:
        now = look.current()
        painter.setPen(now.text)
        painter.setFont(look.font(14))
        box = QRectF(self.rect()).adjusted(40, 40, -40, -40)
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        painter.drawText(box, int(flags), self._words)
