"""A titled section of the results: heading, what it is about in faint words, its content."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from app.fields.plain import plain
from app.results.row_list import Level
from app.theme import look

_SIGN = {"plain": "·", "caution": "△", "danger": "✕"}


class ResultSection(QFrame):
    """Heading, a faint remark beside it (or under it when it is long), content under them.

    The heading folds it; a folded section still says its one number, its summary.
    """

    toggled = Signal()
    """A person folded or unfolded it."""

    def __init__(
        self, title: str, content: QWidget, parent: QWidget | None = None, *, stacked: bool = False
    ) -> None:
        super().__init__(parent)
        self._content, self._stacked = content, stacked
        self._folded = False
        self._title = QToolButton(self)
        self._title.setObjectName(f"fold {title}")
        self._title.setAutoRaise(True)
        self._title.setText(title)
        self._title.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._title.setArrowType(Qt.ArrowType.DownArrow)
        self._title.setFont(look.font(13, bold=True))
        self._title.setFixedHeight(self._title.fontMetrics().height() + 2)
        self._title.clicked.connect(self._toggle)
        self._about = About(self, wrapped=stacked)
        self._summary = About(self, wrapped=False)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self._title)
        head.addWidget(self._summary, 1)
        if not stacked:
            self._summary.hide()
            head.addWidget(self._about, 1)
        self._column = layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 10)
        layout.setSpacing(5)
        layout.addLayout(head)
        if stacked:
            layout.addWidget(self._about)
        layout.addWidget(content)

    @property
    def folded(self) -> bool:
        return self._folded

    @property
    def summary(self) -> str:
        """What it says while it is folded."""
        return self._summary.text()

    def set_folded(self, folded: bool) -> None:
        if folded == self._folded:
            return
        self._folded = folded
        self._title.setArrowType(Qt.ArrowType.RightArrow if folded else Qt.ArrowType.DownArrow)
        self._title.setAccessibleDescription("folded" if folded else "unfolded")
        self._content.setVisible(not folded)
        self._about.setVisible(not folded)
        if not folded:
            self._summary.show_text("")
        if not self._stacked:
            self._summary.setVisible(folded)
        self._column.setContentsMargins(0, 0, 0, 2 if folded else 10)

    @Slot()
    def _toggle(self) -> None:
        self.set_folded(not self._folded)
        self.toggled.emit()

    def set_about(self, text: str) -> None:
        self._about.show_text(text)

    def set_summary(self, text: str) -> None:
        self._summary.show_text(text)


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
            text = self._text
            if self._flags & Qt.TextFlag.TextSingleLine.value:
                text = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, self.width())
            painter.drawText(self.rect(), self._flags, text)

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
        self._faded = False
        look.look_changed.connect(self._render)

    @property
    def lines(self) -> list[tuple[Level, str]]:
        return self._lines

    def show_lines(self, lines: list[tuple[Level, str]], *, faded: bool = False) -> None:
        """Say these; `faded` when they belong to an earlier state."""
        if lines != self._lines or faded != self._faded:
            self._lines, self._faded = list(lines), faded
            self._render()

    @Slot()
    def _render(self) -> None:
        now = look.current()
        colours = {"plain": now.text, "caution": now.caution, "danger": now.danger}
        if self._faded:
            colours = dict.fromkeys(colours, now.strong_line)
        rows = (
            f'<tr><td style="padding-right:6px; color:{colours[level].name()}">{_SIGN[level]}</td>'
            f'<td style="padding-bottom:4px; color:{colours[level].name()}">{_escaped(text)}</td></tr>'
            for level, text in self._lines
        )
        self.setText(f"<table cellspacing='0' cellpadding='0'>{''.join(rows)}</table>" if self._lines else "")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
