"""A collapsible part of the input column."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.fields import FormRow
from app.fields.plain import PlainLabel
from app.panels.bound import BoundRow, F
from app.theme import look
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session

W = TypeVar("W", bound=QWidget)


def set_shown(widget: QWidget, shown: bool) -> None:
    """Show or hide; does nothing (no layout pass either) when it already is so."""
    if widget.isHidden() == shown:
        widget.setVisible(shown)


class InputSection(QWidget):
    """Heading with a fold arrow and a faint remark at the right; rows under it.

    `refresh` shows the project again; subclasses fill `places()` with what their rows' path
    templates name, and `update_rows()` with whatever is not a bound row.
    """

    folded = Signal()

    def __init__(self, session: Session, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self._form_rows: list[FormRow] | None = None
        self.setObjectName(f"section {title}")
        self.heading = QToolButton(self)
        self.heading.setObjectName(f"heading {title}")
        self.heading.setText(title)
        self.heading.setAutoRaise(True)
        self.heading.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.heading.setArrowType(Qt.ArrowType.DownArrow)
        font = self.heading.font()
        font.setBold(True)
        self.heading.setFont(font)
        self.heading.clicked.connect(self._fold)
        self.remark = PlainLabel("", self)
        self.remark.setObjectName(f"remark {title}")
        self.remark.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.remark.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        head = QHBoxLayout()
        head.setContentsMargins(0, 0, 0, 0)
        head.addWidget(self.heading)
        head.addWidget(self.remark, 1)
        self.body = QWidget(self)
        self.rows = QVBoxLayout(self.body)
        self.rows.setContentsMargins(4, 0, 0, 0)
        self.rows.setSpacing(4)
        line = QFrame(self)
        line.setFrameShape(QFrame.Shape.HLine)
        line.setForegroundRole(self.palette().ColorRole.Mid)
        line.setFrameShadow(QFrame.Shadow.Plain)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addWidget(self.body)
        layout.addSpacing(4)
        layout.addWidget(line)
        self.paint_remark()
        look.look_changed.connect(self.paint_remark)

    # -- building ------------------------------------------------------------------------------

    def add(self, widget: W) -> W:
        """Put a widget under the ones before."""
        self.rows.addWidget(widget)
        return widget

    def row(self, label: str, field: F, path: str, **options: Any) -> BoundRow[F]:
        """A row under the ones before that shows and changes the value at `path`."""
        return self.add(BoundRow(self.session, label, field, path, parent=self.body, **options))

    def take_in(self, rows: Sequence[FormRow], after: QWidget) -> None:
        """Take in rows made later than the section: the Tab key comes to them from the widget `after`."""
        self._form_rows = None
        for row in rows:
            if isinstance(row, BoundRow):
                QWidget.setTabOrder(after, row.field)
                after = row.field

    def add_buttons(self, *buttons: QWidget) -> None:
        """Put buttons (or other widgets) side by side."""
        line = QHBoxLayout()
        line.setSpacing(6)
        for button in buttons:
            line.addWidget(button, 1)
        self.rows.addLayout(line)

    def button(self, text: str, slot: object) -> QPushButton:
        """A push button of this section."""
        made = QPushButton(text, self.body)
        made.setObjectName(f"button {text.replace('&', '')}")
        made.setMinimumWidth(20)
        made.clicked.connect(slot)
        return made

    # -- showing -------------------------------------------------------------------------------

    def places(self, project: Project) -> dict[str, str] | None:
        """What the rows' templates name; None when there is nothing to edit."""
        return {}

    def show_rows(self, project: Project) -> None:
        """Decide which rows are visible."""

    def update_rows(self, project: Project) -> None:
        """Show whatever is not a bound row."""

    def refresh(self) -> None:
        """Show the session's project again."""
        project = self.session.shown
        self.show_rows(project)
        self.refresh_rows(project)
        self.update_rows(project)

    def refresh_rows(self, project: Project) -> None:
        """Show again the values of the rows that are visible."""
        places = self.places(project)
        if places is not None:
            for row in self.bound_rows():
                if not row.isHidden():
                    row.refresh(project, places)

    def bound_rows(self) -> Iterator[BoundRow]:
        return (row for row in self.form_rows() if isinstance(row, BoundRow))

    def form_rows(self) -> list[FormRow]:
        """Every row of this section, hidden ones as well."""
        if self._form_rows is None:
            self._form_rows = self.body.findChildren(FormRow)
        return self._form_rows

    def set_open(self, is_open: bool) -> None:
        """Fold or unfold."""
        if is_open != self.is_open():
            self.heading.setArrowType(Qt.ArrowType.DownArrow if is_open else Qt.ArrowType.RightArrow)
            self.body.setVisible(is_open)
            self.heading.setAccessibleDescription("unfolded" if is_open else "folded")
            self.folded.emit()

    def is_open(self) -> bool:
        return not self.body.isHidden()

    @Slot()
    def _fold(self) -> None:
        self.set_open(not self.is_open())

    @Slot()
    def paint_remark(self) -> None:
        palette = self.remark.palette()
        palette.setColor(self.remark.foregroundRole(), look.current().faint_text)
        self.remark.setPalette(palette)
