"""Recovery copies: about a second after each command the whole project is written beside the
settings, with the path and the hash of the file it came from. A clean close deletes the copy.

Each running program holds a lock beside its copy; a copy whose lock can be taken was left behind
by a crash. A copy that cannot be read is moved aside, never deleted.
"""

from __future__ import annotations

import hashlib
import json
import logging
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QLockFile, QObject, QTimer, Slot

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


def file_hash(path: Path | None) -> str | None:
    """SHA-256 of the file's content; None when there is no such file."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest() if path else None
    except OSError:
        return None


@dataclass(frozen=True)
class LeftBehind:
    """A recovery copy of a program that ended without closing."""

    file: Path
    project: Project
    path: Path | None
    file_changed: bool
    """The project's own file differs from what the copy was made from."""
    age_s: float


class Recovery(QObject):
    """Keeps the recovery copy of one session up to date."""

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._file = folder() / f"{uuid.uuid4().hex}{SUFFIX}"
        self._lock = QLockFile(str(self._file.with_suffix(".lock")))
        self._lock.setStaleLockTime(0)
        self._lock.tryLock(0)
        self._hash = file_hash(session.path)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.write)
        session.undo_stack.indexChanged.connect(self._on_command)
        session.undo_stack.cleanChanged.connect(self._on_command)
        session.path_changed.connect(self._on_path)

    @property
    def file(self) -> Path:
        return self._file

    @Slot()
    def write(self) -> None:
        """Write the copy now, or delete it when there is nothing unsaved."""
        self._pause.stop()
        if self._session.undo_stack.isClean():
            self._file.unlink(missing_ok=True)
            return
        header = {
            "path": str(self._session.path) if self._session.path else None,
            "hash": self._hash,
            "time": time.time(),
        }
        try:
            content = json.dumps(header).encode() + b"\n" + store.dumps(self._session.project)
            files.write_atomically(content, self._file)
        except (OSError, ValueError):
            log.exception("the recovery copy could not be written")

    def close(self) -> None:
        """A clean end: the copy is not needed any more."""
        self._pause.stop()
        self._file.unlink(missing_ok=True)
        self._lock.unlock()

    @Slot()
    def _on_command(self) -> None:
        self._pause.start()

    @Slot()
    def _on_path(self) -> None:
        self._hash = file_hash(self._session.path)
        self._pause.start()


def left_behind() -> tuple[list[LeftBehind], list[Path]]:
    """Copies that a crash left (newest first), and those that were unreadable and moved aside."""
    found, aside = [], []
    for file in folder().glob(f"*{SUFFIX}"):
        if not _is_abandoned(file):
            continue
        try:
            found.append(_read(file))
        except Exception:  # whatever is wrong with it: kept, moved aside, said
            log.exception("unreadable recovery copy %s", file)
            aside.append(_move_aside(file))
    return sorted(found, key=lambda copy: copy.age_s), aside


def _is_abandoned(file: Path) -> bool:
    lock = QLockFile(str(file.with_suffix(".lock")))
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return False
    lock.unlock()
    return True


def _read(file: Path) -> LeftBehind:
    head, _, body = file.read_bytes().partition(b"\n")
    header = json.loads(head)
    path = Path(header["path"]) if header["path"] else None
    changed = path is not None and file_hash(path) != header["hash"]
    age = max(time.time() - float(header["time"]), 0.0)
    return LeftBehind(file, store.loads(body), path, changed, age)


def _move_aside(file: Path) -> Path:
    place = folder() / "unreadable"
    place.mkdir(exist_ok=True)
    return file.rename(place / file.name)

