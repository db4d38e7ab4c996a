"""Keeps the ranking of the assumed inputs up to date, off the GUI thread and never during a drag."""

from __future__ import annotations

import logging
import threading
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.shell.concern import predicted_from
from app.shell.jobs import NewestJob
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.study.doubts import Doubt

log = logging.getLogger(__name__)
PAUSE_MS = 1200


class DoubtWatch(QObject):
    """`changed` when the ranking is there, has become old, or holds again."""

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._found: tuple[Doubt, ...] = ()
        self._of: object = None
        self._wanted: object = None
        self._is_old = False
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._ask)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        session.prediction_changed.connect(self._on_prediction)
        session.replaced.connect(self._forget)
        session.closing.connect(self.close)
        self._pause.start()

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """Strongest first; the last ones stay while they are worked out anew, and are old meanwhile."""
        return self._found

    @property
    def is_old(self) -> bool:
        """Whether the ranking is of a layout of before: its inputs may still be the doubtful ones, its numbers are not."""
        return self._is_old

    @Slot()
    def close(self) -> None:
        """End background work."""
        self._pause.stop()
        self._job.close()

    @Slot()
    def _on_prediction(self) -> None:
        """Another layout: what is being worked out is given up, and asked for anew when the hand rests."""
        project = self._session.predicted_for
        if project is None:
            return
        key = predicted_from(project)
        self._age(key != self._of)
        if self._wanted is None or key != self._wanted:
            self._wanted = None
            self._job.cancel()
            self._pause.start()

    def _age(self, old: bool) -> None:
        if self._found and old != self._is_old:
            self._is_old = old
            self.changed.emit()

    @Slot()
    def _forget(self) -> None:
        """Another project is opened: nothing of the one before is said of it, nor what is being worked out of that."""
        self._job.cancel()
        self._wanted = None
        self._pause.start()
        self._found, self._of, self._is_old = (), None, False
        self.changed.emit()

    @Slot()
    def _ask(self) -> None:
        if self._session.previewing:
            self._pause.start()
            return
        project = self._session.predicted_for
        if project is None or self._session.stale:
            return
        key = predicted_from(project)
        if key != self._wanted:
            self._wanted = key
            if key == self._of:
                return  # a drag that was given up: what was found holds
            self._job.request(partial(_work, project))

    @Slot(int, object)
    def _on_finished(self, _revision: int, found: tuple[Doubt, ...] | None) -> None:
        if found is not None:
            self._found, self._of, self._is_old = found, self._wanted, False
            self.changed.emit()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: object) -> None:
        log.warning("assumed inputs could not be ranked: %s", error)
        self._found, self._of, self._is_old = (), self._wanted, False
        self.changed.emit()


def _work(project: Project, stop: threading.Event) -> tuple[Doubt, ...] | None:
    from core.study.doubts import doubts

    return None if stop.is_set() else doubts(project, project.active, stop.is_set)
