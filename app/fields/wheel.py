"""The wheel scrolls: it never changes a value, whatever has the keyboard focus.

Every list of the program is a `CalmList`, every row of tabs a `CalmTabs`, every slider a `CalmSlider`. A wheel turned over one goes on to
the page it stands on, and takes no focus there. Over a picture that can be zoomed, Ctrl says that
a zoom is meant (`zooms`).
"""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPaintEvent, QPalette, QWheelEvent
from PySide6.QtWidgets import (
    QComboBox,
    QSlider,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QTabBar,
    QTabWidget,
    QWidget,
)


class CalmList(QComboBox):
    """A list of options to choose from with mouse or keys."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # Qt's own would take focus on the wheel

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def shown_text(self) -> str:
        """What is chosen, or what to choose where nothing is, as far as there is room for it."""
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        field = QStyle.SubControl.SC_ComboBoxEditField
        room = self.style().subControlRect(QStyle.ComplexControl.CC_ComboBox, option, field, self).width() - 2
        text = option.currentText if self.currentIndex() >= 0 else self.placeholderText()
        return self.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, room)

    def paintEvent(self, event: QPaintEvent) -> None:
        """As Qt does, but with dots where it would cut a letter in two."""
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        option.currentText = self.shown_text()
        if self.currentIndex() < 0:
            option.palette.setBrush(QPalette.ColorRole.ButtonText, self.palette().placeholderText())
        painter = QStylePainter(self)
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.end()


class CalmSlider(QSlider):
    """A value to drag with the mouse or to step with the arrows."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()


class _CalmBar(QTabBar):
    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()


class CalmTabs(QTabWidget):
    """Pages under tabs to click on."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTabBar(_CalmBar(self))


def zooms(event: QWheelEvent) -> bool:
    """True where the wheel is to zoom what is under it; otherwise it scrolls the page."""
    return bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
