"""Background work: one request at a time, the newest one wins.

Worker code is plain Python that takes a `threading.Event` and looks at it in its loops; the engine looks at it between
two evaluations (`core.stopping`), so that nobody waits for more than one of them.
Only this file knows threads. They are Python's own and not those of a QThreadPool: the destructor
of a pool waits for its work while it holds the interpreter, which the work needs to come to an
end, so a window deleted while it works would freeze the program for ever.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal, SignalInstance, Slot

from core.stopping import Stopped, until

log = logging.getLogger(__name__)

Work = Callable[[threading.Event], object]
Told = SignalInstance


_held: list[NewestJob] | None = None
"""What waits for `release` to begin; None where nothing is held."""


def hold() -> None:
    """Let work that is asked for wait until `release`: as the program starts, its first picture comes before any of it."""
    global _held
    _held = []


def release() -> None:
    """Begin what was held, and from now on everything at once."""
    global _held
    waiting, _held = _held or [], None
    for job in waiting:
        job._begin()


def _run(revision: int, work: Work, stop: threading.Event, done: Told, broke: Told) -> None:
    """Call the work and hand the outcome to bound signals of the owner."""
    try:
        with until(stop.is_set):
            result = work(stop)
    except Stopped:
        _tell(done, revision, None)
    except Exception as error:  # told in words by the owner's `failed`; nothing is lost
        log.exception("background work failed")
        _tell(broke, revision, error)
    else:
        _tell(done, revision, result)


def _tell(signal: Told, revision: int, outcome: object) -> None:
    try:
        signal.emit(revision, outcome)
    except RuntimeError:
        # The owner has been deleted meanwhile: nobody waits for this any more.
        log.debug("background work outlived its owner")


class NewestJob(QObject):
    """One kind of background work. While a request runs, only the newest other one waits.

    `finished(revision, result)` and `failed(revision, error)` arrive on the thread of this
    object, and only for the newest request: outdated results are dropped.
    """

    finished = Signal(int, object)
    failed = Signal(int, object)
    _done = Signal(int, object)
    _broke = Signal(int, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thread: threading.Thread | None = None
        self._revision = 0
        self._running: threading.Event | None = None
        self._told: tuple[int, Work, threading.Event, Told, Told] | None = None
        self._waiting: tuple[int, Work] | None = None
        self._done.connect(self._on_done)
        self._broke.connect(self._on_broke)

    @property
    def busy(self) -> bool:
        return self._running is not None

    def request(self, work: Work) -> int:
        """The revision of this request; older ones are told to stop."""
        self._revision += 1
        if self._running is None:
            self._start(self._revision, work)
        else:
            self._running.set()
            self._waiting = (self._revision, work)
        return self._revision

    def cancel(self) -> None:
        """Forget every request; what runs is told to stop and its result is dropped."""
        self._revision += 1
        self._waiting = None
        if self._running is not None:
            self._running.set()

    def close(self) -> None:
        """Cancel and wait for the thread to end."""
        self.cancel()
        self._told = None  # what has not begun never does
        if self._thread is not None:
            self._thread.join()

    def _start(self, revision: int, work: Work) -> None:
        self._running = threading.Event()
        self._told = (revision, work, self._running, self._done, self._broke)
        if _held is None:
            self._begin()
        else:
            _held.append(self)

    def _begin(self) -> None:
        if self._told is not None:
            told, self._told = self._told, None
            self._thread = threading.Thread(target=_run, args=told, name="quietspan work", daemon=True)
            self._thread.start()

    def _start_next(self) -> None:
        self._running = None
        if self._waiting is not None:
            (revision, work), self._waiting = self._waiting, None
            self._start(revision, work)

    @Slot(int, object)
    def _on_done(self, revision: int, result: object) -> None:
        self._start_next()
        if revision == self._revision:
            self.finished.emit(revision, result)

    @Slot(int, object)
    def _on_broke(self, revision: int, error: object) -> None:
        self._start_next()
        if revision == self._revision:
            self.failed.emit(revision, error)
