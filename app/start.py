"""Opens the window: application, look, project, recovery, in the order that shows it soonest."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtWidgets import QApplication

from app import look
from app.errors import ErrorReporter, start_log
from app.session import Session
from app.settings import Settings
from app.window import MainWindow
from core.project import library

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


def make_window(settings: Settings | None = None) -> MainWindow:
    """A window on the first worked example, not shown yet."""
    settings = settings or Settings()
    look.set_look(chosen_look(settings.scheme))
    session = Session(library.example(FIRST_EXAMPLE))
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
    """Run the program until its window is closed."""
    app = make_application()
    start_log()
    window = make_window()
    ErrorReporter(window).install()
    window.show()
    if file is not None:
        window.document.open_path(Path(file))
    QTimer.singleShot(0, window.document.offer_recovery)
    return app.exec()
