"""Ctrl+Z undoes the project from inside a field, unless the field holds typing of its own."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.fields import NoteField, QuantityField, TextField

CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def field(window, qtbot):
    window.activateWindow()

    def found(label, kind=QuantityField):
        made = window.inputs.findChild(kind, f"field {label}")
        made.setFocus()
        qtbot.waitUntil(made.hasFocus)
        return made

    return found


def press(*keys, modifier=CTRL):
    for key in keys:
        QTest.keyClick(QApplication.focusWidget(), key, modifier)


def type_over(field, text):
    field.selectAll()
    QTest.keyClicks(field, text)


def test_after_a_value_and_tab(window, field):
    first = window.session.project
    width = field("Width of ceramic")
    type_over(width, "12")
    QTest.keyClick(width, Qt.Key.Key_Tab)
    changed = window.session.project
    assert changed != first
    assert QApplication.focusWidget() is not width
    press(Qt.Key.Key_Z)
    assert window.session.project == first
    press(Qt.Key.Key_Z, modifier=CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert window.session.project == changed


def test_after_a_value_and_enter(window, field):
    first = window.session.project
    width = field("Width of ceramic")
    type_over(width, "12")
    QTest.keyClick(width, Qt.Key.Key_Return)
    press(Qt.Key.Key_Z)
    assert window.session.project == first
    assert width.value() == first.candidate().patches[0].width_m


def test_typing_of_its_own_is_undone_first(window, field):
    window.session.apply("Keep", window.session.project)
    first = window.session.project
    width = field("Width of ceramic")
    shown = width.text()
    type_over(width, "1")
    press(Qt.Key.Key_Z)
    assert width.text() == shown
    assert window.session.project is first


def test_a_run_of_steps_is_one_step_back(window, field):
    first = window.session.project
    width = field("Width of ceramic")
    press(Qt.Key.Key_Up, Qt.Key.Key_Up, modifier=Qt.KeyboardModifier.NoModifier)
    press(Qt.Key.Key_Z)
    assert window.session.project == first
    assert width.value() == first.candidate().patches[0].width_m


@pytest.mark.parametrize("label, kind", [("Name", TextField), ("Project notes", NoteField)])
def test_from_a_text(window, field, label, kind):
    first = window.session.project
    width = field("Width of ceramic")
    type_over(width, "12")
    text = field(label, kind)
    assert window.session.project != first
    press(Qt.Key.Key_Z)
    assert window.session.project == first
    QTest.keyClicks(text, "x")
    press(Qt.Key.Key_Z)
    assert window.session.project == first
    assert text.hasFocus()
