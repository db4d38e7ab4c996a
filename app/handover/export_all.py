"""Every document into a folder, in the background, with progress and Cancel."""

from __future__ import annotations

import threading
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QWidget

from app.fields.buttons import push_button
from app.handover.render import sheet_family
from app.handover.write import write_all
from app.shell.jobs import NewestJob
from core.handover.documents import Order

Outcome = tuple[tuple[Path, ...], tuple[str, ...]]


class ExportAll(QWidget):
    """A line with a progress bar, shown while it works. `ended` gives files and troubles in words."""

    ended = Signal(object, object)
    _stepped = Signal(int, int, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("exportAllProgress")
        self.bar = QProgressBar(self)
        self.bar.setObjectName("exportProgress")
        self.bar.setAccessibleName("Progress of the export")
        self.bar.setTextVisible(False)
        self.words = QLabel("", self)
        self.words.setObjectName("exportStep")
        self.cancel_button = push_button(self, "&Stop", "stopExport", self.stop)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.bar)
        row.addWidget(self.words, 1)
        row.addWidget(self.cancel_button)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_finished)
        self._job.failed.connect(self._on_failed)
        self._stepped.connect(self._on_step)
        self.setVisible(False)

    @property
    def busy(self) -> bool:
        return not self.isHidden()

    def start(self, order: Order, folder: Path) -> None:
        """Begin writing everything of an order into a folder."""
        sheet_family()  # a typeface is registered where the window lives
        self.setVisible(True)
        self._on_step(0, 0, "Starting")
        self._job.request(partial(_work, order, folder, self._stepped))

    @Slot()
    def stop(self) -> None:
        """Give up; what is written stays."""
        if self.busy:
            self._job.cancel()
            self._end((), ("Stopped. What had been written stays in the folder.",))

    def close_job(self) -> None:
        self._job.close()

    def _end(self, files: tuple[Path, ...], troubles: tuple[str, ...]) -> None:
        self.setVisible(False)
        self.ended.emit(files, troubles)

    @Slot(int, int, str)
    def _on_step(self, step: int, of: int, words: str) -> None:
        self.bar.setRange(0, of)
        self.bar.setValue(step)
        self.words.setText(words)

    @Slot(int, object)
    def _on_finished(self, _revision: int, outcome: Outcome) -> None:
        self._end(*outcome)

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: Exception) -> None:
        self._end((), (f"The export broke off: {error}.",))


def _work(order: Order, folder: Path, stepped: object, stop: threading.Event) -> Outcome:
    return write_all(order, folder, said=stepped.emit, stopped=stop.is_set)  # type: ignore[attr-defined]
