"""Results a document needs beyond the window's own prediction, computed in the background."""

from __future__ import annotations

import threading
from functools import partial

import msgspec
from PySide6.QtCore import QObject, Signal, Slot

from app.shell.jobs import NewestJob
from app.shell.session import Session
from core.handover.documents import Kind, Results
from core.handover.text.results import compute_results
from core.predict.prediction import Prediction
from core.project.model import Project
from core.project.sheet import Sheet


class ComputedResults(QObject):
    """Keeps what was computed last; `arrived` when a request is answered, `failed` with words."""

    arrived = Signal()
    failed = Signal(str)

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._known: tuple[Project, str, Results] | None = None
        """The inputs, what was needed, the results."""
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)

    def of(self, project: Project) -> Results:
        """What was computed while it still holds, else the window's own prediction."""
        if self._known is not None and self._known[0] == _inputs(project):
            return self._known[2]
        prediction = self._prediction()
        return Results({prediction.candidate: prediction}) if prediction else Results()

    def is_missing(self, project: Project, which: Kind) -> bool:
        """Whether a document needs more than there is."""
        if which.needs in ("nothing", "prediction"):
            return False
        return self._known is None or self._known[:2] not in (
            (_inputs(project), which.needs), (_inputs(project), "all candidates"),
        )  # fmt: skip

    def request(self, project: Project, which: Kind) -> None:
        """Compute what a document needs; a newer request takes the place of an older one."""
        self._job.request(partial(_compute, project, which, self._prediction()))

    def close(self) -> None:
        self._job.close()

    def _prediction(self) -> Prediction | None:
        return None if self._session.stale else self._session.prediction

    @Slot(int, object)
    def _on_finished(self, _revision: int, computed: tuple[Project, str, Results]) -> None:
        self._known = computed
        self.arrived.emit()

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self.failed.emit(f"This could not be predicted: {error}.")


def _inputs(project: Project) -> Project:
    """The project without what no result depends on."""
    return msgspec.structs.replace(project, sheet=Sheet(), releases=(), measurements=(), bonded=(), notes="")


def _compute(
    project: Project, which: Kind, known: Prediction | None, stop: threading.Event
) -> tuple[Project, str, Results]:
    results = compute_results(project, project.active, which.needs, known=known, stopped=stop.is_set)
    return _inputs(project), which.needs, results
