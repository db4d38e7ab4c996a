"""The bonding record in the window: typed, pasted, read and written, one undo step each."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialogButtonBox, QPushButton

from app.handover.papers import Papers
from core.handover.drawing.items import Text
from core.handover.drawing.strokes import strokes
from core.measured.bonded_csv import bonded_csv
from core.project.bonded import BondedMode, BondedPart

GOOD = BondedPart("SN 1", "A", "G1", 75e-9, 58.5e-9, 2e9, "right", (BondedMode(1, 19.8, 19.95),), "lot 4")
CRACKED = BondedPart("SN 2", "A", "G1", 75e-9, 40e-9)


@pytest.fixture
def papers(qtbot, session):
    made = Papers(session)
    qtbot.addWidget(made)
    with qtbot.waitExposed(made):
        made.show()
    made.open_at("bonding")
    qtbot.waitUntil(lambda: bool(made.drawings()), timeout=20000)
    yield made
    made.close_jobs()


def words(papers) -> str:
    return " ".join(p.text for d in papers.drawings() for i in d.items for p in strokes(i) if isinstance(p, Text))


def press(qtbot, widget, name: str) -> None:
    qtbot.mouseClick(widget.findChild(QPushButton, name), Qt.MouseButton.LeftButton)


def entering(qtbot, papers):
    press(qtbot, papers, "enterReadings")
    dialog = papers.bonding.dialog
    qtbot.waitUntil(dialog.isVisible)
    return dialog


def accept(qtbot, dialog) -> None:
    qtbot.mouseClick(dialog.buttons.button(QDialogButtonBox.StandardButton.Ok), Qt.MouseButton.LeftButton)


def test_the_buttons_stand_beside_the_bonding_record_only(papers):
    assert papers.bonding.isVisible()
    papers.open_at("process")
    assert not papers.bonding.isVisible()


def test_a_part_is_typed_with_the_keyboard_and_taken_back_in_one_step(qtbot, papers):
    session = papers.session
    dialog = entering(qtbot, papers)
    view = dialog.table.view
    view.setFocus()
    qtbot.keyClick(view, Qt.Key.Key_Insert)
    qtbot.keyClick(view, Qt.Key.Key_F2)
    for text in ("SN 7", "75,2", "41", "2000"):  # Tab goes on into the next cell
        editor = view.focusWidget()
        qtbot.keyClicks(editor, text)
        qtbot.keyClick(editor, Qt.Key.Key_Tab)
    assert session.project.bonded == ()  # nothing is kept before OK
    assert "SN 7: not a good part: C after 41.00 nF (" in dialog.named.text()
    accept(qtbot, dialog)
    (part,) = session.project.bonded
    assert (part.serial, part.group, part.before_f, part.after_f, part.insulation_ohm) == ("SN 7", "G1", 75.2e-9, 41e-9, 2e9)
    assert "1 part read: 1 not a good part." in papers.bonding.stand.text()
    qtbot.waitUntil(lambda: "SN 7, not a good part: C after 41.00 nF" in words(papers), timeout=20000)
    assert session.undo_stack.undoText() == "Edit bonding record"
    session.undo_stack.undo()
    assert session.project.bonded == ()


def test_a_block_is_pasted_from_a_spreadsheet(qtbot, papers):
    dialog = entering(qtbot, papers)
    view = dialog.table.view
    view.setFocus()
    qtbot.keyClick(view, Qt.Key.Key_Insert)
    rows = ["A1\t75,0\t58,5\t2000\tright\t19,80\t19,95\t\t118,9\t119,3", "A2\t74,0\t57,1\t1500\tno voltage\t19,71\t19,86"]
    QGuiApplication.clipboard().setText("\n".join(rows))
    qtbot.keyClick(view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    column = [c.key for c in dialog.table.model.columns].index("k21")
    assert dialog.table.model.cells[0][column].text == "1.52"  # (19.95^2 - 19.80^2)/19.80^2
    accept(qtbot, dialog)
    first, second = papers.session.project.bonded
    assert first.mode(2) == BondedMode(2, 118.9, 119.3)
    assert (second.serial, second.press, second.mode(2).empty) == ("A2", "none", True)


def test_a_value_that_cannot_be_keeps_the_window_open(qtbot, papers):
    dialog = entering(qtbot, papers)
    dialog.table.view.setFocus()
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_Insert)
    QGuiApplication.clipboard().setText("A1\tmany")
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    accept(qtbot, dialog)
    assert dialog.isVisible() and "many" in dialog.trouble.problem()
    qtbot.mouseClick(dialog.buttons.button(QDialogButtonBox.StandardButton.Cancel), Qt.MouseButton.LeftButton)
    assert papers.session.project.bonded == () and papers.session.undo_stack.count() == 0


def test_a_missing_serial_number_is_said_in_its_cell(qtbot, papers):
    dialog = entering(qtbot, papers)
    dialog.table.view.setFocus()
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_Insert)
    QGuiApplication.clipboard().setText("\t75")
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert "has no serial number" in dialog.table.model.error_at(0, 0)


@pytest.mark.parametrize("comma", [False, True])
def test_a_table_is_written_and_read_back(qtbot, papers, tmp_path, comma):
    session = papers.session
    session.apply("Two parts", replace(session.project, bonded=(GOOD, CRACKED)))
    assert papers.bonding.write(tmp_path / "record.csv", decimal_comma=comma)
    text = (tmp_path / "record.csv").read_text(encoding="utf-8-sig")
    assert ("58,5" if comma else "58.5") in text and "not a good part: C after 40.00 nF" in text
    session.apply("None", replace(session.project, bonded=()))
    assert papers.bonding.read(tmp_path / "record.csv")
    assert session.project.bonded == (GOOD, CRACKED)
    assert papers.said.text() == "2 parts read from record.csv."
    session.undo_stack.undo()
    assert session.project.bonded == ()


def test_a_table_with_a_fault_changes_nothing_and_says_where(papers, tmp_path):
    file = tmp_path / "bad.csv"
    file.write_text("serial number;C before [nF]\n1;75\n2;lots\n", encoding="utf-8")
    assert not papers.bonding.read(file)
    assert 'Line 3, column "C before [nF]" of 2 is "lots"' in papers.errors.problem()
    assert papers.session.project.bonded == () and papers.session.undo_stack.count() == 0


def test_reading_joins_what_is_there_and_leaves_other_candidates_alone(papers, tmp_path):
    session = papers.session
    elsewhere = replace(GOOD, candidate="B")
    session.apply("Parts", replace(session.project, bonded=(elsewhere, GOOD)))
    file = tmp_path / "more.csv"
    file.write_text(bonded_csv((CRACKED, replace(GOOD, after_f=58e-9, before_f=None, note="")), (1,)), encoding="utf-8")
    assert papers.bonding.read(file)
    assert session.project.bonded == (elsewhere, replace(GOOD, after_f=58e-9), CRACKED)


def test_typing_nothing_leaves_no_undo_step(qtbot, papers):
    session = papers.session
    elsewhere = replace(GOOD, candidate="B")
    session.replace(replace(session.project, bonded=(GOOD, elsewhere)), None)
    accept(qtbot, entering(qtbot, papers))
    assert session.undo_stack.count() == 0 and session.project.bonded == (GOOD, elsewhere)


def test_a_part_of_a_group_that_is_gone_keeps_it(qtbot, papers):
    session = papers.session
    old = replace(GOOD, group="G7")
    session.replace(replace(session.project, bonded=(old,)), None)
    dialog = entering(qtbot, papers)
    dialog.table.view.setFocus()
    dialog.table.view.setCurrentIndex(dialog.table.model.index(0, 0))
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_Insert)
    QGuiApplication.clipboard().setText("SN 9\tG1\t75")
    qtbot.keyClick(dialog.table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    accept(qtbot, dialog)
    assert session.project.bonded == (old, BondedPart("SN 9", "A", "G1", 75e-9))
