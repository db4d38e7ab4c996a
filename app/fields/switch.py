"""A yes/no field."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QCheckBox, QWidget


class SwitchField(QCheckBox):
    """A check box; emits `switched` only when a person changed it."""

    switched = Signal(bool)
    error_changed = Signal(str)

    def __init__(self, label: str, text: str = "", *, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.label = label
        self._error = ""
        self.setObjectName(f"field {label}")
        self.setAccessibleName(label)
        self.clicked.connect(self._clicked)

    def value(self) -> bool:
        return self.isChecked()

    def set_value(self, on: bool) -> None:
        self.setChecked(on)

    def error(self) -> str:
        return self._error

    def show_error(self, text: str) -> None:
        """Tell what is wrong with the choice ('' for nothing)."""
        if text != self._error:
            self._error = text
            self.setAccessibleDescription(text)
            self.error_changed.emit(text)

    @Slot(bool)
    def _clicked(self, on: bool) -> None:
        self.switched.emit(on)
