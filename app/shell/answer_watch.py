"""Keeps what is asked for judged for the layout shown.

Where it is asked at the reference temperature and under the load looked at, the session's prediction is
all it takes, at every frame of a drag. Elsewhere another prediction is needed, which a drag waits for
until the hand rests.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

if TYPE_CHECKING:
    from app.shell.session import Session
    from core.predict.asked import Answer
    from core.project.model import Project

log = logging.getLogger(__name__)


class AnswerWatch(QObject):
    """`changed` after every change of the prediction, with `answer` for it or None while it waits."""

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._answer: Answer | None = None
        self._answered: Project | None = None
        session.prediction_changed.connect(self._on_prediction)
        session.hand_rests.connect(self._on_rest)
        self._on_prediction()

    @property
    def answer(self) -> Answer | None:
        """What is asked for, judged for `session.predicted_for`; None while it waits for the hand."""
        return self._answer if self._answered is self._session.predicted_for else None

    @Slot()
    def _on_prediction(self) -> None:
        project = self._session.predicted_for
        is_new = project is not None and project is not self._answered
        if project is not None and is_new and (not self._session.previewing or _is_as_shown(project)):
            self._judge(project)
        self.changed.emit()

    @Slot()
    def _on_rest(self) -> None:
        project = self._session.predicted_for
        if project is not None and project is not self._answered:
            self._judge(project)
            self.changed.emit()

    def _judge(self, project: Project) -> None:
        # imported here so that the window is up before the numerics are loaded
        from core.predict.asked import answer

        try:
            self._answer = answer(project, project.active, self._session.prediction)
        except Exception:  # the prediction at another temperature failed: it is told as not judged
            log.exception("what is asked for could not be judged")
            self._answer = None
        self._answered = project


def _is_as_shown(project: Project) -> bool:
    from core.predict.asked import is_as_shown

    return is_as_shown(project)
