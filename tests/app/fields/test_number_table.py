"""Typing and pasting into a number table."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QVBoxLayout, QWidget

from app.fields import Column, NumberTable
from app.fields.block import read_block, write_block
from app.fields.wheel import CalmList
from core.project.ranges import Range

COLUMNS = (
    Column("x", "From root", range=Range("mm", 0.0)),
    Column("width", "Width", range=Range("mm", 0.0, above=True)),
    Column("name", "Name", "text", default="core"),
)


@pytest.fixture
def table(qtbot):
    made = NumberTable("Stations", COLUMNS)
    qtbot.addWidget(made)
    made.set_rows([{"x": 0.0, "width": 0.03, "name": "a"}, {"x": 0.3, "width": 0.03, "name": "b"}])
    return made


def paste(table, text, row, column):
    QGuiApplication.clipboard().setText(text)
    table.view.setCurrentIndex(table.model.index(row, column))
    QTest.keyClick(table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


def test_block_with_decimal_commas_adds_rows(qtbot, table):
    with qtbot.waitSignal(table.edited):
        paste(table, "0\t84,5\r\n150\t88\r\n400,25\t102\r\n", 0, 0)
    assert [row["x"] for row in table.rows()] == pytest.approx([0.0, 0.15, 0.40025])
    assert [row["width"] for row in table.rows()] == pytest.approx([0.0845, 0.088, 0.102])
    assert table.rows()[2]["name"] == "core"


def test_a_pasted_heading_is_left_out(table):
    paste(table, "x [mm]\twidth [mm]\n0\t40\n100\t50\n", 0, 0)
    assert [row["width"] for row in table.rows()] == pytest.approx([0.04, 0.05])


def test_wrong_cells_stay_and_are_told_by_row(table):
    paste(table, "0\t84\n150\tabc\n300\t-5", 0, 0)
    assert table.model.cells[1][1].text == "abc"
    errors = table.errors()
    assert len(errors) == 2
    assert errors[0].startswith("Row 2:") and "abc" in errors[0]
    assert errors[1].startswith("Row 3:") and "−5 mm" in errors[1]
    assert "Row 2" in table._errors.problem()


def test_pasted_columns_of_three_decimals(table):
    paste(table, "0,000\t84,500\n150,000\t88,000\n", 0, 0)
    assert table.errors() == []
    assert [row["width"] for row in table.rows()] == pytest.approx([0.0845, 0.088])


def test_copy_gives_back_the_block(table):
    table.view.selectAll()
    QTest.keyClick(table.view, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == "0\t30\ta\n300\t30\tb"


def test_one_value_fills_a_selection(table):
    table.view.selectColumn(1)
    QGuiApplication.clipboard().setText("1,5 in")
    QTest.keyClick(table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert [row["width"] for row in table.rows()] == pytest.approx([0.0381, 0.0381])


def test_rows_are_added_under_the_current_and_removed(qtbot, table):
    table.select_row(0)
    qtbot.mouseClick(table.add_button, Qt.MouseButton.LeftButton)
    assert [row["x"] for row in table.rows()] == pytest.approx([0.0, 0.0, 0.3])
    qtbot.mouseClick(table.remove_button, Qt.MouseButton.LeftButton)
    assert [row["x"] for row in table.rows()] == pytest.approx([0.0, 0.3])


def test_the_least_number_of_rows_stays(qtbot):
    table = NumberTable("Layers", COLUMNS, least=1)
    qtbot.addWidget(table)
    table.set_rows([{"x": 0.0, "width": 0.03, "name": "a"}])
    table.select_row(0)
    table.remove_selected()
    assert len(table.rows()) == 1


def test_an_unchanged_cell_keeps_its_exact_value(table):
    exact = 0.0300000004
    table.set_rows([{"x": 0.0, "width": exact, "name": "a"}])
    index = table.model.index(0, 1)
    table.model.setData(index, table.model.data(index, Qt.ItemDataRole.EditRole))
    assert table.rows()[0]["width"] == exact


def test_told_errors_mark_their_cell(table):
    table.tell_errors({(1, "width"): "Station 2 is narrower than its pieces."})
    assert table.model.error_at(1, 1) == "Station 2 is narrower than its pieces."
    assert table.errors() == []
    table.tell_errors({})
    assert table.model.error_at(1, 1) == ""


def test_blocks_read_and_write():
    assert read_block("1,5\t2\n3\t\n\n") == [["1,5", "2"], ["3", ""]]
    assert read_block("1,5;2;3\n4;5;6") == [["1,5", "2", "3"], ["4", "5", "6"]]
    assert read_block("0 84,0\n150 88,0") == [["0", "84,0"], ["150", "88,0"]]
    assert read_block("steel edge") == [["steel edge"]]
    assert read_block("") == []
    assert write_block([["1", "2"], ["3", "4"]]) == "1\t2\n3\t4"


def test_the_table_is_filled_and_left_by_keyboard_alone(qtbot):
    window = QWidget()
    qtbot.addWidget(window)
    layout = QVBoxLayout(window)
    before, table, after = QLineEdit(window), NumberTable("Stations", COLUMNS, parent=window), QLineEdit(window)
    for widget in (before, table, after):
        layout.addWidget(widget)
    table.set_rows([{"x": 0.0, "width": 0.03, "name": "a"}])
    with qtbot.waitExposed(window):
        window.show()
    before.setFocus()
    QTest.keyClick(before, Qt.Key.Key_Tab)
    assert table.view.hasFocus()
    table.view.setCurrentIndex(table.model.index(0, 0))
    QTest.keyClick(table.view, Qt.Key.Key_Insert)
    QTest.keyClick(table.view, Qt.Key.Key_Up)
    for text in ("10", "150,5"):
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
        QApplication.processEvents()  # the editor commits in the next turn
    assert [row["x"] for row in table.rows()] == pytest.approx([0.01, 0.1505])
    QTest.keyClick(table.view, Qt.Key.Key_Tab)
    QTest.keyClick(table.view, Qt.Key.Key_Tab)
    assert table.view.hasFocus() and table.view.currentIndex().column() == 2
    QTest.keyClick(table.view, Qt.Key.Key_Tab)
    assert table.add_button.hasFocus(), "Tab past the last cell goes on"
    table.view.setFocus()
    QTest.keyClick(table.view, Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert len(table.rows()) == 1
    table.view.setCurrentIndex(table.model.index(0, 0))
    QTest.keyClick(table.view, Qt.Key.Key_Backtab)
    assert before.hasFocus()


def test_more_rows_than_a_part_may_have_are_refused_whole_and_in_words(table):
    before = table.rows()
    paste(table, "\n".join(f"{i}\t40" for i in range(1500)), 0, 0)
    assert table.rows() == before
    assert "1500 rows" in table._errors.problem() and "at most 400" in table._errors.problem()
    paste(table, "0\t40\n100\t50\n", 0, 0)
    assert table.errors() == []


@pytest.mark.parametrize("next_step", ["type", "add", "remove"])
def test_a_refused_paste_is_forgotten_at_the_next_change(table, next_step):
    """It stayed an error of the table, whose values then were never taken, nor its window's OK."""
    paste(table, "\n".join(f"{x}\t84" for x in range(1500)), 0, 0)
    assert len(table.errors()) == 1
    if next_step == "type":
        table.model.setData(table.model.index(0, 1), "31")
    elif next_step == "add":
        table.add_row()
    else:
        table.model.remove_rows([1])
    assert table.errors() == [] and not table._errors.problem()


