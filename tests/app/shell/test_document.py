"""Files in the window: save and open, the guard, recent files, files that are none."""

from __future__ import annotations

import json
import os

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from core.project import edit, library, store
from tests.app.conftest import message
from tests.app.shell.test_session import moved, numbers
from tests.levels import beam_example

Button = QMessageBox.StandardButton


def change(window, x_start_m=0.0423):
    window.session.apply("Move P1", moved(window.session.project, x_start_m))


def save_to(window, file):
    """Save there and wait for the disk."""
    window.document.saver.save(file, lambda: None)
    window.document.saver.finish()


def test_saving_and_opening_gives_the_identical_numbers(window, tmp_path):
    change(window)
    file = tmp_path / "beam.quietspan"
    save_to(window, file)
    assert not window.isWindowModified()
    project, predicted = window.session.project, numbers(window.session.prediction)
    window.document.open_example("touring-ski")
    window.document.open_path(file)
    assert window.session.project == project
    assert numbers(window.session.prediction) == predicted


def test_save_without_a_file_asks_for_one(window, tmp_path, qtbot):
    change(window)
    window.menus.actions["saveProject"].trigger()
    dialog = window.findChild(QFileDialog, "saveDialog")
    dialog.fileSelected.emit(str(tmp_path / "new.quietspan"))
    window.document.saver.finish()
    assert store.load(tmp_path / "new.quietspan") == window.session.project
    dialog.close()
    change(window, 0.05)
    window.menus.actions["saveProject"].trigger()
    window.document.saver.finish()
    assert store.load(tmp_path / "new.quietspan") == window.session.project


def test_undoing_back_to_the_saved_state_is_no_change(window, tmp_path):
    save_to(window, tmp_path / "beam.quietspan")
    change(window)
    assert window.isWindowModified()
    window.session.undo_stack.undo()
    assert not window.isWindowModified()


def test_cancel_in_the_guard_keeps_everything(window, qtbot):
    change(window)
    project = window.session.project
    window.close()
    message(window, "unsavedGuard").done(Button.Cancel)
    assert window.isVisible()
    assert window.session.project is project


def test_discard_in_the_guard_closes(window):
    change(window)
    window.close()
    message(window, "unsavedGuard").done(Button.Discard)
    assert not window.isVisible()
    assert not window.document.recovery.file.exists()


def test_save_in_the_guard_saves_and_goes_on(window, tmp_path):
    file = tmp_path / "beam.quietspan"
    save_to(window, file)
    change(window)
    changed = window.session.project
    window.menus.actions["newProject"].trigger()
    message(window, "unsavedGuard").done(Button.Save)
    window.document.saver.finish()
    assert store.load(file) == changed
    assert window.session.project == library.blank_project()


def test_a_save_that_fails_in_the_guard_loses_nothing(window, tmp_path):
    (tmp_path / "there").mkdir()
    file = tmp_path / "there" / "beam.quietspan"
    save_to(window, file)
    change(window)
    changed = window.session.project
    file.unlink()
    (tmp_path / "there").rmdir()
    window.document.new()
    message(window, "unsavedGuard").done(Button.Save)
    window.document.saver.finish()
    assert "not there" in message(window).text()
    assert window.session.project is changed
    assert window.isWindowModified()


BAD_FILES = {
    "empty": b"",
    "spaces": b"   \n",
    "cut off": None,
    "newer": None,
    "not json": b"station;width\n0;30\n",
    "noise": bytes(range(256)) * 64,
    "other json": b'{"a": 1}',
    "list": b"[1, 2, 3]",
    "wrong types": None,
}


