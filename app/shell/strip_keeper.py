"""Keeps damping against position worked out for the selected patch, off the window's thread."""

from __future__ import annotations

import threading
import time
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
"""During a drag a strip that takes long waits for the hand to rest this long."""
QUICK_S = 0.06
"""One that takes no longer follows the hand as it moves."""
TURNS = 4
"""Of the time until it came: how long it then leaves the frames to themselves. A busy machine waits longer."""
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
        self._pause.timeout.connect(self._on_pause)
        self._turn = QTimer(self, singleShot=True)
        self._turn.timeout.connect(self._on_pause)
        self._takes_s: float | None = None
        self._began = self._came_in_s = 0.0
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_strip)
        self._job.failed.connect(self._on_failed)

    @property
    def is_old(self) -> bool:
        """Whether the strip held is of a layout of before, and the one of now still in work."""
        return self.strip is not None and self._of != self._key

    def follow(self, project: Project, patch_id: str | None, *, at_once: bool) -> None:
        """What the strip is of from now on; None keeps the present one. At once, or in turn where strips are quick, else when no
        other follows for a while."""
        self._told = None if patch_id is None else (project, patch_id)
        if at_once:
            self._request()
        else:
            self._pause.start(PAUSE_MS)
            if self._is_quick and not self._turn.isActive():
                self._turn.start(max(1, round(1e3 * TURNS * self._came_in_s)))

    @property
    def _is_quick(self) -> bool:
        return self._takes_s is not None and self._takes_s <= QUICK_S

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
        self._turn.stop()
        self._late.stop()
        self._job.cancel()
        self.strip = self._key = self._of = None
        self.is_late = False

    def close(self) -> None:
        self._pause.stop()
        self._turn.stop()
        self._late.stop()
        self._job.close()

    @Slot()
    def _request(self, *, hidden: bool = False) -> None:
        """Ask for the strip unless the present one still holds, or nobody sees it."""
        self._pause.stop()
        self._turn.stop()
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
            self._key, self._began = key, time.perf_counter()
            self._job.request(partial(_timed, project, patch_id))
            if not self._late.isActive():
                self._late.start()

    @Slot()
    def _on_pause(self) -> None:
        """Ask for the strip of what was told last. One that is about to come is waited for: stopped at every turn, none would come while
        the hand moves."""
        if self._job.busy and time.perf_counter() - self._began < TURNS * QUICK_S:
            self._pause.start(PAUSE_MS)
        else:
            self._request()

    @Slot(int, object)
    def _on_strip(self, revision: int, found: object) -> None:
        self.strip, takes_s = found if isinstance(found, tuple) else (None, 0.0)
        self._came_in_s = time.perf_counter() - self._began
        # the first also fetches what it is worked out with, and tells nothing of the next
        self._takes_s = min(takes_s, QUICK_S) if self._takes_s is None else takes_s
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


def _timed(project: Project, patch_id: str, stop: threading.Event) -> tuple[PositionStrip | None, float]:
    """The strip, and the seconds of a processor it took: waiting for others is no work of its own."""
    start = time.thread_time()
    return _position_strip(project, patch_id, stop), time.thread_time() - start


def _position_strip(project: Project, patch_id: str, stop: threading.Event) -> PositionStrip | None:
    from core.study.placement.position import damping_against_position

    if stop.is_set():
        return None
    return damping_against_position(project, project.active, patch_id, n=POSITIONS, modes=project.view.modes_shown)