def test_a_list_in_a_cell_opens_at_once_and_takes_what_is_chosen(qtbot):
    """It took a second click to open, and what was chosen was not taken before another cell was clicked."""
    choices = (("a", "Aluminium"), ("s", "Steel"), ("w", "Wood"))
    table = NumberTable("Pieces", (Column("material", "Material", "choice", default="a", choices=choices), COLUMNS[0]))
    qtbot.addWidget(table)
    table.set_rows([{"material": "a", "x": 0.0}])
    with qtbot.waitExposed(table):
        table.show()
    index = table.model.index(0, 0)
    table.view.setCurrentIndex(index)
    table.view.edit(index)
    qtbot.waitUntil(lambda: QApplication.activePopupWidget() is not None)
    box = table.view.viewport().findChild(CalmList)
    with qtbot.waitSignal(table.edited):
        QTest.keyClicks(box.view(), "w")
        QTest.keyClick(box.view(), Qt.Key.Key_Return)
    assert table.rows()[0]["material"] == "w"
    qtbot.waitUntil(lambda: QApplication.activePopupWidget() is None)


def test_a_row_that_is_added_is_typed_into(qtbot, table):
    """The keyboard stayed on the button: what was typed went nowhere."""
    with qtbot.waitExposed(table):
        table.show()
    table.activateWindow()
    qtbot.mouseClick(table.add_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: table.window().focusWidget() is table.view)
    row = table.current_row()
    for key in "200":
        QTest.keyClicks(table.window().focusWidget(), key)
    QTest.keyClick(table.window().focusWidget(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: table.rows()[row]["x"] == pytest.approx(0.2))


@pytest.mark.parametrize("width", [330, 360, 420, 500, 700])
def test_a_heading_is_read_in_a_narrow_table(qtbot, width):
    """Of "Width of each" the first and the last letter were missing."""
    columns = (
        Column("material", "Material", "choice", default="a", choices=(("a", "Polymer base, UHMW-PE"),)),
        Column("width", "Width of each", "list", optional=True, range=Range("mm", 0.0)),
        Column("count", "How many", default=1.0),
        Column("from", "From", default=0.0, range=Range("mm", 0.0)),
        Column("to", "To", optional=True, range=Range("mm", 0.0)),
    )
    table = NumberTable("Pieces", columns)
    qtbot.addWidget(table)
    table.set_rows([{"material": "a", "width": None, "count": 1.0, "from": 0.0, "to": None}])
    table.hide_hint()
    table.resize(width, 200)
    with qtbot.waitExposed(table):
        table.show()
    header = table.view.horizontalHeader()
    for place, column in enumerate(columns):
        longest = max(column.header.split("\n"), key=len)
        assert header.fontMetrics().horizontalAdvance(longest) + 6 <= header.sectionSize(place), longest
    assert header.sectionSize(0) >= 64
