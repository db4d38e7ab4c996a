"""What the candidate does when something of it fails: damping, volts on the leads, safe or not."""

from __future__ import annotations

import threading
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.fields.plain import PlainLabel
from app.measured.text_table import Cell, Column, Row, TextTable, Tone
from app.shell.concern import predicted_from
from app.shell.jobs import NewestJob
from app.theme import look

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.electrics.failure import Failure
    from core.project.model import Project

COLUMNS = (
    Column("", 1.9, right=False), Column("damping", 1.2), Column("Hz", 0.8), Column("up to", 1.3),
    Column("", 2.0, right=False),
)  # fmt: skip
SAFE, UNSAFE = "\N{CHECK MARK}", "\N{MULTIPLICATION SIGN}"


class FailureTable(QWidget):
    """Worked out beside the window when what it depends on has changed."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._of: object = None
        self.rows: tuple[Failure, ...] = ()
        self._title = PlainLabel("When something fails", self)
        self._title.setFont(look.font(13, bold=True))
        self._about = PlainLabel("", self)
        self._about.setFont(look.font(12))
        self.table_view = TextTable("failureTable", "When something fails", COLUMNS, self, badges=False)
        head = QHBoxLayout()
        head.addWidget(self._title)
        head.addWidget(self._about, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addWidget(self.table_view)
        layout.addStretch(1)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_done)
        self._job.failed.connect(self._on_failed)
        session.closing.connect(self._job.close)

    def refresh(self) -> None:
        """Ask for the table of what is shown, unless it is known."""
        project = self._session.predicted_for
        if project is None or self._session.stale:
            return
        self.show()
        key = predicted_from(project)
        if key != self._of:
            self._of = key
            self._about.setText("working it out")
            self._job.request(partial(_work, project))

    def table(self) -> list[list[str]]:
        """Heads and cells in words."""
        from core.predict.electrics.failure import HEADS

        return [list(HEADS), *(list(row.cells) for row in self.rows)] if self.rows else []

    @Slot(int, object)
    def _on_done(self, revision: int, found: object) -> None:
        if not isinstance(found, tuple):
            return
        self.rows = found
        self._about.setText("")
        self.table_view.show_rows(tuple(map(_row, self.rows)))

    @Slot(int, object)
    def _on_failed(self, revision: int, error: object) -> None:
        self.rows = ()
        self._about.setText("could not be worked out")
        self.table_view.show_rows(())


def _work(project: Project, stop: threading.Event) -> tuple[Failure, ...] | None:
    # imported here: worked out beside the window
    from core.predict.electrics.failure import failures

    return None if stop.is_set() else failures(project)


def _row(failure: Failure) -> Row:
    name, damping, frequency, volts, verdict = failure.cells
    safe = failure.is_safe
    sign = SAFE if safe else UNSAFE
    tone: Tone = "good" if safe else "danger"
    told = ". ".join(part for part in (name, f"{damping} at {frequency}", volts, failure.cause, verdict) if part)
    cells = (Cell(name), Cell(damping, "bold"), Cell(frequency.removesuffix(" Hz")), Cell(volts), Cell(f"{sign} {verdict}", tone))
    return Row(cells, tip=told)
