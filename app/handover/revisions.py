"""The sheet's revisions: a list, and a line to add the next with its reason."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QListWidget, QVBoxLayout, QWidget

from app.fields import TextField
from app.fields.buttons import push_button
from core.handover.releases import next_index
from core.project.sheet import Revision


class RevisionList(QWidget):
    """Shows revisions, releases the next (index and date by itself, reason typed), removes the last."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._revisions: tuple[Revision, ...] = ()
        self.list = QListWidget(self)
        self.list.setObjectName("revisionList")
        self.list.setAccessibleName("Revisions")
        self.list.setMaximumHeight(self.fontMetrics().height() * 5)
        self.next = QLabel("", self)
        self.reason = TextField("Reason of the revision", hint="What changed, in a line", parent=self)
        self.add_button = push_button(self, "&Release revision", "addRevision")
        self.add_button.setToolTip("Freezes a copy of what the documents are made from under the next index")
        self.remove_button = push_button(self, "&Remove last", "removeRevision")
        line = QHBoxLayout()
        line.addWidget(self.next)
        line.addWidget(self.reason, 1)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(self.add_button)
        buttons.addWidget(self.remove_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.list)
        layout.addLayout(line)
        layout.addLayout(buttons)
        self.add_button.clicked.connect(self.add)
        self.remove_button.clicked.connect(self.remove_last)
        self.reason.textEdited.connect(self._follow)
        self.reason.returnPressed.connect(self.add)
        self._show()

    def value(self) -> tuple[Revision, ...]:
        return self._revisions

    def set_value(self, revisions: tuple[Revision, ...]) -> None:
        self._revisions = revisions
        self._show()

    @Slot()
    def add(self) -> None:
        """The next revision, dated today, with the reason typed; nothing without a reason."""
        reason = self.reason.text().strip()
        if not reason:
            return
        new = Revision(next_index(self._revisions), date.today().isoformat(), reason)
        self.reason.set_value("")
        self.reason.clear()
        self.set_value((*self._revisions, new))
        self.changed.emit()

    @Slot()
    def remove_last(self) -> None:
        if self._revisions:
            self.set_value(self._revisions[:-1])
            self.changed.emit()

    @Slot()
    def _follow(self) -> None:
        self.add_button.setEnabled(bool(self.reason.text().strip()))

    def _show(self) -> None:
        self.list.clear()
        for revision in self._revisions:
            self.list.addItem(f"{revision.index}   {revision.date}   {revision.reason}")
        self.list.scrollToBottom()
        self.next.setText(f"{next_index(self._revisions)}:")
        self.remove_button.setEnabled(bool(self._revisions))
        self._follow()
