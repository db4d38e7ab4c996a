"""Where the inputs are from, and free words kept with the project."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from app.fields import NoteField
from app.panels.bound import EditorRow
from app.panels.paths import replaced_at
from app.panels.section import InputSection
from core.project import provenance
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session


START = (
    "Notes on the project. Start with the outline, the lay-up and the support, then weigh the part and "
    "compare; add a patch and drag it along the span."
)


class NotesSection(InputSection):
    """The origins in one editor; the project's notes and the active candidate's note."""

    editor_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Origins and notes", parent)
        self.origins = EditorRow("&Origins", "origins", "Where the inputs are from", parent=self.body)
        self.origins.wanted.connect(self.editor_wanted)
        self.add(self.origins)
        self.notes = NoteField("Project notes", hint=START, parent=self.body)
        self.notes.setFixedHeight(self.fontMetrics().height() * 5 + 12)
        self.notes.committed.connect(self._take_notes)
        self.add(self.notes)
        self.note = NoteField("Candidate note", hint="Note on this candidate", parent=self.body)
        self.note.setFixedHeight(self.fontMetrics().height() * 3 + 12)
        self.note.committed.connect(self._take_note)
        self.add(self.note)

    def refresh(self) -> None:
        if not self.session.previewing:  # a hand that drags changes neither notes nor origins
            super().refresh()

    def update_rows(self, project: Project) -> None:
        self.origins.tell(f"{len(provenance.assumed(project))} assumed")
        self.notes.set_value(project.notes)
        self.note.set_value(project.candidate().note)

    @Slot(str)
    def _take_notes(self, text: str) -> None:
        self.session.apply("Change notes", replaced_at(self.session.project, "notes", text))

    @Slot(str)
    def _take_note(self, text: str) -> None:
        project = self.session.project
        path = f"candidates[{project.active}].note"
        self.session.apply("Change candidate note", replaced_at(project, path, text))
