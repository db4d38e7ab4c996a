"""What takes the place of the drawing for a while, until a person goes back."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget


class AwayPage(QWidget):
    """Emits `back_wanted` on Escape, and from the button a page connects to `_back`."""

    back_wanted = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.back_wanted.emit()
            return
        super().keyPressEvent(event)

    @Slot()
    def _back(self) -> None:
        self.back_wanted.emit()
