"""The search with its form and what it found."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app import look
from app.jobs import NewestJob
from app.studies.edits import kept
from app.studies.found_card import FoundCard
from app.studies.progress import ProgressLine
from app.studies.search_form import SearchForm
from app.studies.words import found_table
from core.project.model import Project

if TYPE_CHECKING:
    from app.session import Session
    from core.study.goals import SearchRequest, SearchResult

FORM_WIDTH = 320
HINT = (
    "Say on the left what the layout is for and what may be used, then search. You get up to five clearly "
    "different layouts, each predicted exactly, with what keeps it from being better."
)


class SearchPage(QWidget):
    """One search at a time; results stay until the next one."""

    said = Signal(str)
    _progress = Signal(float, str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("searchPage")
        self._session = session
        self._searched: Project | None = None
        self.result: SearchResult | None = None
        self.form = SearchForm(self)
        self.start = QPushButton("Search", self)
        self.start.setObjectName("searchStart")
        self.start.setDefault(True)
        self.start.clicked.connect(self.search)
        self.verdict = _text("searchVerdict", self)
        self.verdict.setFont(look.font(13, bold=True))
        self.gives = _text("searchGives", self)
        self.aged = _text("searchAged", self)
        self.cards: list[FoundCard] = []
        self.progress = ProgressLine("searchProgress", self)
        self._job = NewestJob(self)
        self._lay_out()
        self._progress.connect(self.progress.tell)
        self.progress.cancel_wanted.connect(self.cancel)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        session.project_changed.connect(self._on_project)
        self.verdict.setText(HINT)
        self.aged.hide()
        self.gives.hide()

    def _lay_out(self) -> None:
        side = QWidget(self)
        column = QVBoxLayout(side)
        column.setContentsMargins(14, 6, 10, 10)
        column.addWidget(self.form)
        column.addStretch(1)
        scroll = _scroll(side, "searchFormScroll", self)
        left = QVBoxLayout()
        left.setContentsMargins(0, 0, 0, 10)
        left.addWidget(scroll, 1)
        button = QHBoxLayout()
        button.setContentsMargins(14, 0, 14, 0)
        button.addWidget(self.start)
        left.addLayout(button)
        holder = QWidget(self)
        holder.setFixedWidth(FORM_WIDTH + 24)
        holder.setLayout(left)
        body = QWidget(self)
        self._list = QVBoxLayout(body)
        self._list.setContentsMargins(4, 10, 14, 10)
        self._list.setSpacing(8)
        for label in (self.verdict, self.aged, self.gives):
            self._list.addWidget(label)
        self._list.addStretch(1)
        right = QVBoxLayout()
        right.setContentsMargins(0, 0, 0, 10)
        right.addWidget(_scroll(body, "foundScroll", self), 1)
        bottom = QHBoxLayout()
        bottom.setContentsMargins(4, 0, 14, 0)
        bottom.addWidget(self.progress)
        right.addLayout(bottom)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(holder)
        row.addLayout(right, 1)

    # ---- asking --------------------------------------------------------------------------

    @Slot()
    def search(self) -> None:
        """Start a search; one that runs is given up."""
        if self._session.stale:
            self._tell("This layout cannot be predicted yet. Mend what is marked in the inputs first.")
            return
        try:
            request = self.form.request()
        except ValueError as error:
            self._tell(str(error))
            return
        self._searched = self._session.project
        self.progress.begin("Searching")
        self._job.request(partial(_work, self._searched, request, self._progress.emit))

    @Slot()
    def cancel(self) -> None:
        self._job.cancel()
        self.progress.say("Cancelled. What was found before stays.")

    def close_jobs(self) -> None:
        """End background work."""
        self._job.close()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.form.fit(self._session.project)

    @Slot()
    def _on_project(self) -> None:
        if self.isVisible():
            self.form.fit(self._session.project)
        self._show_age()

    # ---- what comes back -----------------------------------------------------------------

    @Slot(int, object)
    def _on_finished(self, _revision: int, result: SearchResult | None) -> None:
        if result is None:
            return
        self.result = result
        self._clear()
        self.verdict.setText(result.verdict)
        self.gives.setText(_gives(result))
        self.gives.setVisible(bool(result.gives))
        assert self._searched is not None
        for number, found in enumerate(result.found):
            card = FoundCard(number, self._searched.structure, found, self)
            card.keep_wanted.connect(self.keep)
            self.cards.append(card)
            self._list.insertWidget(self._list.count() - 1, card)
        self.progress.say(f"{result.evaluations} layouts were looked at.")
        self._show_age()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._tell(str(error) if isinstance(error, ValueError) else f"The search could not be made: {error}")

    def _tell(self, text: str) -> None:
        self._clear()
        self.result = None
        self.verdict.setText(text)
        self.gives.hide()
        self.progress.say("")
        self._show_age()

    def _clear(self) -> None:
        for card in self.cards:
            self._list.removeWidget(card)
            card.deleteLater()
        self.cards = []

    def _show_age(self) -> None:
        """Say when the part, the loads or the packages are no longer those that were searched."""
        old, now = self._searched, self._session.project
        aged = (
            self.result is not None
            and old is not None
            and (
                (old.structure, old.materials, old.packages, old.service)
                != (now.structure, now.materials, now.packages, now.service)
            )
        )
        self.aged.setText("The inputs have changed since this search. Search again." if aged else "")
        self.aged.setVisible(aged)

    def table(self) -> list[list[str]]:
        """The layouts found, a line each."""
        return found_table(self.result.found) if self.result is not None else [[]]

    @Slot(int)
    def keep(self, number: int) -> None:
        """A layout found becomes the next candidate, as one undo step."""
        if self.result is None:
            return
        project, letter = kept(self._session.project, self.result.found[number].candidate)
        self._session.apply(f"Keep layout {number + 1} as candidate {letter}", project)
        self.cards[number].show_kept(letter)
        self.said.emit(f"Kept as candidate {letter}")


def _gives(result: SearchResult) -> str:
    if not result.gives:
        return ""
    return "What would have to give:\n" + "\n".join(f"\N{BULLET} {line}" for line in result.gives)


def _text(name: str, parent: QWidget) -> QLabel:
    label = QLabel(parent)
    label.setObjectName(name)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


def _scroll(content: QWidget, name: str, parent: QWidget) -> QScrollArea:
    scroll = QScrollArea(parent)
    scroll.setObjectName(name)
    scroll.setWidget(content)
    scroll.setWidgetResizable(True)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    return scroll


def _work(
    project: Project, request: SearchRequest, tell: Callable[[float, str], None], stop: threading.Event
) -> SearchResult | None:
    from core.study.search import search

    last = 0.0

    def on_progress(share: float, words: str) -> None:
        nonlocal last
        if time.perf_counter() - last > 0.1:
            last = time.perf_counter()
            tell(share, words[:1].upper() + words[1:])

    return search(project, request, on_progress=on_progress, cancelled=stop.is_set)
