"""Taking widgets out of a layout for good."""

from __future__ import annotations

from PySide6.QtWidgets import QLayoutItem


def discard(item: QLayoutItem | None) -> None:
    """Delete the widget of an item that was taken out of a layout, out of sight at once."""
    widget = item.widget() if item is not None else None
    if widget is not None:
        widget.hide()
        widget.deleteLater()
