"""The window of an active loop."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication

from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from core.circuit.loop_digital import as_c, as_csv
from core.predict.loop_design import loop_view
from tests.app.conftest import discard_changes
from tests.app.results.loop_scene import two_groups
from tests.levels import beam_example


@pytest.fixture
def loop(qtbot):
    window = MainWindow(Session(two_groups()), Settings())
    window.session.setParent(window)
    qtbot.addWidget(window, before_close_func=discard_changes)
    window.resize(1280, 800)
    with qtbot.waitExposed(window):
        window.show()
    window.menus.actions["activeLoop"].trigger()
    opened = window._loop
    assert opened is not None
    qtbot.mouseClick(opened.tune, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    yield opened
    opened.close()


def test_the_closed_form_damps_mode_1_and_the_table_says_it(loop):
    project = loop.session.project
    assert len(project.candidate().loop.filters) == 1
    row = loop.table.rows[0]
    first = loop.view.changes[0]
    assert first.on > 0.02 > 10 * 0.0015
    assert row[2].endswith(f"{100 * first.on:.2f}") and row[4] == "controlled"
    assert loop.stop.lines == [("plain", "The loop holds.")]


def test_the_gain_cannot_be_dragged_past_where_the_loop_grows(loop, qtbot):
    limit = loop.view.limit.times
    slider = loop.gain
    end = QPoint(slider.width() - 12, 14)
    qtbot.mousePress(slider, Qt.MouseButton.LeftButton, pos=QPoint(30, 14))
    qtbot.mouseMove(slider, end)
    qtbot.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=end)
    QApplication.processEvents()
    assert loop.session.project.candidate().loop.times == pytest.approx(0.999 * limit, rel=1e-3)
    assert not loop.view.growing
    loop.session.undo_stack.undo()
    assert loop.session.project.candidate().loop.times == 1.0


def test_a_setting_that_grows_is_a_stop_with_the_nearest_one_that_holds(loop):
    limit = loop.view.limit.times
    loop._set_gain(1.5 * limit)
    lines = [text for level, text in loop.stop.lines if level == "danger"]
    assert any("Drifts to one side" in text or "grows" in text for text in lines)
    assert any("highest gain that holds" in text for text in lines)
    assert loop.table.rows == ()


def test_a_growing_mode_is_named_with_its_frequency(loop, qtbot):
    loop.delay = next(row for row in loop._rows if row.path.endswith("loop.delay_s"))
    field = loop.delay.field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "25")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert loop.session.project.candidate().loop.delay_s == pytest.approx(0.025)
    assert any("Mode 1 grows" in text for _, text in loop.stop.lines)


def test_coefficients_are_written(loop, tmp_path):
    loop.write(tmp_path / "loop.csv", as_csv)
    loop.write(tmp_path / "loop.c", as_c)
    assert (tmp_path / "loop.csv").read_text().count("\n1,") == 1
    text = (tmp_path / "loop.c").read_text()
    assert "loop_step" in text and "Local codes and licensed practice" in text


def test_clipping_is_told_with_the_motion_it_starts_at(loop, qtbot):
    qtbot.mouseClick(loop.clip, Qt.MouseButton.LeftButton)
    assert any("is left" in text for _, text in loop.clipping.lines)


def test_one_group_is_told_what_is_missing(loop):
    loop.session.undo_stack.undo()

    assert loop_view(loop.view.solved) is not None
    loop.session.replace(beam_example("lab-beam"), None)
    QApplication.processEvents()
    assert loop.view is None
    assert any("needs two groups" in text for _, text in loop.stop.lines)


def test_a_typed_law_that_grows_with_frequency_is_a_problem_with_its_cure(loop):
    from core.project.loop_edits import with_loop
    from core.project.problems import find_problems

    project = loop.session.project
    bad = with_loop(project, law="typed", numerator=(1.0, 0.0, 0.0), denominator=(1.0,))
    assert [p.path for p in find_problems(bad)] == ["candidates[A].loop.numerator"]
