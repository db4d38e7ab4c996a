"""What takes the place of the drawing for a while, until a person goes back."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QComboBox, QLineEdit, QPlainTextEdit, QWidget

TYPED_IN = (QLineEdit, QPlainTextEdit, QComboBox, QAbstractSpinBox)


class AwayPage(QWidget):
    """Emits `back_wanted` on Escape, and from the button a page connects to `_back`.

    Escape in a field leaves the field, not the page.
    """

    back_wanted = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if isinstance(QApplication.focusWidget(), TYPED_IN):
                self.setFocus()
            else:
                self.back_wanted.emit()
            return
        super().keyPressEvent(event)

    @Slot()
    def _back(self) -> None:
        self.back_wanted.emit()
