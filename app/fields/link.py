"""A push button that looks like a link: accent words, underlined under the pointer and with the keyboard on it."""

from __future__ import annotations

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QPushButton, QWidget

from app.theme import look


class Link(QPushButton):
    """Painted here: a style sheet for it would have every widget of the window styled anew at the start."""

    def __init__(
        self, text: str = "", parent: QWidget | None = None, *, padding: tuple[int, int] = (8, 5), right: bool = False
    ) -> None:
        super().__init__(text, parent, flat=True)
        self._padding, self._right = padding, right
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        look.look_changed.connect(self.update)

    def sizeHint(self) -> QSize:
        across, along = self._padding
        words = self.fontMetrics().size(Qt.TextFlag.TextShowMnemonic, self.text())
        return QSize(words.width() + 2 * across, words.height() + 2 * along)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        now, align = look.current(), Qt.AlignmentFlag
        font = QFont(self.font())
        font.setUnderline(self.isEnabled() and (self.underMouse() or self.hasFocus()))
        place = align.AlignRight | align.AlignVCenter if self._right else align.AlignCenter
        across = self._padding[0]
        box = QRect(across, 0, self.width() - 2 * across, self.height())
        with QPainter(self) as painter:
            painter.setFont(font)
            painter.setPen(now.accent if self.isEnabled() else now.faint_text)
            painter.drawText(box, place.value | Qt.TextFlag.TextShowMnemonic.value, self.text())
