"""Opens the window: application, look, project, recovery, in the order that shows it soonest."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtWidgets import QApplication, QWidget

from app.shell import jobs
from app.shell.disk import file_hash
from app.shell.errors import ErrorReporter, start_log, tell
from app.shell.session import Session
from app.shell.settings import Settings, home_trouble
from app.shell.window import MainWindow
from app.theme import look
from core.project import library, store
from core.project.store import ProjectFileError

FIRST_EXAMPLE = "lab-beam"


def make_application() -> QApplication:
    """The one QApplication, in the Fusion style with our palette."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(sys.argv[:1])
    app.setApplicationName("Quietspan")
    QGuiApplication.setDesktopFileName("quietspan")
    app.setStyle("Fusion")
    app.setWindowIcon(QIcon(str(icon_path())))
    return app


def icon_path() -> Path:
    from importlib import resources

    return Path(str(resources.files("resources") / "icons" / "quietspan.svg"))


def make_window(session: Session | None = None, settings: Settings | None = None) -> MainWindow:
    """A window on the session, or on the first worked example; not shown yet."""
    settings = settings or Settings()
    look.set_look(chosen_look(settings.scheme))
    session = session or Session(library.example(FIRST_EXAMPLE))
    window = MainWindow(session, settings)
    session.setParent(window)
    return window


def chosen_look(scheme: str) -> look.Look:
    if scheme == "light":
        return look.light()
    if scheme == "dark":
        return look.dark()
    return look.system_look()


def open_window(file: str | None) -> int:
    """Run the program until its window is closed; a file that cannot be opened is told over the example."""
    app = make_application()
    start_log()
    jobs.hold()
    session, trouble = _session_of(file)
    window = make_window(session)
    ErrorReporter(window).install()
    FirstPicture(window.canvas.surface)
    window.show()
    if session is not None:
        window.document.remember()
    if trouble:
        tell(window, "This file cannot be opened", trouble)
    if home_trouble():
        tell(window, "Settings cannot be kept", home_trouble())
    QTimer.singleShot(0, window.document.offer_recovery)
    QTimer.singleShot(0, calm_collector)
    return app.exec()


class FirstPicture(QObject):
    """Lets background work begin once `widget` is painted, or soon where it never is (a window that starts as an icon)."""

    LATEST_MS = 1000

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        self._soon = QTimer(self, singleShot=True, interval=self.LATEST_MS)
        self._soon.timeout.connect(self._begin)
        self._soon.start()
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint:
            watched.removeEventFilter(self)
            self._soon.start(0)  # the picture reaches the screen before the next turn of the event loop
        return False

    def _begin(self) -> None:
        jobs.release()
        self.deleteLater()


def calm_collector() -> None:
    """Keep Python's collector of cycles from interrupting a drag.

    What the start has built stays until the end, so it need not be looked through again (tens of
    milliseconds each time), and the little that a frame leaves behind may gather for a while.
    """
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    gc.enable()


def _session_of(file: str | None) -> tuple[Session | None, str]:
    """A session on the file, or None and what is wrong with it."""
    if file is None:
        return None, ""
    there = file_hash(Path(file))
    try:
        project = store.load(file)
    except (ProjectFileError, OSError) as error:
        return None, str(error)
    return Session(project, Path(file).resolve(), file_hash=there), ""
