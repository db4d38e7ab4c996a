"""A push button as forms and bars have it."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QWidget


def push_button(parent: QWidget, text: str, name: str, slot: object = None) -> QPushButton:
    """A button with an object name; Enter in a field of its dialog never presses it."""
    button = QPushButton(text, parent)
    button.setObjectName(name)
    button.setAutoDefault(False)
    if slot is not None:
        button.clicked.connect(slot)
    return button
