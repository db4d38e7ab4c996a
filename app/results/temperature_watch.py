"""Keeps the cold / reference / hot study of what is shown up to date, off the GUI thread.

A drag never waits for it: while a hand moves nothing is asked, and the last study stays, marked as
being updated.
"""

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
    from core.study.temperature.temperature import TemperatureStudy

log = logging.getLogger(__name__)

PAUSE_MS = 180
"""A run of changes asks for one study; a drag that rests longer than this asks too."""
RETRY_MS = 250


class TemperatureWatch(QObject):
    """`changed` when there is a new study or the last one has become old."""

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._study: TemperatureStudy | None = None
        self._key: object = None
        self._wanted: object = None
        self._told_old = True
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._ask)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        session.prediction_changed.connect(self._on_prediction)
        session.closing.connect(self.close)
        self._on_prediction()

    @property
    def study(self) -> TemperatureStudy | None:
        """The last study; None before the first."""
        return self._study

    @property
    def is_old(self) -> bool:
        """Whether the study belongs to an earlier layout."""
        return self._key is None or self._key != _key(self._session.predicted_for)

    @Slot()
    def close(self) -> None:
        """End background work."""
        self._pause.stop()
        self._job.close()

    @Slot()
    def _on_prediction(self) -> None:
        old = self.is_old
        if self._session.prediction is not None and old:
            self._pause.start()
        if old != self._told_old:
            self._tell()

    @Slot()
    def _ask(self) -> None:
        if self._session.previewing:
            self._pause.start(RETRY_MS)
            return
        project = self._session.predicted_for
        key = _key(project)
        if project is None or key == self._wanted:
            return
        self._wanted = key
        self._job.request(partial(_work, project))

    @Slot(int, object)
    def _on_finished(self, _revision: int, study: TemperatureStudy | None) -> None:
        if study is not None:
            self._study, self._key = study, self._wanted
            self._tell()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: object) -> None:
        log.warning("no temperature study: %s", error)
        self._study, self._key = None, None
        self._tell()

    def _tell(self) -> None:
        self._told_old = self.is_old
        self.changed.emit()


def _key(project: Project | None) -> object:
    """What the study depends on."""
    return None if project is None else predicted_from(project)


def _work(project: Project, stop: threading.Event) -> TemperatureStudy | None:
    from core.study.temperature.temperature import temperature_study

    return None if stop.is_set() else temperature_study(project)
