"""A choice among named options."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.fields.plain import plain
from app.fields.wheel import CalmList

K = TypeVar("K")


class ChoiceField(CalmList, Generic[K]):
    """Options are (key, text) pairs; emits `chosen` with the key a person picked."""

    chosen = Signal(object)
    error_changed = Signal(str)

    def __init__(
        self, label: str, options: Sequence[tuple[K, str]] = (), *, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.label = label
        self._error = ""
        self.setObjectName(f"field {label}")
        self.setAccessibleName(label)
        self.setSizeAdjustPolicy(CalmList.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(6)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._options: tuple[tuple[K, str], ...] = ()
        self.set_options(options)
        self.activated.connect(self._picked)

    def set_options(self, options: Sequence[tuple[K, str]]) -> None:
        """Replace the options, keeping the chosen key where it still exists."""
        if tuple(options) == self._options:
            return
        kept = self.value()
        self._options = tuple(options)
        self.blockSignals(True)
        self.clear()
        for _, text in self._options:
            self.addItem(text)
        self.blockSignals(False)
        self.set_value(kept)

    def value(self) -> K | None:
        """The chosen key, None when nothing is chosen."""
        index = self.currentIndex()
        return self._options[index][0] if 0 <= index < len(self._options) else None

    def key(self) -> K:
        """The chosen key of a field in which one is always chosen; LookupError where none is."""
        index = self.currentIndex()
        if not 0 <= index < len(self._options):
            raise LookupError(f"Nothing is chosen in {self.label}.")
        return self._options[index][0]

    def set_value(self, key: K | None) -> None:
        """Show the option of that key (none when there is no such option)."""
        keys = [option for option, _ in self._options]
        index = keys.index(key) if key in keys else -1
        if index != self.currentIndex():
            self.setCurrentIndex(index)
        self.setToolTip(plain(self._error or self.currentText()))

    def error(self) -> str:
        return self._error

    def show_error(self, text: str) -> None:
        """Tell what is wrong with the choice ('' for nothing)."""
        if text == self._error:
            return
        self._error = text
        self.setToolTip(plain(text or self.currentText()))
        self.setAccessibleDescription(text)
        self.error_changed.emit(text)

    @Slot(int)
    def _picked(self, _index: int) -> None:
        self.setToolTip(plain(self.currentText()))
        self.chosen.emit(self.value())
