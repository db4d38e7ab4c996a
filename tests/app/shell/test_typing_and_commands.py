"""A command by its keys first takes in what is being typed, for the candidate it was typed for."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.fields import NoteField, QuantityField

CTRL = Qt.KeyboardModifier.ControlModifier


@dataclass(frozen=True)
class Hand:
    """Types into a field found by its kind and label."""

    window: object

    def types(self, kind, label, text):
        field = self.window.inputs.findChild(kind, f"field {label}")
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, text)
        return field


@pytest.fixture
def hand(window):
    window.activateWindow()
    return Hand(window)


def test_a_number_typed_stays_with_its_candidate(window, hand):
    """It went to the next candidate, whose value was the same before."""
    window.bar.keep()
    first, copy = window.session.project.candidates[0].id, window.session.project.active
    others = window.session.project.candidate(first).patches
    field = hand.types(QuantityField, "Starts at", "33")
    QTest.keyClick(field, Qt.Key.Key_PageDown, CTRL)
    window.canvas.setFocus()
    assert window.session.project.active == first
    assert window.session.project.candidate(copy).patches[0].x_start_m == pytest.approx(0.033)
    assert window.session.project.candidate(first).patches == others


def test_a_note_typed_is_not_lost(window, hand):
    before = window.session.project.active
    note = hand.types(NoteField, "Candidate note", "glue batch 7")
    QTest.keyClick(note, Qt.Key.Key_PageDown, CTRL)
    assert window.session.project.active != before
    assert window.session.project.candidate(before).note == "glue batch 7"
    assert note.toPlainText() == window.session.project.candidate().note


def test_a_cell_typed_in_is_kept(window):
    """A save or another command left out what was being typed in a table."""
    forces = window.inputs.service.forces
    forces.add_row()
    view = forces.view
    view.setFocus()
    view.setCurrentIndex(forces.model.index(0, 1))
    view.edit(view.currentIndex())
    QTest.keyClicks(QApplication.focusWidget(), "7")
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_PageDown, CTRL)
    assert window.session.project.service.static_forces[0].force_n == pytest.approx(7.0)
