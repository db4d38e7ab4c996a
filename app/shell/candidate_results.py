"""What each candidate gives of what is asked for: circuit, result, met or missed.

The active one is told with every prediction; the others are worked out one by one while the hand
rests, and only those whose inputs changed.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.shell.concern import predicted_from

if TYPE_CHECKING:
    from app.shell.answer_watch import AnswerWatch
    from app.shell.session import Session
    from core.predict.asked import Answer

log = logging.getLogger(__name__)
PAUSE_MS = 60
FIRST_MS = 400
"""The first picture of the window comes before the candidates it does not show."""


@dataclass(frozen=True)
class CandidateResult:
    """The texts of one candidate; `met` None where nothing is asked or it cannot be judged."""

    circuit: str
    result: str
    met: bool | None
    asked: bool

    @property
    def line(self) -> str:
        return " · ".join(part for part in (self.circuit, self.result) if part)


class CandidateResults(QObject):
    """`changed` when another candidate's result is known."""

    changed = Signal()

    def __init__(self, session: Session, watch: AnswerWatch, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._watch = session, watch
        self._known: dict[str, tuple[object, CandidateResult | None]] = {}
        self._turn = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._turn.timeout.connect(self._work)
        session.project_changed.connect(self._turn.start)
        session.closing.connect(self._turn.stop)
        watch.changed.connect(self._on_answer)
        QTimer.singleShot(FIRST_MS, self, self._turn.start)

    def of(self, letter: str) -> CandidateResult | None:
        """What is known of a candidate; None before it is worked out, or where it cannot be predicted."""
        return self._known.get(letter, (None, None))[1]

    @Slot()
    def _on_answer(self) -> None:
        """The active candidate follows the answer; during a drag that waits, it keeps what it said."""
        answer, project = self._watch.answer, self._session.predicted_for
        if answer is None or project is None or self._session.stale or self._session.previewing:
            return
        self._know(project.active, predicted_from(project), _told(answer))

    @Slot()
    def _work(self) -> None:
        """Work out the first candidate that is not known, and come back for the next."""
        session = self._session
        project = session.project
        if session.previewing:
            self._turn.start()
            return
        for candidate in project.candidates:
            key = predicted_from(project, candidate.id)
            if candidate.id not in self._known or self._known[candidate.id][0] != key:
                self._know(candidate.id, key, self._worked_out(candidate.id))
                self._turn.start()
                return

    def _worked_out(self, letter: str) -> CandidateResult | None:
        from core.predict.asked import answer

        prediction, _ = self._session.predict_candidate(letter)
        if prediction is None:
            return None
        try:
            return _told(answer(self._session.project, letter, prediction))
        except Exception:  # told as not known; the window says why when the candidate is shown
            log.exception("candidate %s could not be judged", letter)
            return None

    def _know(self, letter: str, key: object, result: CandidateResult | None) -> None:
        before = self.of(letter)
        self._known[letter] = (key, result)
        if result != before:
            self.changed.emit()


def _told(answer: Answer) -> CandidateResult:
    """In the texts of the answer block."""
    from app.results.answer_lines import circuit_text, result_line

    return CandidateResult(
        circuit_text(answer.prediction), result_line(answer), answer.met, bool(answer.asked.modes)
    )
