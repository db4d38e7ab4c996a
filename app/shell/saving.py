"""Saving in the background: the window goes on while a slow disk writes, and "saved" is said when it has.

Before a file is written over that somebody else changed meanwhile, a person is asked; one that is
write-protected is not, and another name is offered.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, cast

from PySide6.QtCore import QEventLoop, QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QMessageBox, QWidget

from app.fields.plain import keep_plain
from app.shell import errors
from app.shell.disk import Obstacle, file_hash, hash_of, obstacle
from app.shell.jobs import NewestJob
from app.shell.session import Session
from core.project import files, store
from core.project.model import Project

Then = Callable[[], object]

OBSTACLES: dict[Obstacle, tuple[str, str]] = {
    "changed": (
        "{name} has been changed by somebody else since it was opened or saved here.",
        "Overwriting it loses their changes. Under another name both are kept.",
    ),
    "protected": (
        "{name} is write-protected.",
        "Somebody may rely on it staying as it is. Take the protection off where that is not so, or save under "
        "another name.",
    ),
}


@dataclass(frozen=True)
class _Save:
    """One save: what is written where, and what follows."""

    project: Project
    path: Path
    then: Then
    asked: bool = False
    """A person has said that the file may be overwritten."""


class Saver(QObject):
    """Writes the session's project, one save after the other."""

    began = Signal()
    saved = Signal(object)
    ended = Signal()
    """Nothing is being written any more; it was written, refused, or a person is asked."""
    elsewhere_wanted = Signal(object)
    """A person wants another name; what is to follow the save goes with it."""

    def __init__(self, session: Session, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._window = session, window
        self._waiting: deque[_Save] = deque()
        self._now: _Save | None = None
        self._after: list[Then] = []
        self._job = NewestJob(self)
        self._job.finished.connect(self._on_written)
        self._job.failed.connect(self._on_failed)

    @property
    def busy(self) -> bool:
        return self._now is not None

    def save(self, path: Path, then: Then) -> None:
        """Write the project there and then do `then`; where that is not possible it is told in words."""
        self._session.commit_preview("Edit")
        self._put(_Save(self._session.project, path, then))

    def when_idle(self, then: Then) -> None:
        """Do `then` when nothing is being written, which may be now."""
        if self.busy:
            self._after.append(then)
        else:
            then()

    def finish(self) -> None:
        """Wait, with the window alive, until nothing is being written."""
        loop = QEventLoop()
        self.ended.connect(loop.quit)
        if self.busy:
            loop.exec()
        self.ended.disconnect(loop.quit)

    # ---- one save ------------------------------------------------------------------------

    def _put(self, save: _Save) -> None:
        self._waiting.append(save)
        if self._now is None:
            self._start_next()

    def _start_next(self) -> None:
        self._now = save = self._waiting.popleft()
        own = _resolved(save.path) == self._session.path
        self._job.request(partial(_write, save, own, self._session.file_hash))
        self.began.emit()

    def _end(self, then: Then) -> None:
        self._now = None
        then()
        if self._now is None and self._waiting:
            self._start_next()
        if self._now is None:
            after, self._after = self._after, []
            self.ended.emit()
            for follow in after:
                follow()

    @Slot(int, object)
    def _on_written(self, _revision: int, outcome: object) -> None:
        save = self._now
        assert save is not None
        kind, told = cast(tuple[str, Any], outcome)
        if kind == "obstacle":
            self._end(partial(self._ask, save, told))
            return
        path = _resolved(save.path)
        self._session.mark_saved(path, told, save.project)
        self.saved.emit(path)
        self._end(save.then)

    @Slot(int, object)
    def _on_failed(self, _revision: int, error: object) -> None:
        self._waiting.clear()
        self._after.clear()  # a close that waited for the save must not lose what was not saved
        self._end(partial(errors.tell, self._window, "The project was not saved", str(error)))

    # ---- the question --------------------------------------------------------------------

    def _ask(self, save: _Save, why: Obstacle) -> None:
        self._after.clear()
        text, detail = OBSTACLES[why]
        box = QMessageBox(self._window)
        box.setObjectName("overwriteQuestion")
        box.setIcon(QMessageBox.Icon.Warning)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle("The file was not overwritten")
        keep_plain(box, text.format(name=save.path.name), detail)
        other = box.addButton("Save under another name …", QMessageBox.ButtonRole.AcceptRole)
        other.setObjectName("saveElsewhere")
        if why == "changed":
            over = box.addButton("Overwrite", QMessageBox.ButtonRole.DestructiveRole)
            over.setObjectName("overwrite")
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.setDefaultButton(other)
        box.buttonClicked.connect(partial(self._on_answer, save))
        box.open()

    def _on_answer(self, save: _Save, button: QWidget) -> None:
        if button.objectName() == "saveElsewhere":
            self.elsewhere_wanted.emit(save.then)
        elif button.objectName() == "overwrite":
            self._put(_Save(self._session.project, save.path, save.then, asked=True))


def _resolved(path: Path) -> Path:
    """The file a name leads to; of links in a circle the name itself, which cannot be written."""
    try:
        return path.resolve()
    except (OSError, RuntimeError):
        return path


def _write(save: _Save, own: bool, known: str | None, _stop: threading.Event) -> tuple[str, object]:
    """("written", hash of the content) or ("obstacle", what a person must be asked about).

    `own` says that it is the session's file, of which the hash `known` is what it should be; the name of
    another one comes from a dialog that asks before it gives an existing file.
    """
    content = store.dumps(save.project)
    if not save.asked:
        why = obstacle(save.path, content, known if own else file_hash(save.path))
        if why is not None:
            return "obstacle", why
    files.write_atomically(content, save.path)
    return "written", hash_of(content)
