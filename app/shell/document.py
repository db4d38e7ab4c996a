"""The project as a file: new, open, save, the guard for unsaved changes, recovery after a crash.

Questions do not stop the event loop: each has what to do next, and a window that is closed or a
project that is replaced waits until the question is answered.
"""

from __future__ import annotations

import logging
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from app.fields.pending import commit_typing
from app.fields.plain import keep_plain
from app.shell import errors, recovery
from app.shell.disk import file_hash
from app.shell.saving import Saver, Then
from app.shell.session import Session
from app.shell.settings import Settings
from core.project import library, store
from core.project.model import Project
from core.project.store import ProjectFileError

log = logging.getLogger(__name__)

SUFFIX = ".quietspan"
FILTER = f"Quietspan projects (*{SUFFIX});;All files (*)"


class Document(QObject):
    """File operations of one window; `said` is a short word for the status bar."""

    said = Signal(str)
    recent_changed = Signal()

    def __init__(self, session: Session, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._settings, self._window = session, settings, window
        self.recovery = recovery.Recovery(session, self)
        self.recovery.failed.connect(self._on_no_recovery)
        self.saver = Saver(session, window)
        self.saver.saved.connect(self._on_saved)
        self.saver.elsewhere_wanted.connect(self._ask_save)
        self._waiting: list[recovery.LeftBehind] = []

    @property
    def edited(self) -> bool:
        return not self._session.undo_stack.isClean()

    @property
    def name(self) -> str:
        """What the title shows: the file's name, or the project's while it has no file."""
        path = self._session.path
        return path.name if path else self._session.project.name

    # ---- open ----------------------------------------------------------------------------

    @Slot()
    def new(self) -> None:
        self.guard(partial(self._replace, library.blank_project()))

    def open_example(self, key: str) -> None:
        self.guard(partial(self._replace, library.example(key)))

    def open_path(self, path: Path) -> None:
        """Open this file, or say in words why not; what was open stays open then, and nobody is asked to save it."""
        if self.saver.busy:
            self.saver.when_idle(partial(self.open_path, path))
        elif not self.edited:
            self._open_now(path)
        elif self._load(path) is not None:
            self.guard(partial(self._open_now, path))  # read again: saving may have changed it

    @Slot()
    def open(self) -> None:
        """Ask for a file and open it."""
        dialog = QFileDialog(self._window, "Open a project", str(self._settings.folder), FILTER)
        dialog.setObjectName("openDialog")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(self._on_open_selected)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.open()

    @Slot(str)
    def _on_open_selected(self, name: str) -> None:
        self.open_path(Path(name))

    def _open_now(self, path: Path) -> None:
        there = file_hash(path)  # before it is read: a change in between is then asked about at the next save
        project = self._load(path)
        if project is None:
            return
        path = path.resolve()
        self._session.replace(project, path, file_hash=there)
        self._remember(path)
        self.said.emit(f"Opened {path.name}")

    def _load(self, path: Path) -> Project | None:
        """The project in a file; None, and why in words, for anything else."""
        try:
            return store.load(path)
        except (ProjectFileError, OSError) as error:
            self._settings.remove_recent(path)
            self.recent_changed.emit()
            errors.tell(self._window, "This file cannot be opened", str(error))
            return None

    def _replace(self, project: Project) -> None:
        self._session.replace(project, None)

    def remember(self) -> None:
        """Note the session's file among the recent ones."""
        if self._session.path is not None:
            self._remember(self._session.path)

    def _remember(self, path: Path) -> None:
        self._settings.add_recent(path)
        self._settings.folder = path.parent
        self.recent_changed.emit()

    # ---- save ----------------------------------------------------------------------------

    @Slot()
    def save(self) -> None:
        commit_typing()
        self._save_then(_nothing)

    @Slot()
    def save_as(self) -> None:
        commit_typing()
        self._ask_save(_nothing)

    def _save_then(self, then: Then) -> None:
        path = self._session.path
        if path is None:
            self._ask_save(then)
        else:
            self.saver.save(path, then)

    def _ask_save(self, then: Then) -> None:
        name = f"{_file_name(self._session.project.name)}{SUFFIX}"
        start = self._session.path or self._settings.folder / name
        dialog = QFileDialog(self._window, "Save the project", str(start.parent), FILTER)
        dialog.setObjectName("saveDialog")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(SUFFIX.removeprefix("."))
        dialog.selectFile(start.name)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(partial(self._on_save_selected, then))
        dialog.open()

    def _on_save_selected(self, then: Then, name: str) -> None:
        self.saver.save(Path(name), then)

    @Slot(object)
    def _on_saved(self, path: Path) -> None:
        self._remember(path)
        self.said.emit(f"Saved {path.name}")

    # ---- the guard -----------------------------------------------------------------------

    def guard(self, then: Then) -> None:
        """Do `then` at once if nothing is unsaved, otherwise after Save or Discard; a save under way ends first."""
        if self.saver.busy:
            self.saver.when_idle(partial(self.guard, then))
            return
        commit_typing()
        if not self.edited:
            then()
            return
        buttons = QMessageBox.StandardButton
        box = QMessageBox(
            QMessageBox.Icon.Question,
            "Unsaved changes",
            "",
            buttons.Save | buttons.Discard | buttons.Cancel,
            self._window,
        )
        box.setObjectName("unsavedGuard")
        keep_plain(box, f"{self.name} has changes that are not saved.")
        box.setDefaultButton(buttons.Save)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.finished.connect(partial(self._on_guard, then))
        box.open()

    def _on_guard(self, then: Then, answer: int) -> None:
        if answer == QMessageBox.StandardButton.Save:
            self._save_then(then)
        elif answer == QMessageBox.StandardButton.Discard:
            then()

    # ---- recovery ------------------------------------------------------------------------

    @Slot()
    def offer_recovery(self) -> None:
        """Offer what a crash left behind, newest first; say which copies could not be read."""
        self._waiting, aside = recovery.left_behind()
        if aside:
            errors.tell(
                self._window,
                "A recovery copy could not be read",
                f"It was kept and moved to {aside[0].parent}.",
            )
        self._offer_next()

    def _offer_next(self) -> None:
        if not self._waiting:
            return
        copy = self._waiting.pop(0)
        box = QMessageBox(self._window)
        box.setObjectName("recoveryOffer")
        box.setIcon(QMessageBox.Icon.Question)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle("Recover unsaved work")
        name = copy.path.name if copy.path else copy.project.name
        told = f"Quietspan ended without closing {name}. Its changes of {_ago(copy.age_s)} were kept."
        keep_plain(box, told, _about(copy))
        recover = box.addButton("Recover", QMessageBox.ButtonRole.AcceptRole)
        recover.setObjectName("recover")
        discard = box.addButton("Discard the copy", QMessageBox.ButtonRole.DestructiveRole)
        discard.setObjectName("discardCopy")
        box.addButton("Decide later", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(recover)
        box.buttonClicked.connect(partial(self._on_recovery, copy))
        box.open()

    def _on_recovery(self, copy: recovery.LeftBehind, button: QWidget) -> None:
        if button.objectName() == "recover":
            self.guard(partial(self._recover, copy))
        elif button.objectName() == "discardCopy":
            copy.file.unlink(missing_ok=True)
            self._offer_next()

    def _recover(self, copy: recovery.LeftBehind) -> None:
        self._session.replace(copy.project, copy.path, unsaved=True, file_hash=copy.hash)
        self.recovery.take_over(copy.file)
        self.said.emit("Recovered. Save to keep it.")

    @Slot(str)
    def _on_no_recovery(self, why: str) -> None:
        errors.tell(
            self._window,
            "Your work is not kept for recovery",
            f"The copy that a crash would be recovered from could not be written. {why}",
            detail=f"It is kept in {recovery.folder()}. Make room there, and save often until then.",
        )


def _nothing() -> None:
    return None


def _file_name(text: str) -> str:
    """A project's name without the characters a file system refuses."""
    return "".join("-" if c in '\\/:*?"<>|' else c for c in text).strip() or "project"


def _ago(seconds: float) -> str:
    if seconds < 90:
        return "a minute ago"
    if seconds < 5400:
        return f"{seconds / 60:.0f} minutes ago"
    if seconds < 129600:
        return f"{seconds / 3600:.0f} hours ago"
    return f"{seconds / 86400:.0f} days ago"


def _about(copy: recovery.LeftBehind) -> str:
    if copy.path is None:
        return "It was never saved to a file."
    if copy.file_changed:
        return f"Its file {copy.path} has been changed or removed since. Recovering does not overwrite it."
    return f"Its file is {copy.path}. Recovering does not overwrite it until you save."
