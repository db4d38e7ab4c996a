"""The window of an active loop."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from app.results.loop_window import LoopWindow
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from core.predict.loop.design import loop_view
from core.predict.loop.design import tuned as tuned_to
from core.predict.loop.stop import longest_delay
from core.predict.predict import predict
from core.project.loop_edits import with_loop
from core.units import words
from tests.app.conftest import discard_changes
from tests.app.results.loop_scene import two_groups
from tests.levels import beam_example


@pytest.fixture(scope="module")
def tuned():
    """Two groups and the loop that the button tunes for them: what it takes is held by the first test."""
    project = two_groups()
    return with_loop(project, tuned_to(loop_view(predict(project).groups[0].sensing.solved), "closed form"))


@pytest.fixture
def loop(qtbot, tuned):
    """The window of the loop by itself: what stands in the main window follows the session as everywhere."""
    session = Session(tuned)
    session.want_strip(False)
    opened = LoopWindow(session)
    session.setParent(opened)
    qtbot.addWidget(opened)
    with qtbot.waitExposed(opened):
        opened.show()
    yield opened
    opened.close()
    session.close()


@pytest.fixture
def from_menu(qtbot):
    """The same, opened from the main window and tuned with its button."""
    window = MainWindow(Session(two_groups()), Settings())
    window.session.setParent(window)
    qtbot.addWidget(window, before_close_func=discard_changes)
    window.resize(1280, 800)
    with qtbot.waitExposed(window):
        window.show()
    window.menus.actions["activeLoop"].trigger()
    opened = window._loop
    assert opened is not None
    qtbot.mouseClick(opened.inputs.tune, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    yield opened
    opened.close()


def test_the_closed_form_damps_mode_1_and_the_table_says_it(from_menu, tuned):
    loop = from_menu
    project = loop.session.project
    assert project == tuned
    assert len(project.candidate().loop.filters) == 1
    row = loop.table.rows[0]
    first = loop.view.changes[0]
    assert first.on > 0.02 > 10 * 0.0015
    assert row[2].endswith(f"{100 * first.on:.2f}") and row[4] == "controlled"
    assert loop.stop.lines == [("plain", "The loop holds.")] and not loop.sign.isVisible()


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


def type_into(loop, qtbot, name: str, text: str):
    row = next(row for row in loop.inputs.rows if row.path.endswith(f"loop.{name}"))
    row.field.setFocus()
    row.field.selectAll()
    qtbot.keyClicks(row.field, text)
    qtbot.keyClick(row.field, Qt.Key.Key_Return)
    QApplication.processEvents()
    return row.field


@pytest.mark.parametrize("name", ["amplifier_gain", "filters.gain"])
def test_a_gain_that_is_typed_stops_where_the_loop_would_grow_and_says_what_would(loop, qtbot, name):
    design = loop.session.project.candidate().loop
    limit = loop.view.limit
    before = design.amplifier_gain if name == "amplifier_gain" else design.filters[0].gain
    field = type_into(loop, qtbot, name, "5000")
    design = loop.session.project.candidate().loop
    kept = design.amplifier_gain if name == "amplifier_gain" else design.filters[0].gain
    assert kept == pytest.approx(before * limit.times, rel=2e-3) and kept < before * limit.times
    assert loop.view.is_stable and loop.sign.isVisible()
    assert loop.sign.title.text() == ("It would drift to one side" if limit.mode is None else f"Mode {limit.mode} would grow, {words.frequency(limit.frequency_hz)}")
    assert words.significant(kept, 4) in loop.sign.detail.text() and "5000" in loop.sign.detail.text().replace("\u2009", "")
    assert float(field.text()) == pytest.approx(kept, rel=1e-3)
    # typed again at the limit: the field shows what holds, and the sign stays
    field = type_into(loop, qtbot, name, "6000")
    assert float(field.text()) == pytest.approx(kept, rel=5e-3) and loop.sign.isVisible()
    loop.session.undo_stack.undo()
    QApplication.processEvents()
    assert not loop.sign.isVisible()


def test_a_velocity_gain_stops_at_either_side_of_nothing(loop, qtbot):
    session = loop.session
    session.apply("Velocity", with_loop(session.project, law="velocity", velocity_gain_s=1e-7))
    QApplication.processEvents()
    assert loop.view.is_stable
    type_into(loop, qtbot, "velocity_gain_s", "-1")
    held = session.project.candidate().loop.velocity_gain_s
    assert -1.0 < held < 1e-7 and loop.view.is_stable and "would grow" in loop.sign.title.text()


def test_a_setting_that_grows_is_a_stop_with_the_nearest_one_that_holds_one_key_away(loop, qtbot):
    limit = loop.view.limit.times
    loop._set_gain(1.5 * limit)
    QApplication.processEvents()
    assert loop.sign.isVisible() and not loop.stop.isVisible()
    assert loop.sign.title.text() == "Drifts to one side" or "grows" in loop.sign.title.text()
    assert "highest gain that holds" in loop.sign.cure.text()
    assert loop.table.rows == ()
    qtbot.keyClick(loop, Qt.Key.Key_F8)
    QApplication.processEvents()
    assert loop.session.project.candidate().loop.times == pytest.approx(limit, rel=1e-2)
    assert loop.view.is_stable and not loop.sign.isVisible() and loop.stop.isVisible()


def test_a_delay_that_grows_is_told_with_the_longest_that_holds(loop, qtbot):
    type_into(loop, qtbot, "delay_s", "25")
    assert loop.session.project.candidate().loop.delay_s == pytest.approx(0.025)
    assert "Mode 1 grows" in loop.sign.title.text()
    told = next(t for t in loop.sign.cure.text().split(". ") if "longest delay" in t)
    longest = longest_delay(loop.view)
    assert words.engineering(longest, "s") in told
    assert loop.view.at(replace(loop.view.design, delay_s=0.99 * longest)).is_stable
    assert not loop.view.at(replace(loop.view.design, delay_s=1.02 * longest)).is_stable
    assert "delay" in loop.sign.back.text()  # nearer than the gain that holds
    qtbot.keyClick(loop, Qt.Key.Key_F8)
    QApplication.processEvents()
    assert loop.session.project.candidate().loop.delay_s == longest and loop.view.is_stable
    assert loop.session.project.candidate().loop.times == 1.0


def test_nonsense_in_a_gain_is_refused_in_words_and_changes_nothing(loop, qtbot):
    before = loop.session.project
    field = type_into(loop, qtbot, "amplifier_gain", "lots")
    assert loop.session.project == before and field.toolTip()


def test_coefficients_are_written(loop, tmp_path, qtbot):
    for button, ending in ((loop.inputs.csv, "csv"), (loop.inputs.c_code, "c")):
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        dialog = loop.findChild(QFileDialog, "saveTextDialog")
        dialog.fileSelected.emit(str(tmp_path / f"loop.{ending}"))
        dialog.close()
        QApplication.sendPostedEvents(dialog, QEvent.Type.DeferredDelete)
    assert (tmp_path / "loop.csv").read_text().count("\n1,") == 1
    text = (tmp_path / "loop.c").read_text()
    assert "loop_step" in text and "Local codes and licensed practice" in text


def test_clipping_is_told_with_the_motion_it_starts_at(loop, qtbot):
    qtbot.mouseClick(loop.clip, Qt.MouseButton.LeftButton)
    assert loop._clips.busy and loop._clips.line.cancel.isVisible()
    qtbot.waitUntil(lambda: any("is left" in text for _, text in loop.clipping.lines), timeout=20000)
    assert not loop._clips.busy


def test_following_the_motion_can_be_stopped(loop, qtbot):
    qtbot.mouseClick(loop.clip, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(loop._clips.line.cancel, Qt.MouseButton.LeftButton)
    assert not loop._clips.busy
    qtbot.waitUntil(lambda: not loop._clips.runs, timeout=5000)
    assert loop.clipping.lines == []


def test_the_optimum_is_found_beside_the_window_and_taken_as_one_step(loop, qtbot):
    before = loop.session.project
    qtbot.mouseClick(loop.inputs.optimise, Qt.MouseButton.LeftButton)
    assert loop.inputs.tuning.busy and loop.session.project is before
    qtbot.waitUntil(lambda: loop.session.project is not before, timeout=20000)
    assert loop.view.margins.gain_db >= 6.0 - 1e-6 and not loop.inputs.tuning.busy
    loop.session.undo_stack.undo()
    assert loop.session.project is before
    qtbot.mouseClick(loop.inputs.optimise, Qt.MouseButton.LeftButton)
    type_into(loop, qtbot, "delay_s", "0.2")  # what is tuned for another loop is not taken
    assert not loop.inputs.tuning.busy
    qtbot.waitUntil(lambda: not loop.inputs.tuning.runs, timeout=20000)
    QApplication.processEvents()
    assert loop.session.project.candidate().loop.filters == before.candidate().loop.filters


def test_a_drag_leaves_what_is_out_of_sight_until_the_hand_rests(loop, qtbot):
    loop.resize(700, 500)
    QApplication.processEvents()
    assert loop.curves.locus.visibleRegion().isEmpty()
    before = loop.curves.locus._points
    loop._preview_gain(3.0)
    QApplication.processEvents()
    assert loop.gain.value == 3.0 and loop.curves.locus._points == before
    qtbot.waitUntil(lambda: loop.curves.locus._points != before, timeout=3000)
    loop.session.cancel_preview()


def test_one_group_is_told_what_is_missing(loop):
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


def test_modes_are_listed_with_commas_as_everywhere(loop, qtbot):
    """They were read as decimal signs: "1,2" damped mode 1 alone and said nothing."""
    field = type_into(loop, qtbot, "modes", "1,2")
    assert loop.session.project.candidate().loop.modes == (1, 2) and field.text() == "1, 2"


def test_a_window_that_is_closed_works_nothing_out_and_opens_at_what_is(from_menu, monkeypatch):
    loop = from_menu
    seen = []
    monkeypatch.setattr("app.results.loop_window.loop_view", lambda solved: seen.append(solved) or loop_view(solved))
    loop.close()
    session = loop.session
    session.apply("Gain", with_loop(session.project, times=0.5))
    assert seen == []
    loop.parent().menus.actions["activeLoop"].trigger()
    assert len(seen) == 1 and loop.gain.value == 0.5 and loop.view.design.times == 0.5


def test_arrows_on_the_gain_are_one_step_and_escape_takes_a_drag_back(loop):
    session, slider = loop.session, loop.gain
    before, steps = session.project, session.undo_stack.count()
    slider.setFocus()
    for _ in range(3):
        QTest.keyPress(slider, Qt.Key.Key_Right)
    QApplication.processEvents()
    assert session.previewing and session.undo_stack.count() == steps
    QTest.keyRelease(slider, Qt.Key.Key_Right)
    assert not session.previewing and session.undo_stack.count() == steps + 1
    assert session.project.candidate().loop.times == pytest.approx(1.0 + 0.03 * loop.view.limit.times)
    session.undo_stack.undo()
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=QPoint(60, 14))
    QApplication.processEvents()
    assert session.previewing
    QTest.keyClick(slider, Qt.Key.Key_Escape)
    assert not session.previewing and session.project == before and loop.isVisible()
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=QPoint(60, 14))
    loop.close()  # nobody sees the end of the drag
    assert not session.previewing and session.project == before


def test_a_phase_that_wraps_draws_no_line_across_the_chart(loop):
    session = loop.session
    session.apply("Delay", with_loop(session.project, delay_s=0.01, times=0.01))
    runs = loop.curves.phase.runs
    assert len(runs) > 3
    assert all(abs(step) <= 180.0 for _, degrees in runs for step in degrees[1:] - degrees[:-1])
    assert sum(len(x) for x, _ in runs) == len(loop.view.gain[0])
