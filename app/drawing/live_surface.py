"""The page with hands: mouse, keyboard, hover and focus on a surface."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QHelpEvent, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QToolTip, QWidget

from app.drawing.describe import hover_text
from app.drawing.keys import Keys
from app.drawing.pointer import Pointer
from app.drawing.surface import Surface
from app.drawing.view_model import DrawingView
from app.fields.plain import plain
from app.shell.session import Session
from core.project.record import Face


class LiveSurface(Surface):
    """Sends what the person does to `pointer` and `keys`."""

    tool_done = Signal()
    """The tool other than "select" was used or given up."""

    def __init__(self, session: Session, make_view: Callable[[], DrawingView], parent: QWidget) -> None:
        super().__init__(make_view, parent)
        self.pointer = Pointer(session, self)
        self.keys = Keys(session)

    def set_tool(self, tool: str, face: Face = "top") -> None:
        self.pointer.tool, self.pointer.face = tool, face
        self.setCursor(Qt.CursorShape.CrossCursor if tool == "keep-out" else Qt.CursorShape.ArrowCursor)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self.keys.finish()
        self.pointer.press(event.position())
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        point = event.position()
        self.hover_x = point.x()
        if event.buttons() & Qt.MouseButton.LeftButton:
            snap = not event.modifiers() & Qt.KeyboardModifier.ControlModifier
            across = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self.pointer.move(point, snap=snap, across=across)
            self.snapped = self.pointer.snapped
        else:
            self.setCursor(self.pointer.cursor(point))
        if not self.pointer.busy:
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            done = self.pointer.release() and self.pointer.tool != "select"
            self.snapped = None
            self.update()
            if done:
                self.tool_done.emit()

    def leaveEvent(self, event: QEvent) -> None:
        self.hover_x = None
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key == Qt.Key.Key_Escape and self.cancel():
            return
        if self.pointer.busy:
            return
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.keys.delete(self.marked_keep_out)
            self.marked_keep_out = None
        elif not self.keys.press(key, event.modifiers()):
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.isAutoRepeat() or not self.keys.release(event.key()):
            super().keyReleaseEvent(event)

    def cancel(self) -> bool:
        """Give up what the hand is doing; back to the select tool when it was doing nothing."""
        self.snapped = None
        self.update()
        if self.pointer.cancel() or self.keys.cancel():
            return True
        if self.pointer.tool == "select":
            return False
        self.tool_done.emit()
        return True

    def focusOutEvent(self, event: QFocusEvent) -> None:
        # A drag whose end is not seen is taken back; keys already let go elsewhere are kept.
        self.pointer.cancel()
        self.keys.finish()
        self.snapped = None
        super().focusOutEvent(event)
        self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    def focusNextPrevChild(self, forward: bool) -> bool:
        if self.hasFocus() and self.keys.select_next(1 if forward else -1):
            return True
        return super().focusNextPrevChild(forward)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            self._show_tip(event)
            return True
        return super().event(event)

    def _show_tip(self, event: QHelpEvent) -> None:
        point = QPointF(event.pos())
        text = "" if self.pointer.busy else hover_text(self.view, self.page(), point, self.pointer.hit(point))
        if text:
            QToolTip.showText(event.globalPos(), plain(text), self)
        else:
            QToolTip.hideText()
