"""A titled section of the results: heading, what it is about in faint words, its content."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, QSize, Qt, Slot
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel, plain
from app.results.row_list import Level
from app.theme import look

_SIGN = {"plain": "·", "caution": "△", "danger": "✕"}


class Section(QFrame):
    """Heading, a faint remark beside it (or under it when it is long), content under them."""

    def __init__(
        self, title: str, content: QWidget, parent: QWidget | None = None, *, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._title = PlainLabel(title, self)
        self._title.setFont(look.font(13, bold=True))
        self._about = About(self, wrapped=stacked)
        self._title.setWordWrap(stacked)
        head = QVBoxLayout() if stacked else QHBoxLayout()
        head.setSpacing(1 if stacked else 12)
        head.addWidget(self._title)
        head.addWidget(self._about, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 10)
        layout.setSpacing(5)
        layout.addLayout(head)
        layout.addWidget(content)

    def set_about(self, text: str) -> None:
        self._about.show_text(text)

    def set_title(self, text: str) -> None:
        if text != self._title.text():
            self._title.setText(text)


class About(QWidget):
    """Faint words that may change with every frame of a drag; in one line at the right, or wrapped.

    A label asks its window for a new layout at every change of its text; this asks for one only when
    the words need more or fewer lines.
    """

    def __init__(self, parent: QWidget | None = None, *, wrapped: bool) -> None:
        super().__init__(parent)
        self.setFont(look.font(11))
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        align, text = Qt.AlignmentFlag, Qt.TextFlag
        across, lines = (align.AlignLeft, text.TextWordWrap) if wrapped else (align.AlignRight, text.TextSingleLine)
        self._flags = across.value | align.AlignVCenter.value | lines.value
        self._text = ""
        self._height = self._needed()
        look.look_changed.connect(self.update)

    def text(self) -> str:
        return self._text

    def show_text(self, text: str) -> None:
        if text == self._text:
            return
        self._text = text
        self.setToolTip(plain(text))
        self.setAccessibleName(text)
        self._fit()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(100, self._height)

    def minimumSizeHint(self) -> QSize:
        return QSize(20, self._height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def paintEvent(self, event: QEvent) -> None:
        with QPainter(self) as painter:
            painter.setPen(look.current().faint_text)
            painter.drawText(self.rect(), self._flags, self._text)

    def _needed(self) -> int:
        room = QRect(0, 0, max(self.width(), 20), 1000)
        return self.fontMetrics().boundingRect(room, self._flags, self._text or "0").height()

    def _fit(self) -> None:
        height = self._needed()
        if height != self._height:
            self._height = height
            self.updateGeometry()


class Sentences(QLabel):
    """Wrapped sentences, each with a sign for its level; hidden when there are none."""

    def __init__(self, name: str, accessible: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self.setAccessibleName(accessible)
        self.setWordWrap(True)
        self.setFont(look.font(12))
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self._lines: list[tuple[Level, str]] = []
        look.look_changed.connect(self._render)

    @property
    def lines(self) -> list[tuple[Level, str]]:
        return self._lines

    def show_lines(self, lines: list[tuple[Level, str]]) -> None:
        if lines != self._lines:
            self._lines = list(lines)
            self._render()

    @Slot()
    def _render(self) -> None:
        now = look.current()
        colours = {"plain": now.text, "caution": now.caution, "danger": now.danger}
        rows = (
            f'<tr><td style="padding-right:6px; color:{colours[level].name()}">{_SIGN[level]}</td>'
            f'<td style="padding-bottom:4px; color:{colours[level].name()}">{_escaped(text)}</td></tr>'
            for level, text in self._lines
        )
        self.setText(f"<table cellspacing='0' cellpadding='0'>{''.join(rows)}</table>" if self._lines else "")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
