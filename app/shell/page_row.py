"""The row of pages, always there beside the candidates: Drawing, Side by side, Studies, Circuit, Measured, Papers."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QSizePolicy, QWidget

from app.theme import look

PAGES = (("drawing", "Drawing"), ("compare", "Side by side"), ("studies", "Studies"),
         ("circuit", "Circuit"), ("measured", "Measured"), ("papers", "Papers"))  # fmt: skip
"""Names and titles of the pages, in the order of their keys Ctrl+1, Ctrl+2, ..."""


class PageButton(QAbstractButton):
    """The title of a page with a bar under the one that is shown."""

    def __init__(self, name: str, title: str, key: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(f"page-{name}")
        self.setText(title)
        self.setAccessibleName(title)
        self.setToolTip(f"{title} ({key})")
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        look.look_changed.connect(self.update)

    def sizeHint(self) -> QSize:
        self.setFont(look.font(12, bold=True))
        return QSize(self.fontMetrics().horizontalAdvance(self.text()) + 18, 34)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def paintEvent(self, event: object) -> None:
        now, box = look.current(), QRectF(self.rect())
        with QPainter(self) as p:
            p.setFont(look.font(12, bold=self.isChecked()))
            p.setPen(now.accent if self.isChecked() or self.underMouse() else now.text)
            p.drawText(box, Qt.AlignmentFlag.AlignCenter, self.text())
            if self.isChecked():
                p.fillRect(QRectF(2, box.bottom() - 3, box.width() - 4, 3), now.accent)
            if self.hasFocus():
                p.setPen(look.pen(now.accent, 1.0, self, (2.0, 2.0)))
                p.drawRect(box.adjusted(2, 4, -3, -5))


class PageRow(QWidget):
    """One button a page; `wanted` with its name."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("pageRow")
        self._buttons = QButtonGroup(self)
        self._buttons.setExclusive(True)
        self._named: dict[str, PageButton] = {}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        for place, (name, title) in enumerate(PAGES, 1):
            button = PageButton(name, title, f"Ctrl+{place}", self)
            self._named[name] = button
            self._buttons.addButton(button)
            row.addWidget(button)
            button.clicked.connect(self._on_clicked)
        self.show_page(PAGES[0][0])

    def show_page(self, name: str) -> None:
        """Mark the page that is shown."""
        self._named[name].setChecked(True)

    def button(self, name: str) -> PageButton:
        return self._named[name]

    @Slot()
    def _on_clicked(self) -> None:
        for name, button in self._named.items():
            if button is self.sender():
                self.wanted.emit(name)
