"""The stop sign in the window: in place of the answer, with one key that goes back to what holds."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt

from core.project import edit
from core.project.candidate import Circuit


@pytest.fixture
def window(same_window):
    """One window for the file."""
    return same_window


@pytest.fixture
def stopped(window):
    project = window.session.project
    used_up = Circuit("negative C parallel R", {"negative_capacitance_f": 1e-6, "resistance_ohm": 3e5})
    group = replace(project.candidate().groups[0], circuit=used_up)
    window.session.apply("Drive it off", edit.with_group(project, project.active, group))
    return window


def test_it_stands_in_place_of_the_answer_with_no_number_for_damping(stopped):
    side = stopped.answers
    assert side.stop.isVisible() and not side.block.isVisible()
    assert side.stop.title.text() == "The circuit drifts"
    assert "No damping is shown" in side.stop.detail.text()
    assert "holds." in side.stop.cure.text()
    assert side.stop.back.isVisible() and "F8" in side.stop.back.text()
    assert all("unstable" in line for line in stopped.results.bars.sentences())


@pytest.mark.parametrize("by", ["key", "mouse"])
def test_one_key_or_click_goes_back_and_undo_returns(stopped, qtbot, by):
    side = stopped.answers
    if by == "key":
        qtbot.keyClick(stopped, Qt.Key.Key_F8)
    else:
        qtbot.mouseClick(side.stop.back, Qt.MouseButton.LeftButton)
    assert stopped.session.prediction.stop is None
    assert "drifts" not in side.stop.title.text() or not side.stop.isVisible()
    assert side.block.isVisible() and not any("unstable" in line for line in stopped.results.bars.sentences())
    assert stopped.session.undo_stack.undoText().startswith("Back to negative capacitance")
    stopped.session.undo_stack.undo()
    assert side.stop.isVisible() and side.stop.title.text() == "The circuit drifts"


def test_without_a_sign_the_key_does_nothing(window, qtbot):
    before = window.session.project
    qtbot.keyClick(window, Qt.Key.Key_F8)
    assert window.session.project is before


def test_another_use_puts_answer_and_sign_away_and_the_first_brings_them_back(stopped, qtbot):
    side = stopped.answers
    for key, there in ((Qt.Key.Key_2, False), (Qt.Key.Key_1, True)):
        qtbot.keyClick(stopped, key, Qt.KeyboardModifier.AltModifier)
        assert side.stop.isVisible() == there and not side.block.isVisible()


def test_going_back_from_another_use_keeps_what_was_done_there(stopped, qtbot):
    """The sign was that of before the use was looked at, and its layout came back with the circuit's value."""
    qtbot.keyClick(stopped, Qt.Key.Key_3, Qt.KeyboardModifier.AltModifier)
    project = stopped.session.project
    moved = replace(project.candidate().patches[0], x_start_m=0.02)
    stopped.session.apply("Move", edit.with_patch(project, project.active, moved))
    qtbot.keyClick(stopped, Qt.Key.Key_F8)
    assert stopped.session.undo_stack.undoText().startswith("Back to negative capacitance")
    assert stopped.session.project.candidate().patches == (moved,)


def test_the_circuit_page_keeps_the_sign_in_sight(stopped):
    stopped.pages.show_page("circuit")
    assert stopped.answers.stop.isVisible()


def test_an_amplifier_that_clips_is_told_above_the_answer_and_one_key_gives_it_its_supply(window, qtbot):
    window.session.apply("Look at C", edit.set_active(window.session.project, "C"))
    side = window.answers
    assert side.stop.isVisible() and side.block.isVisible()
    assert side.stop.title.text().startswith("Mode 1 clips, ")
    qtbot.keyClick(window, Qt.Key.Key_F8)
    assert not side.stop.isVisible() and window.session.prediction.clips is None
    assert window.session.undo_stack.undoText().startswith("Take a supply ±")
