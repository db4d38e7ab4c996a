"""The real window on the worked example, and messages that a person would see."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QDialog, QLineEdit, QMessageBox

from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from tests.levels import beam_example


@pytest.fixture
def session(qapp):
    """The lab beam in a session without a window."""
    made = Session(beam_example("lab-beam"))
    yield made
    made.close()


SIZE = (1440, 900)


def opened_window() -> MainWindow:
    """The main window on the lab beam, not shown yet."""
    look.set_look(look.light())
    opened = MainWindow(Session(beam_example("lab-beam")), Settings())
    opened.session.setParent(opened)
    opened.resize(*SIZE)
    return opened


@pytest.fixture
def window(qtbot):
    """The main window on the lab beam, shown."""
    opened = opened_window()
    qtbot.addWidget(opened, before_close_func=discard_changes)
    with qtbot.waitExposed(opened):
        opened.show()
    return opened


@pytest.fixture(scope="module")
def window_of_the_file(qapp, homes):
    """A window for all tests of a file that ask for `same_window`, with what it shows at first."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QUIETSPAN_HOME", str(next(homes)))
        opened = opened_window()
    opened.show()
    QApplication.processEvents()
    yield opened, shown_by(opened)
    discard_changes(opened)
    opened.close()
    opened.deleteLater()
    QApplication.sendPostedEvents(opened, QEvent.Type.DeferredDelete)


@pytest.fixture
def same_window(window_of_the_file):
    """The window of the file begun anew: it shows what it showed when it was opened, whatever was done in it before."""
    window, first = window_of_the_file
    for dialog in window.findChildren(QDialog):
        dialog.close()
    window.pages.show_drawing()
    window.resize(*SIZE)
    window.session.replace(beam_example("lab-beam"), None)
    QApplication.processEvents()
    assert shown_by(window) == first
    return window


def shown_by(window: MainWindow) -> dict[str, object]:
    """The project, and what is to be read and typed in a window."""
    fields = window.inputs.findChildren(QLineEdit)
    return {
        "project": window.session.project,
        "previewing": window.session.previewing,
        "steps": window.session.undo_stack.count(),
        "problems": window.session.problems,
        "size": (window.width(), window.height()),
        "drawing": window.canvas.isVisible(),
        "dialogs": [dialog.objectName() for dialog in window.findChildren(QDialog) if dialog.isVisible()],
        "answer": window.answers.block.sentences(),
        "bars": window.results.bars.sentences(),
        "alarms": window.results.alarm_lines,
        "fields": sorted((field.objectName(), field.text()) for field in fields if field.isVisible()),
    }


def discard_changes(window: MainWindow) -> None:
    """Let the window close without its question."""
    window.session.undo_stack.setClean()


def message(window: MainWindow, name: str = "message") -> QMessageBox:
    """The message box of that name that is open over the window."""
    boxes = [box for box in window.findChildren(QMessageBox, name) if box.isVisible()]
    assert boxes, f"no {name} is open"
    return boxes[-1]
