"""A titled section of the results: heading, what it is about in faint words, its content."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app import look
from app.results.row_list import Level

_SIGN = {"plain": "·", "caution": "△", "danger": "✕"}


class Section(QFrame):
    """Heading, a faint remark beside it (or under it when it is long), content under them."""

    def __init__(
        self, title: str, content: QWidget, parent: QWidget | None = None, *, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._title = QLabel(title, self)
        self._title.setFont(look.font(13, bold=True))
        self._about = QLabel("", self)
        self._about.setFont(look.font(11))
        self._about.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        if stacked:
            self._title.setWordWrap(True)
            self._about.setWordWrap(True)
        else:
            self._about.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        head = QVBoxLayout() if stacked else QHBoxLayout()
        head.setSpacing(1 if stacked else 12)
        head.addWidget(self._title)
        head.addWidget(self._about, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 10)
        layout.setSpacing(5)
        layout.addLayout(head)
        layout.addWidget(content)
        self._restyle()
        look.look_changed.connect(self._restyle)

    def set_about(self, text: str) -> None:
        if text != self._about.text():
            self._about.setText(text)
            self._about.setToolTip(text)

    def set_title(self, text: str) -> None:
        if text != self._title.text():
            self._title.setText(text)

    @Slot()
    def _restyle(self) -> None:
        self._about.setStyleSheet(f"color: {look.current().faint_text.name()}")


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
