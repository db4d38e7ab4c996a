"""The search with its form and what it found."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.fields.plain import PlainLabel
from app.fields.scroll import scroll_of
from app.shell.jobs import NewestJob
from app.studies.edits import kept
from app.studies.found_card import FoundCard
from app.studies.progress import ProgressLine
from app.studies.search_form import SearchForm
from app.studies.search_work import search_work
from app.studies.searched import with_packages_of
from app.studies.words import NOT_PREDICTED, failed, found_table
from app.theme import look
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session
    from app.studies.search_work import Present
    from core.study.search.goals import Found, SearchResult, SoFar

FORM_WIDTH = 320
HINT = (
    "Say on the left what the layout is for and what may be used, then search. You get up to five clearly "
    "different layouts, each predicted exactly, with what keeps it from being better. The first look is taken with "
    "sections free across, what is told is at the level of the project (Structure, Sections)."
)


class SearchPage(QWidget):
    """One search at a time; results stay until the next one."""

    said = Signal(str)
    _progress = Signal(float, str)
    _partial = Signal(int, object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("searchPage")
        self._session = session
        self._searched: Project | None = None
        self._looked_at: Project | None = None
        """The same with all packages that the search was allowed."""
        self.result: SearchResult | None = None
        self.form = SearchForm(self)
        self.start = QPushButton("Search", self)
        self.start.setObjectName("searchStart")
        self.start.setDefault(True)
        self.start.clicked.connect(self.search)
        self.verdict = _text("searchVerdict", self)
        self.verdict.setFont(look.font(13, bold=True))
        self.present = _text("searchPresent", self)
        self.gives = _text("searchGives", self)
        self.aged = _text("searchAged", self)
        self.cards: list[FoundCard] = []
        self._spare: list[FoundCard] = []
        self._to_show: list[Found] = []
        self._run = 0
        self._fill = QTimer(self, singleShot=True, interval=0)
        self._fill.timeout.connect(self._show_next)
        self.progress = ProgressLine("searchProgress", self)
        self._job = NewestJob(self)
        self._lay_out()
        self._progress.connect(self.progress.tell)
        self._partial.connect(self._on_partial)
        self.progress.cancel_wanted.connect(self.cancel)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        session.project_changed.connect(self._on_project)
        self.verdict.setText(HINT)
        self.aged.hide()
        self.gives.hide()
        self.present.hide()

    def _lay_out(self) -> None:
        side = QWidget(self)
        column = QVBoxLayout(side)
        column.setContentsMargins(14, 6, 10, 10)
        column.addWidget(self.form)
        column.addStretch(1)
        scroll = scroll_of(side, "searchFormScroll", self, sideways=False)
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
        for label in (self.verdict, self.present, self.aged, self.gives):
            self._list.addWidget(label)
        self._list.addStretch(1)
        right = QVBoxLayout()
        right.setContentsMargins(0, 0, 0, 10)
        right.addWidget(scroll_of(body, "foundScroll", self, sideways=False), 1)
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
            self._tell(NOT_PREDICTED)
            return
        try:
            self._looked_at, request = self.form.request(self._session.project)
        except ValueError as error:
            self._tell(str(error))
            return
        self._searched = self._session.project
        self._run += 1
        self._fill.stop()
        self.result = None
        self._clear()
        self.verdict.setText("Searching: the best layouts so far are shown as they are found.")
        self.gives.hide()
        self.present.hide()
        self._show_age()
        self.progress.begin("Searching")
        show = partial(self._partial.emit, self._run)
        self._job.request(partial(search_work, self._looked_at, request, self._progress.emit, show))

    @Slot()
    def cancel(self) -> None:
        self._job.cancel()
        self._run += 1
        for card in self.cards:
            card.let_keep()
        self.verdict.setText("Cancelled. These were the best layouts so far." if self.cards else HINT)
        self.progress.say("Cancelled.")

    def close_jobs(self) -> None:
        """End background work."""
        self._run += 1
        self._fill.stop()
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
    def _on_partial(self, run: int, found: tuple[SoFar, ...]) -> None:
        """The best layouts so far; late ones of an older search are dropped."""
        if run != self._run or self._searched is None:
            return
        for number, item in enumerate(found):
            self._card(number).show_so_far(self._searched.structure, item)
        self._clear(len(found))

    @Slot(int, object)
    def _on_finished(self, _revision: int, outcome: tuple[SearchResult, Present | None] | None) -> None:
        if outcome is None:
            return
        result, present = outcome
        self.result = result
        self._run += 1
        self._clear(len(result.found))
        self.verdict.setText(result.verdict)
        self.present.setText("" if present is None else present.sentence())
        self.present.setVisible(present is not None)
        self.gives.setText(_gives(result))
        self.gives.setVisible(bool(result.gives))
        self._to_show = list(result.found)
        self._show_age()
        self._show_next()

    @Slot()
    def _show_next(self) -> None:
        """One card a turn, so that the window never waits for all of them to be laid out."""
        if self.result is None or self._searched is None:
            return
        if self._to_show:
            number = len(self.result.found) - len(self._to_show)
            self._card(number).show_found(self._searched.structure, self._to_show.pop(0))
            self._fill.start()
        else:
            self.progress.say(f"{self.result.evaluations} layouts were looked at.")

    def _card(self, number: int) -> FoundCard:
        """The card of a place in the list, made where there is none yet."""
        while len(self.cards) <= number:
            if self._spare:
                card = self._spare.pop()
            else:
                card = FoundCard(len(self.cards), self)
                card.keep_wanted.connect(self.keep)
                self._list.insertWidget(self._list.count() - 1, card)
            card.show()
            self.cards.append(card)
        return self.cards[number]

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._tell(failed("The search", error))

    def _tell(self, text: str) -> None:
        self._run += 1
        self._fill.stop()
        self._clear()
        self.result = None
        self.present.hide()
        self.verdict.setText(text)
        self.gives.hide()
        self.progress.say("")
        self._show_age()

    def _clear(self, keep: int = 0) -> None:
        """Put away all cards but the first ones; they are filled again later."""
        while len(self.cards) > keep:
            self._spare.append(self.cards.pop())
            self._spare[-1].hide()

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
        candidate = self.cards[number].candidate
        if candidate is None:
            return
        here = self._session.project
        if self._looked_at is not None:
            here = with_packages_of(here, self._looked_at, candidate)
        project, letter = kept(here, candidate)
        self._session.apply(f"Keep layout {number + 1} as candidate {letter}", project)
        self.cards[number].show_kept(letter)
        self.said.emit(f"Kept as candidate {letter}")


def _gives(result: SearchResult) -> str:
    if not result.gives:
        return ""
    return "What would have to give:\n" + "\n".join(f"\N{BULLET} {line}" for line in result.gives)


def _text(name: str, parent: QWidget) -> QLabel:
    label = PlainLabel("", parent)
    label.setObjectName(name)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label
