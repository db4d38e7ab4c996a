"""Damp, drive, sense above the results: one layout looked at in three ways."""

import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from app.drawing.describe import strip_text
from app.drawing.use_strip import use_scale
from core.units import words
from tests.app.drawing.conftest import Bench
from tests.levels import together


@pytest.fixture
def window(same_window):
    """One window for the file."""
    return same_window


def look_in(window, qtbot, digit: int):
    qtbot.keyClick(window, getattr(Qt.Key, f"Key_{digit}"), Qt.KeyboardModifier.AltModifier)
    QApplication.processEvents()
    return window.answers.shown


def cell(table, row: str, head: int) -> float:
    text = next(r for r in table.rows if r[0] == row)[head]
    return float(re.match(r"[\d.]+", text).group())


def test_keys_and_clicks_change_what_the_results_are_about_and_nothing_else(window, qtbot):
    project = window.session.project
    assert window.answers.block.isVisible() and window.results.isVisible()
    sense = look_in(window, qtbot, 3)
    assert sense.objectName() == "sensePanel" and sense.isVisible() and not window.results.isVisible()
    assert not window.answers.block.isVisible() and window.answers.use.button("sense").isChecked()
    qtbot.mouseClick(window.answers.use.button("drive"), Qt.MouseButton.LeftButton)
    assert window.answers.shown.objectName() == "drivePanel"
    now = window.session.project
    assert now.candidates == project.candidates and now.structure == project.structure and now.service == project.service
    window.session.undo_stack.undo()
    assert window.answers.shown is sense
    look_in(window, qtbot, 1)
    assert window.answers.shown is window.results and window.answers.block.isVisible()


def test_the_tables_say_what_the_prediction_says(window, qtbot):
    window.session.apply("Contract together", together(window.session.project))
    sense = look_in(window, qtbot, 3)
    group = window.session.prediction.groups[0]
    assert cell(sense.modes, "1", 2) == pytest.approx(1e-3 * group.sensing.modes[0].v_per_m, rel=0.01)
    assert cell(sense.modes, "slow", 2) == pytest.approx(1e-3 * abs(group.sensing.slow_v_per_m), rel=0.01)
    blind = any(mode.blind for mode in group.sensing.modes)
    assert any("blind spot" in text for _, text in sense.alarm.lines) is blind
    assert any("pushed down: plus at the dot" in text for _, text in sense.facts.lines)
    drive = look_in(window, qtbot, 2)
    assert cell(drive.modes, "slow", 2) == pytest.approx(1e6 * group.tip_m_per_v, rel=0.01)
    first = group.driving.modes[0]
    told = f"mode 1 ({words.engineering(first.stroke_m, 'm', 2)}) above {words.engineering(first.allowed_v, 'V', 2)}"
    assert any(told in text for _, text in drive.alarm.lines)
    assert any("off leaves" in text for _, text in drive.bridge.lines)
    assert any("Local codes" in text for _, text in drive.cautions.lines)


def test_volts_typed_change_the_stroke_at_once(window, qtbot):
    drive = look_in(window, qtbot, 2)
    before = cell(drive.modes, "slow", 3)
    field = drive.amplitude.field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "30")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.project.drive.amplitude_v == 30.0
    assert cell(drive.modes, "slow", 3) == pytest.approx(before / 2, rel=0.01)
    window.session.undo_stack.undo()
    assert cell(drive.modes, "slow", 3) == before


def test_the_strip_follows_the_use(window, qtbot):
    bench = Bench(window.session, window.canvas)
    start = window.session.project.candidate().patches[0].x_start_m
    for digit, read in ((2, lambda g: [m.m_per_v for m in g.driving.modes]), (3, lambda g: g.sensing._transducer.mode_v_per_m()[:5].__abs__())):
        look_in(window, qtbot, digit)
        qtbot.waitUntil(lambda digit=digit: window.session.strip is not None and window.session.strip.use == ("drive", "sense")[digit - 2], timeout=5000)
        strip = window.session.strip
        index = int(abs(strip.x_start_m - start).argmin())
        assert strip.of_use[index] == pytest.approx(read(window.session.prediction.groups[0]), rel=1e-4)
        view = bench.canvas.surface.view.strip
        assert ("/V" if digit == 2 else "/mm") in strip_text(view, start)
        assert use_scale(view).high > use_scale(view).low
    look_in(window, qtbot, 1)
    qtbot.waitUntil(lambda: window.session.strip is not None and window.session.strip.of_use is None, timeout=5000)


def test_what_is_shown_is_what_is_copied(window, qtbot):
    look_in(window, qtbot, 2)
    window.copy_table()
    text = QGuiApplication.clipboard().text()
    assert "most volts" in text and "Local codes and licensed practice" in text
    look_in(window, qtbot, 3)
    window.copy_table()
    assert "charge/mm" in QGuiApplication.clipboard().text()


def test_a_waveform_from_a_file_is_played_or_told_what_it_lacks(window, qtbot, tmp_path):
    drive = look_in(window, qtbot, 2)
    bad, good = tmp_path / "bad.csv", tmp_path / "good.csv"
    bad.write_text("0 1\n1")
    drive.read_file(bad)
    assert any("bad.csv: Line 2 has no second number" in text for _, text in drive.alarm.lines)
    good.write_text("s,V\n0,0\n0.1,20\n0.2,0\n")
    drive.read_file(good)
    assert window.session.project.drive.table_s_v == ((0.0, 0.0), (0.1, 20.0), (0.2, 0.0))
    assert drive.file.isVisible() and not drive.frequency.isVisible()
    assert "moves" in drive._what_wave._about.text()


def test_without_a_patch_it_says_what_is_missing(window, qtbot):
    sense = look_in(window, qtbot, 3)
    window.delete_patch()
    QApplication.processEvents()
    assert any("Bond a patch" in text for _, text in sense.alarm.lines) and not sense.modes.isVisible()


def test_a_drag_moves_the_numbers_and_the_release_shows_the_same(window, qtbot):
    sense = look_in(window, qtbot, 3)
    before = sense.modes.rows
    bench = Bench(window.session, window.canvas)
    patch = window.session.project.candidate().patches[0]
    bench.mouse.press(bench.plan(patch.x_start_m + 0.5 * patch.length_m))
    bench.mouse.move(bench.plan(0.12))
    QApplication.processEvents()
    dragged = sense.modes.rows
    assert dragged != before
    bench.mouse.release(bench.plan(0.12))
    QApplication.processEvents()
    assert sense.modes.rows == dragged


def test_what_is_out_of_sight_follows_once_the_hand_rests(window, qtbot):
    drive = look_in(window, qtbot, 2)
    assert drive.bridge.visibleRegion().isEmpty()
    before = drive.bridge.lines
    bench = Bench(window.session, window.canvas)
    patch = window.session.project.candidate().patches[0]
    bench.mouse.press(bench.plan(patch.x_start_m + 0.5 * patch.length_m))
    bench.mouse.move(bench.plan(0.12))
    QApplication.processEvents()
    assert window.session.previewing and drive.bridge.lines == before
    qtbot.waitUntil(lambda: drive.bridge.lines != before, timeout=5000)
    rested = drive.bridge.lines
    bench.mouse.release(bench.plan(0.12))
    QApplication.processEvents()
    assert drive.bridge.lines == rested
