"""A page taller than its window."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget


def scroll_of(content: QWidget, name: str, parent: QWidget, *, sideways: bool = True) -> QScrollArea:
    """An area without frame that scrolls the content, which fills its width; up and down only unless `sideways`."""
    scroll = QScrollArea(parent)
    scroll.setObjectName(name)
    scroll.setWidget(content)
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    if not sideways:
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return scroll


def settle(scroll: QScrollArea) -> None:
    """Lay the content out now, so that places in it can be asked for."""
    content = scroll.widget()
    layout = content.layout() if content is not None else None
    if layout is not None:
        layout.activate()
