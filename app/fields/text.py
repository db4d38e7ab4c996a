"""Text fields: one line, and a note of several lines."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, Qt
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from app.fields.pending import leaves_undo
from app.fields.plain import plain


class TextField(QLineEdit):
    """One line of text; emits `committed` on Enter or focus-out when it changed."""

    committed = Signal(str)
    error_changed = Signal(str)

    def __init__(self, label: str, *, hint: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.label = label
        self._value = ""
        self._error = ""
        self.setObjectName(f"field {label}")
        self.setAccessibleName(label)
        self.setPlaceholderText(hint)
        self.editingFinished.connect(self.commit)

    def value(self) -> str:
        return self._value

    def set_value(self, text: str) -> None:
        """Show a text from outside, unless another one is being typed."""
        if text == self._value and self.isModified():
            return
        self._value = text
        if text != self.text():
            self.setText(text)
            self.setCursorPosition(0)
        self.setModified(False)
        self.setToolTip(plain(self._error or text))

    def error(self) -> str:
        return self._error

    def show_error(self, text: str) -> None:
        """Tell what is wrong with the text ('' for nothing)."""
        if text == self._error:
            return
        self._error = text
        self.setToolTip(plain(text or self._value))
        self.setAccessibleDescription(text)
        self.error_changed.emit(text)

    @Slot()
    def commit(self) -> None:
        text = self.text().strip()
        self.setModified(False)
        if text != self._value:
            self._value = text
            self.committed.emit(text)

    def event(self, event: QEvent) -> bool:
        return leaves_undo(event, pending=self.isModified()) or super().event(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() not in (Qt.FocusReason.PopupFocusReason, Qt.FocusReason.ActiveWindowFocusReason):
            self.setCursorPosition(0)  # a text longer than the field is read from its beginning

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.isModified():
            self.setText(self._value)
            self.setModified(False)
            event.accept()
            return
        super().keyPressEvent(event)


class NoteField(QPlainTextEdit):
    """Several lines of plain text; emits `committed` on focus-out when they changed."""

    committed = Signal(str)

    def __init__(self, label: str, *, hint: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.label = label
        self._value = ""
        self.setObjectName(f"field {label}")
        self.setAccessibleName(label)
        self.setPlaceholderText(hint)
        self.setTabChangesFocus(True)

    def value(self) -> str:
        return self._value

    def set_value(self, text: str) -> None:
        """Show a text from outside, unless another one is being typed."""
        if text == self._value and self.hasFocus():
            return
        self._value = text
        if text != self.toPlainText():
            self.setPlainText(text)

    @Slot()
    def commit(self) -> None:
        text = self.toPlainText()
        if text != self._value:
            self._value = text
            self.committed.emit(text)

    def event(self, event: QEvent) -> bool:
        typed = self.toPlainText() != self._value
        return leaves_undo(event, pending=typed) or super().event(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.commit()
        super().focusOutEvent(event)
