"""No window is larger than the screen, and its buttons are in sight, on a small one as well."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QRect, QSize
from PySide6.QtWidgets import QApplication, QDialog, QPushButton, QScrollArea, QWidget

from app.fields import within_screen
from app.panels.input_panel import EDITORS
from tests.app.conftest import discard_changes
from tests.levels import beam_example

pytestmark = pytest.mark.slow  # walks everything; CI does

SCREENS = {"1280x800": QSize(1280, 800), "1600x1000 at 150 %": QSize(1067, 667)}


@pytest.fixture(params=list(SCREENS))
def room(request, monkeypatch):
    found = SCREENS[request.param] - within_screen.FRAME
    monkeypatch.setattr(within_screen, "room_for", lambda _dialog: found)
    return found


@pytest.fixture
def window(window):
    window.document._replace(beam_example("touring-ski"))
    yield window
    discard_changes(window)


def check(dialog: QDialog, room: QSize, *must: str) -> None:
    buttons_in_sight(dialog, room, *must)
    dialog.reject()


def buttons_in_sight(dialog: QWidget, room: QSize, *must: str) -> None:
    """The window is within the room, and every button that does not scroll away is wholly in it."""
    QApplication.processEvents()
    assert dialog.width() <= room.width() and dialog.height() <= room.height()
    buttons = [
        b for b in dialog.findChildren(QPushButton)
        if b.isVisible() and not any(a.isAncestorOf(b) for a in dialog.findChildren(QScrollArea))
    ]
    texts = " ".join(b.text().replace("&", "") for b in buttons)
    for text in must:
        assert text in texts
    for button in buttons:
        place = QRect(button.mapTo(dialog, button.rect().topLeft()), button.size())
        assert dialog.rect().contains(place), button.text()
        assert button.width() >= button.sizeHint().width() - 2, button.text()


@pytest.mark.parametrize("editor", list(EDITORS))
def test_editors(window, room, editor):
    check(window.inputs.open_editor(editor), room, "OK", "Cancel")


def test_papers(window, room):
    window.resize(room)
    window.pages.hand_over()
    QApplication.processEvents()
    buttons_in_sight(window, room, "Export PDF", "Export DXF", "Export all", "Copy picture")


def test_import(window, room):
    from app.outline.import_dialog import ImportDialog

    file = Path(__file__).parents[3] / "resources" / "outlines" / "bracket.dxf"
    dialog = ImportDialog(window.session, file, window)
    dialog.open()
    check(dialog, room, "Take outline", "Cancel")
