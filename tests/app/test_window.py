"""What a person does in the window, with the mouse and the keys, and what they then read."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication
from PySide6.QtWidgets import QApplication, QLabel, QTextBrowser

from app.theme import look
from core.project import edit, library
from core.project.candidate import Circuit
from tests.app.conftest import message
from tests.app.drawing.conftest import Bench
from tests.core.predict.scenes import driving_circuit


def read_damping(window, mode: int) -> tuple[float, float]:
    """Damping before and after, as written beside the bar of that mode."""
    text = next(s for s in window.results.bars.sentences() if s.startswith(f"Mode {mode}:"))
    before, after = re.search(r"([\d.]+) → ([\d.]+) %", text).groups()
    return float(before), float(after)


@pytest.fixture
def bench(window):
    return Bench(window.session, window.canvas)


def test_opens_on_the_lab_beam_with_its_numbers(window):
    first = window.session.prediction.modes[0]
    before, after = read_damping(window, 1)
    assert before == pytest.approx(100 * first.zeta_before, abs=0.005)
    assert after == pytest.approx(100 * first.zeta, abs=0.005)
    assert "lab" in window.windowTitle().lower()
    assert not window.isWindowModified()


def test_dragging_the_patch_away_from_the_clamp_lowers_the_damping_that_is_read(window, bench):
    _, at_clamp = read_damping(window, 1)
    seen = []
    window.session.prediction_changed.connect(lambda: seen.append(read_damping(window, 1)[1]))
    bench.mouse.drag(bench.plan(0.030), bench.plan(0.130), steps=6)
    _, further_out = read_damping(window, 1)
    assert further_out < at_clamp
    assert len(set(seen)) > 3  # it followed while the hand moved
    assert seen[-1] == seen[-2]  # releasing changed nothing
    assert window.session.undo_stack.count() == 1
    assert window.isWindowModified()


def test_undo_by_keyboard_brings_the_read_numbers_back(window, bench, qtbot):
    at_start = window.results.bars.sentences()
    bench.mouse.drag(bench.plan(0.030), bench.plan(0.130))
    moved = window.results.bars.sentences()
    assert moved != at_start
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert window.results.bars.sentences() == at_start
    assert not window.isWindowModified()
    window.menus.actions["redo"].trigger()
    assert window.results.bars.sentences() == moved


def test_a_layout_that_cannot_be_predicted_keeps_the_numbers_and_says_why(window):
    from msgspec.structs import replace

    from core.project import edit

    shown = window.results.bars.sentences()
    project = window.session.project
    patch = replace(project.candidate().patches[0], x_start_m=0.29)
    window.session.apply("Move", edit.with_patch(project, project.active, patch))
    assert window.results.bars.sentences() == shown
    words = " ".join(window.results.alarm_lines)
    assert "last layout that could be predicted" in words
    assert "tip" in words


def test_every_limit_is_told_with_its_source(window):
    rows = window.results.limits.rows
    assert len(rows) == len(window.session.prediction.limits)
    for row, limit in zip(rows, window.session.prediction.limits, strict=True):
        assert limit.name == row.name
        assert limit.source in row.tip


def test_copying_the_results_gives_a_table_a_spreadsheet_takes(window):
    window.menus.actions["copyTable"].trigger()
    data = QGuiApplication.clipboard().mimeData()
    rows = [line.split("\t") for line in data.text().splitlines()]
    assert len({len(row) for row in rows}) == 1
    assert any(row[0] == "Mode 1 damping ratio" for row in rows)
    assert "<table" in data.html()


def test_copying_the_drawing_gives_a_picture(window):
    window.menus.actions["copyPicture"].trigger()
    assert not QGuiApplication.clipboard().pixmap().isNull()


def test_choosing_the_bare_structure_as_before_is_written_above_the_bars(window):
    window.findChild(QLabel)
    window.menus._before["bare structure"].trigger()
    assert window.session.prediction.before_label in window.results._sections["bars"]._about.text()
    assert "bare" in window.session.prediction.before_label
    assert window.session.undo_stack.undoText() == "Compare with another state"


def test_showing_more_modes_adds_rows(window):
    window.menus._modes[7].trigger()
    assert len(window.results.bars.sentences()) == 7


def test_add_and_delete_a_patch_by_menu(window):
    count = len(window.session.project.candidate().patches)
    window.menus.actions["addPatch"].trigger()
    assert len(window.session.project.candidate().patches) == count + 1
    added = window.session.selected_patch
    assert added == window.session.project.candidate().patches[-1].id
    window.menus.actions["deletePatch"].trigger()
    assert len(window.session.project.candidate().patches) == count


def test_the_best_place_of_the_strip_is_taken_by_menu(window, qtbot):
    qtbot.waitUntil(lambda: window.session.strip is not None, timeout=20000)
    window.to_best_place(2)
    strip = window.session.strip
    start = window.session.project.candidate().patches[0].x_start_m
    at = abs(strip.x_start_m - start).argmin()
    assert strip.zeta[at, 1] == pytest.approx(strip.zeta[strip.allowed, 1].max(), rel=1e-6)


def test_the_strip_can_be_switched_off_and_that_is_remembered(window, qtbot):
    window.menus.actions["showStrip"].trigger()
    assert window.session.strip is None
    assert window.settings.strip_shown is False
    window.menus.actions["showStrip"].trigger()
    qtbot.waitUntil(lambda: window.session.strip is not None, timeout=20000)


def test_dropping_a_project_file_opens_it(window, tmp_path):
    from core.project import store

    file = tmp_path / "ski.quietspan"
    store.save(library.example("touring-ski"), file)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(file))])
    actions, buttons = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    drop = QDropEvent(QPointF(QPoint(50, 50)), actions, data, buttons, Qt.KeyboardModifier.NoModifier)
    window.dropEvent(drop)
    assert window.session.project == library.example("touring-ski")
    assert window.windowTitle().startswith("ski.quietspan")


@pytest.mark.parametrize("key", [key for key, _ in (*library.examples(), *library.validation_examples())])
def test_every_example_opens_from_the_menu_and_is_predicted(same_window, key):
    window = same_window
    window.findChild(type(window.menus.actions["undo"]), f"example-{key}").trigger()
    assert window.session.project == library.example(key)
    assert not window.session.stale, window.session.problems
    assert window.results.bars.sentences()


def test_no_menu_entry_is_dead(window):
    """Every action leads somewhere: a slot of its own, a submenu, or it cannot be chosen now."""
    for action in window.menus.actions.values():
        assert action.text()
        assert action.receivers("2triggered(bool)") + action.receivers("2triggered()") > 0


def test_no_two_entries_share_a_key(window):
    from PySide6.QtGui import QAction

    keys = [key.toString() for action in window.findChildren(QAction) for key in action.shortcuts()]
    assert len(keys) == len(set(keys)), sorted(keys)


@pytest.mark.parametrize("entry", ["helpPages", "helpKeys", "helpModel", "helpWords", "cautions"])
def test_help_pages_open_and_speak(same_window, entry):
    window = same_window
    window.menus.actions[entry].trigger()
    page = window.findChild(QTextBrowser, "helpText")
    assert page.isVisible()
    assert len(page.toPlainText()) > 300


def test_about_names_the_versions(window):
    window.menus.actions["about"].trigger()
    text = window.findChild(QTextBrowser, "aboutText").toPlainText()
    for name in ("Quietspan", "Qt", "numpy", "scipy"):
        assert re.search(rf"{name}\s+\d", text), name
    assert "lead compounds" in text and "licensed" in text


def test_light_and_dark_are_remembered_and_everything_still_draws(window):
    window.set_scheme("dark")
    assert look.current().is_dark
    assert window.settings.scheme == "dark"
    picture = window.grab().toImage()
    assert picture.pixelColor(5, picture.height() // 2).lightnessF() < 0.4
    window.set_scheme("light")
    picture = window.grab().toImage()
    assert picture.pixelColor(5, picture.height() // 2).lightnessF() > 0.7


def test_an_unexpected_error_is_told_with_a_report_to_copy(window):
    from PySide6.QtWidgets import QPushButton

    from app.shell.errors import ErrorReporter

    reporter = ErrorReporter(window)
    try:
        raise RuntimeError("the magnet fell off")
    except RuntimeError as error:
        reporter.handle(type(error), error, error.__traceback__)
    box = message(window, "errorReport")
    assert "still open" in box.text()
    assert "Traceback" not in box.text()
    copy = next(b for b in box.findChildren(QPushButton) if b.text() == "Copy report")
    copy.click()
    assert "the magnet fell off" in QGuiApplication.clipboard().text()
    assert box.isVisible()
    box.done(0)


def test_every_control_has_a_name_for_assistive_tools(window):
    from PySide6.QtWidgets import QAbstractButton

    for button in window.bar.findChildren(QAbstractButton):
        assert button.accessibleName() or button.text(), button.objectName()
    for painted in (window.results.bars, window.results.limits, window.canvas.surface):
        assert painted.accessibleName()
    assert "Mode 1" in window.results.bars.accessibleDescription()


def test_an_unstable_circuit_is_an_error_at_once_and_leaves_no_negative_damping(window, bench, monkeypatch):
    driving_circuit(monkeypatch)
    project = window.session.project
    group = replace(project.candidate().groups[0], circuit=Circuit("resistor"))
    window.session.apply("Drive", edit.with_group(project, project.active, group))
    assert any("mode 1 grows" in line for line in window.results.alarm_lines)
    assert "unstable" in window.results.bars.sentences()[0]
    assert not any("\N{MINUS SIGN}0" in line or "-0" in line for line in window.results.bars.sentences())
    assert window.results.response.curve_data("after")[0].size == 0
    assert not window.grab().isNull()
    window.pages.compare()
    assert not window.grab().isNull()


def test_wrong_polarity_is_told_at_once_with_its_reason_and_cured_by_one_click(window, qtbot):
    project = window.session.project
    patch = replace(project.candidate().patches[0], face="both", pair_bending=False)
    window.session.apply("Stretch", edit.with_patch(project, project.active, patch))
    assert any("no coupling to bending" in line and "cancel" in line for line in window.results.alarm_lines)
    assert "K² under 0.01 %" in window.results.bars.sentences()[0]
    qtbot.mouseClick(window.results.cure, Qt.MouseButton.LeftButton)
    assert window.session.prediction.modes[0].k2 > 0.01
    assert window.results.alarm_lines == [] and not window.results.cure.isVisible()
    assert window.session.undo_stack.undoText() == "Wire P1 for bending"


@pytest.mark.parametrize("output", ["receptance", "accelerance", "strain", "voltage"])
def test_the_results_fit_their_column_whatever_is_looked_at(same_window, output):
    window = same_window
    project = window.session.project
    window.session.apply("Look", edit.with_view(project, output=output))
    QApplication.processEvents()
    results = window.results
    assert results.widget().width() <= results.viewport().width()
    assert results.response.curve_data("after")[0].size > 300
