"""What differs from the last released revision, as a table."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.fields.plain import PlainLabel, plain
from app.fields.within_screen import resize_within
from core.handover.releases import changes, reference
from core.project.model import Project


class ChangesDialog(QDialog):
    """The inputs that differ between the present state and the release it is compared with."""

    def __init__(self, project: Project, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("changesDialog")
        self.setWindowTitle("What changed")
        resize_within(self, 760, 420)
        released = reference(project, project.candidate())
        found = changes(project, released) if released else ()
        self.words = PlainLabel(_heading(project, len(found)), self)
        self.words.setObjectName("changesWords")
        self.words.setWordWrap(True)
        self.table = QTableWidget(len(found), 3, self)
        self.table.setObjectName("changesTable")
        self.table.setAccessibleName("Inputs that changed")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.verticalHeader().setVisible(False)
        then = f"Revision {released.index}" if released else "Before"
        self.table.setHorizontalHeaderLabels(["Input", then, "Now"])
        for n, change in enumerate(found):
            for k, text in enumerate((change.label, change.reference, change.other)):
                cell = QTableWidgetItem(text)
                cell.setToolTip(plain(text))
                self.table.setItem(n, k, cell)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.table.setVisible(bool(found))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.words)
        layout.addWidget(self.table, 1)
        if not found:
            layout.addStretch(1)
        layout.addWidget(buttons)


def _heading(project: Project, count: int) -> str:
    released = reference(project, project.candidate())
    if released is None:
        return (
            "Nothing to compare with yet: release a revision, and later changes will be listed here."
            if not project.releases
            else f"Revision {project.releases[-1].index} is the first one released, and nothing has changed since."
        )
    name = f"revision {released.index} of {released.date} ({released.reason}; model {released.fingerprint})"
    return f"{count} input{'' if count == 1 else 's'} differ{'s' if count == 1 else ''} from {name}."
