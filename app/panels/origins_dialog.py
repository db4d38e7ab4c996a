"""Every input the active candidate's result leans on, where it is from, in one table."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, cast

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.fields import Column, NumberTable
from app.fields.origin import STATUSES
from app.fields.table_model import Value
from app.fields.within_screen import resize_within
from app.panels.draft import DraftDialog
from core.project import provenance
from core.project.record import Status

if TYPE_CHECKING:
    from app.shell.session import Session

COLUMNS = (
    Column("label", "Input", "fixed"),
    Column("status", "From", "choice", choices=tuple((status, status) for status in STATUSES)),
    Column("source", "Source", "text", optional=True, hint="instrument, sheet, drawing number"),
)


class OriginsDialog(DraftDialog):
    """Measured, data sheet or assumed, and the source in words, for each input; a block may be pasted."""

    title = "Change where inputs are from"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.setObjectName("origins editor")
        self.setWindowTitle("Where the inputs are from")
        resize_within(self, 900, 640)
        self.count = QLabel(self.page)
        self.count.setObjectName("count of origins")
        self.table = NumberTable("Where the inputs are from", COLUMNS, parent=self.page)
        self.table.keep_rows()
        self.table.edited.connect(self._take)
        layout = QVBoxLayout(self.page)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.count)
        layout.addWidget(self.table, 1)
        self.refresh_all()

    @property
    def inputs(self) -> provenance.Inputs:
        """The inputs of the draft, a row each."""
        return provenance.inputs(self.draft.project)

    def refresh(self) -> None:
        shown = self.inputs
        count = sum(entry.status == "assumed" for entry in shown)
        self.count.setText(f"<b>Inputs of candidate {escape(self.draft.project.active)}</b> &nbsp; {count} of {len(shown)} assumed")
        if not self.table.errors():
            rows: list[dict[str, Value]] = [{"label": i.label, "status": i.status, "source": i.source} for i in shown]
            self.table.set_rows(rows)

    def _take(self) -> None:
        project = self.draft.project
        for entry, row in zip(self.inputs, self.table.rows(), strict=True):
            if (entry.status, entry.source) != (row["status"], row["source"]):
                project = provenance.with_origin(
                    project, entry.path, cast(Status, row["status"]), str(row["source"])
                )
        if project != self.draft.project:
            self.draft.apply("", project)
        else:
            self.tell_problems()

