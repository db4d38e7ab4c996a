"""A loop closed by hand: in its window, from the list of circuits, at the stop sign, and beside other candidates."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.circuit.page import CircuitPage
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.sidebyside.page import SideBySide
from core.project.edit import keep_candidate
from core.project.loop_edits import close_loop, open_loop
from tests.app.conftest import discard_changes
from tests.core.predict.loop.scene import closed, designed


@pytest.fixture
def opened(qtbot):
    def made(project):
        window = MainWindow(Session(project), Settings())
        window.session.setParent(window)
        window.session.want_strip(False)
        qtbot.addWidget(window, before_close_func=discard_changes)
        window.resize(1280, 800)
        with qtbot.waitExposed(window):
            window.show()
        return window

    return made


def test_the_button_closes_and_opens_the_loop_as_steps_that_can_be_undone(opened, qtbot):
    window = opened(designed())
    window.menus.actions["activeLoop"].trigger()
    loop, session = window._loop, window.session
    before = session.prediction.modes[0].zeta
    promised = loop.view.changes[0].on
    assert "Open: candidate A is predicted without the loop" in loop.inputs.state.lines[0][1]
    qtbot.mouseClick(loop.inputs.closing, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    assert session.project.candidate().loop_is_closed
    assert session.prediction.modes[0].zeta == pytest.approx(promised, rel=1e-9) and promised > 5 * before
    assert "Closed" in loop.inputs.state.lines[0][1] and loop.inputs.closing.text() == "&Open the loop"
    loop.inputs.closing.setFocus()
    QTest.keyClick(loop.inputs.closing, Qt.Key.Key_Space)
    assert session.project.candidate().groups == designed().candidate().groups
    session.undo_stack.undo()
    session.undo_stack.undo()
    assert session.project == designed()
    loop.close()


def test_the_list_of_circuits_closes_it_and_leads_to_its_window(opened, qtbot):
    window = opened(designed())
    session, section = window.session, window.inputs.circuit
    session.select_patch("P1")
    field = section.kind.field
    index = [key for key, _ in field._options].index("loop")
    field.setCurrentIndex(index)
    field.activated.emit(index)
    QApplication.processEvents()
    assert session.project.candidate().groups == close_loop(designed()).candidate().groups and session.problems == ()
    assert "driven, G2 listens" in section.loop.button.accessibleName()
    qtbot.mouseClick(section.loop.button, Qt.MouseButton.LeftButton)
    assert window._loop is not None and window._loop.isVisible()
    session.select_patch("P2")
    QApplication.processEvents()
    assert "listens, G1 is driven" in section.loop.button.accessibleName()
    window._loop.close()
    session.select_patch("P1")
    QApplication.processEvents()
    index = [key for key, _ in field._options].index(designed().candidate().groups[0].circuit.kind)
    field.setCurrentIndex(index)
    field.activated.emit(index)
    assert session.project.candidate().groups == designed().candidate().groups, "the values of before, not usual ones"


def test_the_page_of_circuits_tells_margins_driven_leads_and_what_fails(opened, qtbot):
    window = opened(closed())
    window.menus.actions["show-circuit"].trigger()
    page = window.findChild(CircuitPage)
    qtbot.waitUntil(lambda: "The loop holds. Gain margin" in page.stability_words.text(), timeout=30_000)
    assert "Nothing in this circuit feeds it" not in page.stability_words.text()
    touch = window.findChild(QWidget, "touchVerdict")
    assert "Driven leads of G1 carry up to 100 V" in touch.text() and "Local codes" in touch.text()
    qtbot.waitUntil(lambda: bool(page.failures.rows), timeout=60_000)
    names = [row.name for row in page.failures.rows]
    assert "G1: amplifier off" in names and "G2: sensing lead open" in names
    assert not window.inputs.circuit.supply.isVisible()


def test_f8_brings_back_a_gain_that_holds(opened):
    window = opened(closed(times=20.0))
    session = window.session
    assert session.prediction.stop is not None
    QTest.keyClick(window, Qt.Key.Key_F8)
    QApplication.processEvents()
    assert session.prediction.stop is None and session.project.candidate().loop.times < 8.0


def test_driven_leads_are_told_beside_the_limits(opened):
    from app.results.facts import lead_rows

    window = opened(closed())
    rows = lead_rows(window.session.prediction)
    assert rows[0].name == "Driven leads, G1" and rows[0].value == "100 V" and rows[0].level == "caution"
    assert "discharge them through a resistor" in rows[0].second


def test_side_by_side_tells_supply_power_parts_and_what_fails(opened, qtbot):
    window = opened(open_loop(keep_candidate(closed())))
    window.menus.actions["compareCandidates"].trigger()
    page = window.findChild(SideBySide)
    qtbot.waitUntil(lambda: any(row.label == "A lead open" for row in page._rows), timeout=60_000)
    rows = {row.label: [cell.text for cell in row.cells] for row in page._rows}
    names = [c.id for c in window.session.project.candidates]
    active, passive = names.index("A"), names.index(window.session.project.active)
    assert rows["Supply"][active] == "amplifier ±100 V, 60.0 mA" and rows["Supply"][passive] == "none: passive"
    assert rows["Parts"][active] == "4 parts, 4 without a price" or rows["Parts"][active].startswith("4 parts")
    assert rows["Supply or amplifier off"][passive] == "needs none"
    assert rows["Supply or amplifier off"][active].startswith("0.17 %")
    assert rows["Leads shorted"][passive].count("%") == 1 or rows["Leads shorted"][passive] == "as designed"
