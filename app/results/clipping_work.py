"""A loop whose amplifier clips, followed in time beside the window: with how far it is, and a way to stop it."""

from __future__ import annotations

import threading
from functools import partial

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from app.shell.jobs import NewestJob
from app.studies.progress import ProgressLine
from core.circuit.loop import Loop
from core.circuit.loop_clip import Clipping, Stopped, clipping


class ClippingWork(QObject):
    """One request at a time; `found` with the Clipping, or None without a limit. `line` shows it while it runs."""

    found = Signal(object)
    _share = Signal(float)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.line = ProgressLine("clippingProgress", parent)
        self.line.hide()
        self.line.cancel_wanted.connect(self.forget)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        self._share.connect(self._tell)
        self.destroyed.connect(self._job.cancel)

    @property
    def busy(self) -> bool:
        return not self.line.isHidden()

    def request(self, loop: Loop, mode: int) -> None:
        """Follow mode `mode` (from 1)."""
        self.line.show()
        self.line.begin("Following the motion ...")
        self._job.request(partial(self._follow, loop, mode))

    @Slot()
    def forget(self) -> None:
        """What runs is told to stop, and nothing of it is shown."""
        self._job.cancel()
        self.line.hide()

    def _follow(self, loop: Loop, mode: int, stop: threading.Event) -> Clipping | None:
        """On the worker's thread."""

        def goes_on(share: float) -> bool:
            try:
                self._share.emit(share)
            except RuntimeError:  # the window has been deleted meanwhile
                return False
            return not stop.is_set()

        try:
            return clipping(loop, mode, goes_on=goes_on)
        except Stopped:
            return None

    @Slot(float)
    def _tell(self, share: float) -> None:
        if self.busy:
            self.line.tell(share, "Following the motion ...")

    @Slot(int, object)
    def _on_finished(self, revision: int, result: object) -> None:
        self.line.hide()
        self.found.emit(result)

    @Slot(int, object)
    def _on_failed(self, revision: int, error: object) -> None:
        self.line.say("It could not be followed; the log says why.")
