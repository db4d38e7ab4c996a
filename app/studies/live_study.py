"""A study that follows the project: asked for after a pause, worked out in the background, cancelled."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QWidget

from app.shell.jobs import NewestJob
from app.studies.progress import ProgressLine

if TYPE_CHECKING:
    from app.shell.session import Session

PAUSE_MS = 150
"""A run of changes asks for one study."""


class LiveStudy(QWidget):
    """A page with one study at a time; the newest request wins and what was drawn stays until it comes.

    A page makes its widgets, then calls `_follow`, and on the `timeout` of `_pause` asks `_job` for the
    study unless `_key`, what it depends on, is that of the last request. A worker tells results on the
    way through `_partial`.
    """

    _partial = Signal(object)

    def __init__(self, session: Session, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName(name)
        self._session = session
        self._key: object = None
        self._job = NewestJob(self)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)

    def _follow(self, progress: ProgressLine) -> None:
        """Ask anew when project or selection change; tell how far it is on this line."""
        self.progress = progress
        progress.cancel_wanted.connect(self.cancel)
        self._session.project_changed.connect(self._on_project)
        self._session.selection_changed.connect(self._on_project)

    @Slot()
    def cancel(self) -> None:
        """Stop; what is drawn so far stays."""
        self._job.cancel()
        self._key = None
        self.progress.say("Cancelled. Change something on the left to ask again.")

    @Slot()
    def close_jobs(self) -> None:
        """End background work."""
        self._pause.stop()
        self._job.close()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._pause.start()

    @Slot()
    def _on_project(self) -> None:
        if self.isVisible():
            self._pause.start()
