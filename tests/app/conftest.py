"""The real window on the worked example, and messages that a person would see."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QMessageBox

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


@pytest.fixture
def window(qtbot):
    """The main window on the lab beam, shown."""
    look.set_look(look.light())
    opened = MainWindow(Session(beam_example("lab-beam")), Settings())
    opened.session.setParent(opened)
    qtbot.addWidget(opened, before_close_func=discard_changes)
    opened.resize(1440, 900)
    with qtbot.waitExposed(opened):
        opened.show()
    return opened


def discard_changes(window: MainWindow) -> None:
    """Let the window close without its question."""
    window.session.undo_stack.setClean()


def message(window: MainWindow, name: str = "message") -> QMessageBox:
    """The message box of that name that is open over the window."""
    boxes = [box for box in window.findChildren(QMessageBox, name) if box.isVisible()]
    assert boxes, f"no {name} is open"
    return boxes[-1]
