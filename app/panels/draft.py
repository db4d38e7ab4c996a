"""A project being edited in a window of its own: nothing is committed before OK.

`Draft` looks to a form row like the session does, so the same rows serve panels and editors.
Every change is previewed by the session; OK becomes one undo step, Cancel takes it all back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QVBoxLayout, QWidget

from app.fields import ErrorLabel, FormRow, NumberTable, TypedField
from app.fields.scroll import scroll_of
from app.panels.paths import lies_in
from core.project.model import Project
from core.units.sentence import inside

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.problems import Problem


class Draft(QObject):
    """The edited project. `apply` takes a change at once; there is no undo inside a draft."""

    project_changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._project = session.project
        self._stepped: Project | None = None

    @property
    def project(self) -> Project:
        return self._project

    @property
    def shown(self) -> Project:
        return self._project if self._stepped is None else self._stepped

    @property
    def previewing(self) -> bool:
        return self._stepped is not None

    @property
    def problems(self) -> tuple[Problem, ...]:
        from core.predict.remarks.problems import find_problems

        return find_problems(self.shown)

    def apply(self, _title: str, project: Project) -> None:
        """Take a change and show it in the window behind."""
        self._stepped = None
        self._project = project
        self._session.preview(project)
        self.project_changed.emit()

    def preview(self, project: Project) -> None:
        """Show a change that may still be taken back."""
        self._stepped = project
        self._session.preview(project)
        self.project_changed.emit()

    @Slot()
    def cancel_preview(self) -> None:
        if self._stepped is not None:
            self.apply("", self._project)


class DraftDialog(QDialog):
    """An editor window on a draft with OK and Cancel, and problems in words above them.

    Subclasses fill `self.page`, give `places` (the paths they edit) and write `refresh`.
    `title` names the undo step.
    """

    title = "Change project"
    places: tuple[str, ...] = ()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.draft = Draft(session, self)
        self.page = QWidget(self)
        self.trouble = ErrorLabel(self)
        self.trouble.setObjectName("editor problems")
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, parent=self
        )
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(scroll_of(self.page, "editorScroll", self), 1)
        layout.addWidget(self.trouble)
        layout.addWidget(self.buttons)
        self.draft.project_changed.connect(self.refresh_all)

    # -- for subclasses --------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the draft again."""

    def cells_of(self, path: str) -> tuple[NumberTable, int, str] | None:
        """The table cell (table, row, column key) that shows a path, if any."""
        return None

    # -- showing -----------------------------------------------------------------------------------

    @Slot()
    def refresh_all(self) -> None:
        """Show the draft and what is wrong with it."""
        self.refresh()
        self.tell_problems()

    def tell_problems(self) -> None:
        """Problems of the edited places: beside their field or in their cell, else above the buttons."""
        rows = self.findChildren(FormRow)
        told: dict[FormRow, str] = {}
        cells: dict[NumberTable, dict[tuple[int, str], str]] = {t: {} for t in self.findChildren(NumberTable)}
        elsewhere = []
        for problem in self.draft.problems:
            if not any(lies_in(problem.path, place) for place in self.places):
                continue
            cell = self.cells_of(problem.path)
            row = next((r for r in rows if r.isVisibleTo(self) and lies_in(problem.path, r.path)), None)
            if cell is not None:
                cells[cell[0]][cell[1:]] = problem.message
            elif row is not None:
                told.setdefault(row, problem.message)
            else:
                elsewhere.append(problem.message)
        for row in rows:
            row.show_problem(told.get(row, ""))
        for table, errors in cells.items():
            table.tell_errors(errors)
        more = f"\n... and {len(elsewhere) - 4} more" if len(elsewhere) > 4 else ""
        self.trouble.show_text("\n".join(elsewhere[:4]) + more)

    # -- ending ------------------------------------------------------------------------------------

    def bad_texts(self) -> list[str]:
        """What was typed and is no value, in words."""
        found = [
            field.error() for field in self.findChildren(TypedField)
            if field.has_bad_text() and field.isVisibleTo(self)
        ]
        for table in self.findChildren(NumberTable):
            found += [f"{table.label}, {inside(error)}" for error in table.errors()]
        return found

    def accept(self) -> None:
        """Commit what is being typed, then the draft as one undo step; bad texts keep the window open."""
        focus = self.focusWidget()
        if isinstance(focus, TypedField):
            focus.commit()
        bad = self.bad_texts()
        if bad:
            self.trouble.show_text("Mend or undo this first. " + bad[0])
            return
        self.session.apply(self.title, self.draft.project)
        super().accept()

    def reject(self) -> None:
        """Take everything back."""
        self.session.cancel_preview()
        super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter commits a field; it does not close the window."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()
            return
        super().keyPressEvent(event)
