"""Keeps damping against position worked out for the selected patch, off the window's thread."""

from __future__ import annotations

import threading
from functools import partial
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.shell.concern import predicted_from
from app.shell.jobs import NewestJob
from core.project import edit
from core.project.model import Project

if TYPE_CHECKING:
    from core.study.placement.position import PositionStrip

PAUSE_MS = 120
"""During a drag the strip waits for the hand to rest this long."""
LATE_MS = 250
"""A strip of before is shown as such once the one in work takes this long: sooner it would flicker."""
POSITIONS = 120


class StripKeeper(QObject):
    """`strip` belongs to what `follow` was told last, or to an earlier one until `changed`: then it `is_old`, and `is_late`
    once the one in work takes its time, which `aged` tells."""

    changed = Signal()
    aged = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.strip: PositionStrip | None = None
        self.wanted, self._seen = True, True
        self._told: tuple[Project, str] | None = None
        self._key: object = None
        self._of: object = None
        self.is_late = False
        self._late = QTimer(self, singleShot=True, interval=LATE_MS)
        self._late.timeout.connect(self._on_late)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._request)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_strip)
        self._job.failed.connect(self._on_failed)

    @property
    def is_old(self) -> bool:
        """Whether the strip held is of a layout of before, and the one of now still in work."""
        return self.strip is not None and self._of != self._key

    def follow(self, project: Project, patch_id: str | None, *, at_once: bool) -> None:
        """What the strip is of from now on; None keeps the present one. At once, or when no other follows for a while."""
        self._told = None if patch_id is None else (project, patch_id)
        if at_once:
            self._request()
        else:
            self._pause.start()

    def want(self, wanted: bool) -> None:
        """Whether it is computed at all (a view may be switched off)."""
        self.wanted, self._key = wanted, None
        if not wanted:
            self._job.cancel()
            self.strip = None
            self.changed.emit()

    def see(self, seen: bool) -> None:
        """Whether anybody can see it: while another page hides it, one of before stays as it is, and is old."""
        self._seen = seen
        if seen:
            self._request()

    def need(self) -> None:
        """Work it out though nobody sees it."""
        self._request(hidden=True)

    def forget(self) -> None:
        """Drop the strip of a project that is no longer open, and the one in work."""
        self._pause.stop()
        self._late.stop()
        self._job.cancel()
        self.strip = self._key = self._of = None
        self.is_late = False

    def close(self) -> None:
        self._pause.stop()
        self._late.stop()
        self._job.close()

    @Slot()
    def _request(self, *, hidden: bool = False) -> None:
        """Ask for the strip unless the present one still holds, or nobody sees it."""
        self._pause.stop()
        if not self.wanted or self._told is None:
            return
        project, patch_id = self._told
        key = depends_on(project, patch_id)
        if key != self._key:
            if not (self._seen or hidden or self.strip is None):
                self._job.cancel()
                self._late.stop()
                self._key = None
                return
            self._key = key
            self._job.request(partial(_position_strip, project, patch_id))
            if not self._late.isActive():
                self._late.start()

    @Slot(int, object)
    def _on_strip(self, revision: int, strip: object) -> None:
        self.strip = strip  # type: ignore[assignment]
        self._of, self.is_late = self._key, False
        self._late.stop()
        self.changed.emit()

    @Slot()
    def _on_late(self) -> None:
        self.is_late = self.is_old
        if self.is_late:
            self.aged.emit()

    @Slot(int, object)
    def _on_failed(self, revision: int, error: object) -> None:
        self.strip = None
        self._late.stop()
        self.is_late = False
        self.changed.emit()


def depends_on(project: Project, patch_id: str) -> object:
    """Everything a prediction depends on except where that patch starts now."""
    anywhere = edit.with_patch(project, project.active, replace(project.candidate().patch(patch_id), x_start_m=0.0))
    return patch_id, predicted_from(anywhere)


def _position_strip(project: Project, patch_id: str, stop: threading.Event) -> PositionStrip | None:
    from core.study.placement.position import damping_against_position

    if stop.is_set():
        return None
    return damping_against_position(project, project.active, patch_id, n=POSITIONS, modes=project.view.modes_shown)
