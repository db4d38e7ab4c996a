"""What takes a while on a loop, done beside the window: with how far it is, and a way to stop it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from app.shell.jobs import NewestJob
from app.studies.progress import ProgressLine
from core.circuit.loop.wait import GoesOn, Stopped

if TYPE_CHECKING:
    from app.shell.session import Session

Work = Callable[[GoesOn], object]


class LoopWork(QObject):
    """One request at a time, while the session is open; `found` with what came of it. `line` stands where it was asked
    for and shows it while it runs."""

    found = Signal(object)
    _share = Signal(float)

    def __init__(self, name: str, words: str, session: Session, parent: QWidget) -> None:
        super().__init__(parent)
        self._words = words
        self.line = ProgressLine(name, parent)
        self.line.hide()
        self.line.cancel_wanted.connect(self.forget)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        self._share.connect(self._tell)
        session.closing.connect(self._job.close)

    @property
    def busy(self) -> bool:
        return not self.line.bar.isHidden() and not self.line.isHidden()

    @property
    def runs(self) -> bool:
        """Also while what was stopped has not ended yet."""
        return self._job.busy

    def request(self, work: Work) -> None:
        self.line.show()
        self.line.begin(self._words)
        self._job.request(partial(self._run, work))

    @Slot()
    def forget(self) -> None:
        """What runs is told to stop, and nothing of it is shown."""
        self._job.cancel()
        self.line.hide()

    def _run(self, work: Work, stop: threading.Event) -> object:
        """On the worker's thread."""

        def goes_on(share: float) -> bool:
            try:
                self._share.emit(share)
            except RuntimeError:  # the window has been deleted meanwhile
                return False
            return not stop.is_set()

        try:
            return work(goes_on)
        except Stopped:
            return None

    @Slot(float)
    def _tell(self, share: float) -> None:
        if self.busy:
            self.line.tell(share, self._words)

    @Slot(int, object)
    def _on_finished(self, _revision: int, result: object) -> None:
        self.line.hide()
        self.found.emit(result)

    @Slot(int, object)
    def _on_failed(self, _revision: int, _error: object) -> None:
        self.line.say("It did not come to an end; the log says why.")
