"""The studies in place of the drawing: a tab each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.fields.link import Link
from app.fields.plain import PlainLabel
from app.fields.wheel import CalmTabs
from app.results.clipboard import copy_table
from app.shell.away_page import AwayPage
from app.studies.map_page import MapPage
from app.studies.search_page import SearchPage
from app.studies.tolerance_page import TolerancePage
from app.theme import look

if TYPE_CHECKING:
    from app.shell.session import Session

MAP, SEARCH, TOLERANCE = 0, 1, 2


class StudyPage(AwayPage):
    """Map, search and tolerance; `back_wanted` when a person is done, `said` for the status bar."""

    said = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("studyPage")
        head = QFrame(self)
        title = QLabel("Studies", head)
        title.setFont(look.font(14, bold=True))
        self._about = PlainLabel("", head)
        row = QHBoxLayout(head)
        row.setContentsMargins(16, 8, 12, 4)
        row.addWidget(title)
        row.addWidget(self._about, 1)
        back = Link("Back to the drawing", head)
        back.setObjectName("studiesBack")
        back.clicked.connect(self._back)
        row.addWidget(back)
        self.map = MapPage(session, self)
        self.search = SearchPage(session, self)
        self.search.said.connect(self.said)
        self.tolerance = TolerancePage(session, self)
        self.tabs = CalmTabs(self)
        self.tabs.setObjectName("studyTabs")
        self.tabs.setDocumentMode(True)
        self.tabs.addTab(self.map, "&Map of placements")
        self.tabs.addTab(self.search, "&Find the best")
        self.tabs.addTab(self.tolerance, "&Tolerance")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(head)
        layout.addWidget(self.tabs, 1)
        self._session = session
        session.closing.connect(self.close_jobs)
        session.project_changed.connect(self._show_about)
        session.selection_changed.connect(self._show_about)
        self._show_about()

    def show_tab(self, index: int) -> None:
        self.tabs.setCurrentIndex(index)
        self.tabs.currentWidget().setFocus(Qt.FocusReason.OtherFocusReason)

    def picture(self) -> QPixmap:
        """What is shown, for the clipboard."""
        return self.tabs.currentWidget().grab()

    def copy_table(self) -> None:
        """The map's values or the layouts found, on the clipboard."""
        copy_table((self.map, self.search, self.tolerance)[self.tabs.currentIndex()].table())

    @Slot()
    def close_jobs(self) -> None:
        """End background work of every tab."""
        self.map.close_jobs()
        self.search.close_jobs()
        self.tolerance.close_jobs()

    @Slot()
    def _show_about(self) -> None:
        candidate, patch = self._session.project.candidate(), self._session.selected_patch
        about = f"candidate {candidate.id}" + (f", patch {patch}" if patch else "")
        self._about.setText(about)
