"""The papers as a page of the window: what shop, bench and customer get."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtGui import QHideEvent, QPixmap, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.handover.papers import Papers
from app.shell.away_page import AwayPage

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.project.sheet import Sheet


class PapersPage(AwayPage):
    """Holds the documents with their fields. What was typed is kept when a person leaves the page."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("papersPage")
        self._session = session
        self._known: Sheet | None = None
        self.papers: Papers | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        session.project_changed.connect(self._on_project)
        session.closing.connect(self.close_jobs)

    def showEvent(self, event: QShowEvent) -> None:
        self._follow()
        super().showEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if self.papers is not None and self._session.project.sheet == self._known:
            self.papers.keep()
            self._known = self._session.project.sheet

    def picture(self) -> QPixmap:
        """What is shown, for the clipboard."""
        return self.grab()

    def copy_table(self) -> None:
        """Papers hold no table of their own: the page shown goes as a picture."""
        if self.papers is not None:
            self.papers.copy_picture()

    @Slot()
    def close_jobs(self) -> None:
        """End background work."""
        if self.papers is not None:
            self.papers.close_jobs()

    @Slot()
    def _on_project(self) -> None:
        if self.isVisible():
            self._follow()

    def _follow(self) -> None:
        """Fields that no longer say what the project says (undo, another project) are made anew."""
        sheet = self._session.project.sheet
        if self.papers is not None and sheet in (self._known, self.papers.form.sheet()):
            self._known = sheet
            self.papers.refresh()
            return
        old, self._known = self.papers, sheet
        self.papers = Papers(self._session, self)
        if old is not None:
            self.papers.open_at(old.bar.kind().key)
            old.form.blockSignals(True)  # what it holds is of before
            old.close_jobs()
            old.deleteLater()
        self._layout.addWidget(self.papers)
        self.papers.show()
