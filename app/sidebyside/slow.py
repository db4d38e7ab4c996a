"""Damping at the cold end of service and what fails, for every candidate, worked out off the GUI thread."""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from app.shell.jobs import NewestJob
from core.project.model import Project

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.electrics.failure import Failure
    from core.study.temperature.temperature import TemperatureStudy

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Slow:
    """What takes longer than a page may wait: damping over temperature, and the table of failures."""

    study: TemperatureStudy
    failures: tuple[Failure, ...]


class SlowStudies(QObject):
    """Studies by candidate; `changed` when those asked for have come."""

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._asked: Project | None = None
        self._known: tuple[Project | None, dict[str, Slow]] = (None, {})
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        session.closing.connect(self._job.close)

    def of(self, project: Project, ids: tuple[str, ...]) -> list[Slow | None]:
        """The studies of these candidates; None where one is still to come, which is asked for."""
        if self._known[0] != project and self._asked != project:
            self._asked = project
            self._job.request(partial(_work, project, ids))
        found = self._known[1] if self._known[0] == project else {}
        return [found.get(id) for id in ids]

    @Slot(int, object)
    def _on_finished(self, _revision: int, found: dict[str, Slow] | None) -> None:
        if found is not None:
            self._known = (self._asked, found)
            self.changed.emit()


def _work(project: Project, ids: tuple[str, ...], stop: threading.Event) -> dict[str, Slow] | None:
    from core.predict.electrics.failure import failures
    from core.study.temperature.temperature import temperature_study

    found = {}
    for id in ids:
        if stop.is_set():
            return None
        try:
            found[id] = Slow(temperature_study(project, id), failures(project, id))
        except (ValueError, ArithmeticError) as error:  # a candidate that cannot be predicted says so itself
            log.info("no studies of candidate %s: %s", id, error)
    return found
