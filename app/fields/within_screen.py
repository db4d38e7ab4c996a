"""Windows over the main one: as roomy as they like, never larger than the screen, their buttons always in sight."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QDialog

FRAME = QSize(16, 48)
"""Room for the title bar and the edges that the desktop draws around a window."""


def resize_within(dialog: QDialog, width: int, height: int) -> None:
    """Give a window that size, or what the screen it opens on has room for."""
    dialog.resize(QSize(width, height).boundedTo(room_for(dialog)))


def room_for(dialog: QDialog) -> QSize:
    """What the screen that a window opens on leaves for its content."""
    over = dialog.parentWidget() or dialog
    return over.screen().availableGeometry().size() - FRAME
