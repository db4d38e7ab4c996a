"""Candidates in the bar: keep, switch, rename, duplicate, delete, each undone in one step."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLineEdit

from app.shell.candidate_bar import CandidateButton

LEFT = Qt.MouseButton.LeftButton


def letters(window):
    return [candidate.id for candidate in window.session.project.candidates]


def button(window, letter):
    return window.bar.findChild(CandidateButton, f"candidate{letter}")


def test_keep_this_placement_goes_on_with_a_copy(window, qtbot):
    before = letters(window)
    kept = window.session.project.candidate()
    qtbot.mouseClick(window.bar.keep_button, LEFT)
    assert len(letters(window)) == len(before) + 1
    assert window.session.project.active == letters(window)[-1]
    assert window.session.project.candidate().patches == kept.patches
    assert button(window, letters(window)[-1]).isChecked()
    window.session.undo_stack.undo()
    assert letters(window) == before
    assert window.session.project.candidate() == kept


def test_switching_shows_the_other_numbers_and_undo_goes_back(window, qtbot):
    first = window.results.bars.sentences()
    qtbot.mouseClick(button(window, "B"), LEFT)
    assert window.session.prediction.candidate == "B"
    assert window.results.bars.sentences() != first
    window.session.undo_stack.undo()
    assert window.results.bars.sentences() == first
    assert button(window, "A").isChecked()
    assert not button(window, "B").isChecked()


def test_next_and_previous_go_round(window):
    for expected in [*letters(window)[1:], letters(window)[0]]:
        window.menus.actions["nextCandidate"].trigger()
        assert window.session.project.active == expected
    window.menus.actions["previousCandidate"].trigger()
    assert window.session.project.active == letters(window)[-1]


def test_renaming_in_place(window, qtbot):
    window.menus.actions["renameCandidate"].trigger()
    field = window.bar.findChild(QLineEdit, "candidateName")
    field.setText("hard by the clamp")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.project.candidate("A").name == "hard by the clamp"
    assert button(window, "A").text() == "hard by the clamp"
    window.session.undo_stack.undo()
    assert button(window, "A").text() == window.session.project.candidate("A").name != "hard by the clamp"


@pytest.mark.parametrize("way", ["escape", "empty"])
def test_a_name_that_is_dropped_or_empty_changes_nothing(window, qtbot, way):
    name = window.session.project.candidate("A").name
    window.menus.actions["renameCandidate"].trigger()
    field = window.bar.findChild(QLineEdit, "candidateName")
    field.setText("" if way == "empty" else "something else")
    qtbot.keyClick(field, Qt.Key.Key_Return if way == "empty" else Qt.Key.Key_Escape)
    assert window.session.project.candidate("A").name == name
    assert window.session.undo_stack.count() == 0


def test_duplicate_and_delete_with_undo(window):
    before = window.session.project.candidates
    window.menus.actions["duplicateCandidate"].trigger()
    assert len(letters(window)) == len(before) + 1
    window.menus.actions["deleteCandidate"].trigger()
    assert "A" not in letters(window)
    assert button(window, window.session.project.active).isChecked()
    window.session.undo_stack.undo()
    window.session.undo_stack.undo()
    assert window.session.project.candidates == before


def test_keys_on_a_focused_candidate_concern_that_one(window, qtbot):
    target = button(window, "B")
    qtbot.keyClick(target, Qt.Key.Key_Delete)
    assert "B" not in letters(window)
    assert window.session.project.active == "A"


def test_the_last_candidate_cannot_be_deleted(window):
    while len(letters(window)) > 1:
        window.bar.delete(letters(window)[-1])
    window.bar.delete(letters(window)[0])
    assert len(letters(window)) == 1
    assert not window.menus.actions["deleteCandidate"].isEnabled()


def test_a_double_click_renames(window, qtbot):
    qtbot.mouseDClick(button(window, "B"), LEFT)
    field = window.bar.findChild(QLineEdit, "candidateName")
    qtbot.keyClicks(field, "two at the root")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.project.candidate("B").name == "two at the root"


def test_a_candidate_undone_away_while_its_name_is_typed_takes_the_typing_with_it(window, qtbot):
    window.bar.keep()
    new = window.session.project.active
    window.bar.start_rename(new)
    field = window.bar.findChild(QLineEdit, "candidateName")
    qtbot.keyClicks(field, "gone")
    window.session.undo_stack.undo()
    assert new not in letters(window)
    window.canvas.setFocus()
    qtbot.wait(10)
    assert new not in letters(window)
    assert all(candidate.name != "gone" for candidate in window.session.project.candidates)


def test_keeping_and_duplicating_say_where_one_goes_on(window):
    tips = {name: window.menus.actions[name].statusTip() for name in ("keepCandidate", "duplicateCandidate")}
    assert "work on under the next letter" in tips["keepCandidate"]
    assert "work on in this candidate" in tips["duplicateCandidate"]
    assert "you stay in A" in window.bar.keep_button.toolTip()


def test_the_tab_key_goes_along_the_candidates_then_to_keeping_one_then_to_the_pages(window, qtbot):
    """From the first candidate it went to the link and the pages, and came to the others after them."""

    def order():
        window.bar._buttons[window.session.project.candidates[0].id].setFocus()
        found = [window.focusWidget()]
        while len(found) < len(wanted()):
            qtbot.keyClick(found[-1], Qt.Key.Key_Tab)
            found.append(window.focusWidget())
        return found

    def wanted():
        letters = [candidate.id for candidate in window.session.project.candidates]
        shown = window.bar.pages.button("drawing")  # of buttons that exclude each other the Tab key comes to the one that is on
        return [*(window.bar._buttons[letter] for letter in letters), window.bar.keep_button, shown]

    assert order() == wanted()
    window.bar.duplicate("A")
    QApplication.processEvents()
    assert order() == wanted()
    window.bar.delete("A")
    QApplication.processEvents()
    assert order() == wanted()
    window.session.undo_stack.setClean()
    window.document.new()
    window.bar.keep()
    QApplication.processEvents()
    assert order() == wanted()
