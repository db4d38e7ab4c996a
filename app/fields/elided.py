"""A line of words that gives way: what has no room is cut with dots and whole in the tip."""

from __future__ import annotations

from typing import Literal

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.fields.plain import plain
from app.theme import look

Ink = Literal["faint", "text", "danger"]


class Elided(QWidget):
    """Faint words beside a heading, unless `ink` says otherwise."""

    def __init__(
        self, name: str, parent: QWidget | None = None, *, size_px: int = 12, ink: Ink = "faint", bold: bool = False
    ) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._text, self._size_px, self._ink, self._bold = "", size_px, ink, bold
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        look.look_changed.connect(self.update)

    def text(self) -> str:
        return self._text

    def setText(self, text: str) -> None:
        if text != self._text:
            self._text = text
            self.setAccessibleName(text)
            self.setToolTip(plain(text))
            self.update()

    def set_ink(self, ink: Ink) -> None:
        if ink != self._ink:
            self._ink = ink
            self.update()

    def sizeHint(self) -> QSize:
        self.setFont(look.font(self._size_px, bold=self._bold))
        return QSize(self.fontMetrics().horizontalAdvance(self._text), self.fontMetrics().height() + 2)

    def minimumSizeHint(self) -> QSize:
        """Words give way along the line, never their height: a list nearly too long for its room cut their feet."""
        return QSize(0, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as p:
            now = look.current()
            p.setFont(look.font(self._size_px, bold=self._bold))
            p.setPen({"faint": now.faint_text, "text": now.text, "danger": now.danger}[self._ink])
            text = p.fontMetrics().elidedText(self._text, Qt.TextElideMode.ElideRight, self.width())
            p.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)
