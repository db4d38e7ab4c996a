"""A session on the lab beam, and the input column on it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.panels.input_panel import InputPanel
from app.shell.session import Session
from tests.levels import beam_example


@pytest.fixture
def session(qtbot):
    made = Session(beam_example("lab-beam"))
    made.want_strip(False)
    yield made
    made.close()


@pytest.fixture
def panel(qtbot, session):
    made = InputPanel(session)
    qtbot.addWidget(made)
    made.resize(330, 800)
    with qtbot.waitExposed(made):
        made.show()
    return made


@pytest.fixture
def type_into():
    """Types a text over a field's and presses Enter, as a person does."""

    def typed(field, text):
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, text)
        QTest.keyClick(field, Qt.Key.Key_Return)

    return typed


@pytest.fixture
def pick():
    """Chooses the option of a key, as a person does."""

    def picked(field, key):
        index = [option for option, _ in field._options].index(key)
        field.setCurrentIndex(index)
        field.activated.emit(index)

    return picked


@pytest.fixture
def row_of(panel):
    """The visible row that shows a path."""

    def found(path):
        row = panel._row_of(path)
        assert row is not None, path
        return row

    return found
