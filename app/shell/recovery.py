"""Recovery copies: about a second after each command the whole project is written beside the
settings, with the path and the hash of the file it came from. A clean close deletes the copy.

Each running program holds a lock beside its copy; a copy whose lock can be taken was left behind
by a crash. A copy that cannot be read is moved aside, never deleted. Copies are written in the
background, so that a slow disk stops no hand.
"""

from __future__ import annotations

import json
import logging
import threading
import time
import uuid
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from PySide6.QtCore import QLockFile, QObject, QTimer, Signal, Slot

from app.shell.disk import file_hash
from app.shell.jobs import NewestJob
from app.shell.session import Session
from app.shell.settings import home
from core.project import files, store
from core.project.model import Project

log = logging.getLogger(__name__)

PAUSE_MS = 1000
SUFFIX = ".recovery"


def folder() -> Path:
    place = home() / "recovery"
    place.mkdir(parents=True, exist_ok=True)
    return place


@dataclass(frozen=True)
class LeftBehind:
    """A recovery copy of a program that ended without closing."""

    file: Path
    project: Project
    path: Path | None
    hash: str | None
    """Of the project's own file when the copy was made; None where there was none."""
    file_changed: bool
    """The project's own file differs from what the copy was made from."""
    age_s: float


class Recovery(QObject):
    """Keeps the recovery copy of one session up to date."""

    failed = Signal(str)
    """The copy could not be written, and why in words; told once until it can be again."""
    kept_changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._file = folder() / f"{uuid.uuid4().hex}{SUFFIX}"
        self._lock = QLockFile(str(self._file.with_suffix(".lock")))
        self._lock.setStaleLockTime(0)
        self._lock.tryLock(0)
        self._taken_over: list[Path] = []
        self._trouble = False
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.write)
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_written)
        self._job.failed.connect(self._on_failed)
        session.undo_stack.indexChanged.connect(self._on_command)
        session.undo_stack.cleanChanged.connect(self._on_command)
        session.path_changed.connect(self._on_command)

    @property
    def file(self) -> Path:
        return self._file

    @property
    def works(self) -> bool:
        """False while the copy cannot be written."""
        return not self._trouble

    @property
    def busy(self) -> bool:
        """A copy is being written."""
        return self._job.busy

    @Slot()
    def write(self) -> None:
        """Write the copy now, or delete it when there is nothing unsaved."""
        self._pause.stop()
        session = self._session
        header: dict[str, object] = {
            "path": str(session.path) if session.path else None,
            "hash": session.file_hash,
            "time": time.time(),
        }
        project = None if session.undo_stack.isClean() else session.project
        self._job.request(partial(_write, project, header, self._file))

    def take_over(self, copy: Path) -> None:
        """Write the copy of work that was recovered from `copy`, which goes once that is done."""
        self._taken_over.append(copy)
        self.write()

    def close(self) -> None:
        """A clean end: the copy is not needed any more."""
        self._pause.stop()
        self._job.close()
        for file in (self._file, *self._taken_over):
            file.unlink(missing_ok=True)
        self._lock.unlock()

    @Slot()
    def _on_command(self) -> None:
        self._pause.start()

    @Slot(int, object)
    def _on_written(self, _revision: int, _done: object) -> None:
        for copy in self._taken_over:
            copy.unlink(missing_ok=True)
        self._taken_over.clear()
        self._set_trouble(False)

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: object) -> None:
        if not self._trouble:
            self.failed.emit(str(error))
        self._set_trouble(True)

    def _set_trouble(self, trouble: bool) -> None:
        if trouble != self._trouble:
            self._trouble = trouble
            self.kept_changed.emit()


def _write(project: Project | None, header: dict[str, object], file: Path, _stop: threading.Event) -> None:
    if project is None:
        file.unlink(missing_ok=True)
    else:
        files.write_atomically(json.dumps(header).encode() + b"\n" + store.dumps(project), file)


def left_behind() -> tuple[list[LeftBehind], list[Path]]:
    """Copies that a crash left (newest first), and those that were unreadable and moved aside.

    A copy of what its file holds anyway (the program ended between saving and tidying up) is deleted.
    """
    _tidy()
    found, aside = [], []
    for file in folder().glob(f"*{SUFFIX}"):
        if not _is_abandoned(file):
            continue
        try:
            copy = _read(file)
        except Exception:  # whatever is wrong with it: kept, moved aside, said
            log.exception("unreadable recovery copy %s", file)
            aside.append(_move_aside(file))
            continue
        if copy is None:
            file.unlink(missing_ok=True)
        else:
            found.append(copy)
    return sorted(found, key=lambda copy: copy.age_s), aside


def _tidy() -> None:
    """Take away what killed programs left beside no copy: locks nobody holds, half-written files."""
    for lock in folder().glob("*.lock"):
        if not lock.with_suffix(SUFFIX).exists():
            _is_abandoned(lock)  # taking a lock and letting it go deletes its file
    files.remove_leftovers(folder())


def _is_abandoned(file: Path) -> bool:
    lock = QLockFile(str(file.with_suffix(".lock")))
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return False
    lock.unlock()
    return True


def _read(file: Path) -> LeftBehind | None:
    """The copy; None where the project's own file holds the same."""
    head, _, body = file.read_bytes().partition(b"\n")
    header = json.loads(head)
    path = Path(header["path"]) if header["path"] else None
    project = store.loads(body)
    if path is not None and _holds(path, project):
        return None
    changed = path is not None and file_hash(path) != header["hash"]
    age = max(time.time() - float(header["time"]), 0.0)
    return LeftBehind(file, project, path, header["hash"], changed, age)


def _holds(path: Path, project: Project) -> bool:
    try:
        return store.load(path) == project
    except (OSError, ValueError):
        return False


def _move_aside(file: Path) -> Path:
    place = folder() / "unreadable"
    place.mkdir(exist_ok=True)
    return file.rename(place / file.name)