def bad_file(tmp_path, kind):
    whole = store.dumps(beam_example("lab-beam"))
    content = BAD_FILES[kind]
    if kind == "cut off":
        content = whole[: len(whole) // 2]
    elif kind == "newer":
        content = json.dumps(json.loads(whole) | {"format_version": 99}).encode()
    elif kind == "wrong types":
        content = json.dumps(json.loads(whole) | {"candidates": "three"}).encode()
    file = tmp_path / f"{kind}.quietspan"
    file.write_bytes(content)
    return file


def test_a_file_that_is_no_project_is_told_in_words_and_nothing_is_lost(window, tmp_path):
    change(window)
    project = window.session.project
    for kind in BAD_FILES:
        file = bad_file(tmp_path, kind)
        content = file.read_bytes()
        window.document._open_now(file)
        told = message(window)
        assert file.name in told.text(), kind
        assert "Traceback" not in told.text(), kind
        assert window.session.project is project, kind
        assert window.isWindowModified(), kind
        assert file.read_bytes() == content, kind
        told.close()
        assert not told.isVisible(), kind


def test_a_folder_and_a_missing_file_are_told_in_words(window, tmp_path):
    window.document._open_now(tmp_path)
    assert "folder" in message(window).text()
    window.document._open_now(tmp_path / "gone.quietspan")
    assert "not there" in message(window).text()


def test_a_large_noise_file_is_refused_without_reading_it(window, tmp_path):
    file = tmp_path / "noise.quietspan"
    with file.open("wb") as out:
        out.truncate(200_000_000)
    window.document._open_now(file)
    assert "200 MB" in message(window).text()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user without all rights")
def test_a_file_without_permission_is_told_in_words(window, tmp_path):
    file = tmp_path / "closed.quietspan"
    store.save(beam_example("lab-beam"), file)
    file.chmod(0)
    window.document._open_now(file)
    assert "cannot be read" in message(window).text()


def test_a_project_with_an_impossible_layout_opens_and_says_what_is_wrong(window, tmp_path):
    project = beam_example("lab-beam")
    patch = replace(project.candidate().patches[0], x_start_m=0.29)
    file = tmp_path / "off.quietspan"
    store.save(edit.with_patch(project, project.active, patch), file)
    window.document.open_path(file)
    assert window.session.stale
    assert any("tip" in line for line in window.results.alarm_lines)
    assert "No prediction yet" in window.results.alarm_lines[0]


def test_recent_files_newest_first_and_gone_ones_are_dropped(window, tmp_path):
    files = [tmp_path / f"{name}.quietspan" for name in ("one", "two")]
    for file in files:
        save_to(window, file)
    assert window.settings.recent == files[::-1]
    files[0].unlink()
    window.document.open_path(files[0])
    assert window.settings.recent == [files[1]]
    texts = [action.text() for action in window.menus._recent.actions()]
    assert texts[0].endswith("two.quietspan")


def test_opening_an_example_is_not_opening_its_file(window, tmp_path):
    save_to(window, tmp_path / "mine.quietspan")
    window.document.open_example("gantry-bracket")
    assert window.session.path is None


def test_the_sizes_of_the_window_are_remembered(window, tmp_path):
    window.pages.splitter.setSizes([350, 700, 390])
    sizes = window.pages.splitter.sizes()
    window.close()
    QApplication.processEvents()
    from app.shell.session import Session
    from app.shell.settings import Settings
    from app.shell.window import MainWindow

    again = MainWindow(Session(beam_example("lab-beam")), Settings())
    again.resize(window.size())
    again.show()
    QApplication.processEvents()
    assert again.pages.splitter.sizes() == pytest.approx(sizes, abs=2)
    again.close()


def reopened(window):
    """Another window after this one was closed, as wide."""
    from app.shell.session import Session
    from app.shell.settings import Settings
    from app.shell.window import MainWindow

    size = window.size()
    window.close()
    QApplication.processEvents()
    again = MainWindow(Session(beam_example("lab-beam")), Settings())
    again.resize(size)
    again.show()
    QApplication.processEvents()
    return again


def test_inputs_that_were_folded_stay_folded_and_come_back_as_wide(window, qtbot):
    """The widths kept were those of drawing and results, and the next window gave them to inputs and drawing."""
    window.pages.splitter.setSizes([350, 680, 410])
    sizes = window.pages.splitter.sizes()
    qtbot.keyClick(window, Qt.Key.Key_F4)
    again = reopened(window)
    assert again.pages.input_side.is_rail and len(again.pages.splitter.sizes()) == 2
    qtbot.keyClick(again, Qt.Key.Key_F4)
    QApplication.processEvents()
    assert again.pages.splitter.sizes() == pytest.approx(sizes, abs=3)
    again.close()


def test_one_key_leaves_a_full_screen_that_was_remembered(window, qtbot):
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert window.isFullScreen()
    again = reopened(window)
    assert again.isFullScreen() and again.menus.actions["fullScreen"].isChecked()
    qtbot.keyClick(again, Qt.Key.Key_F11)
    assert not again.isFullScreen()
    again.close()


def test_full_screen_gives_a_maximised_window_back(window, qtbot):
    window.showMaximized()
    for _ in range(2):
        qtbot.keyClick(window, Qt.Key.Key_F11)
    assert window.isMaximized() and not window.isFullScreen()


def test_a_window_that_was_never_laid_out_leaves_the_next_one_its_usual_widths(window, tmp_path):
    from app.shell.pages import LEAST_RESULTS
    from app.shell.session import Session
    from app.shell.settings import Settings
    from app.shell.window import MainWindow

    window.settings.widths = ()
    never_shown = MainWindow(Session(beam_example("lab-beam")), Settings())
    never_shown.pages.splitter.resize(0, 0)
    never_shown.close()
    assert not never_shown.settings.widths
    again = MainWindow(Session(beam_example("lab-beam")), Settings())
    again.resize(1400, 900)
    again.show()
    QApplication.processEvents()
    assert again.answers.isVisible() and again.answers.width() >= LEAST_RESULTS
    assert again.inputs.isVisible() and again.inputs.width() > 200
    again.close()
