"""A save asks before it destroys what somebody else wrote, and no slow disk stops the window."""

from __future__ import annotations

import os
import stat
import threading
import time
from itertools import pairwise

import pytest
from PySide6.QtCore import QEventLoop, QTimer
from PySide6.QtWidgets import QFileDialog, QMessageBox, QPushButton

from app.shell import recovery, saving, settings
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from core.project import store
from tests.app.conftest import discard_changes, message
from tests.app.shell.test_document import save_to
from tests.app.shell.test_session import moved
from tests.levels import beam_example

pytestmark = pytest.mark.slow  # walks everything; CI does

Button = QMessageBox.StandardButton


def change(window, x_start_m=0.0423):
    window.session.apply("Move P1", moved(window.session.project, x_start_m))


def press(box, name):
    box.findChild(QPushButton, name).click()


@pytest.fixture
def file(window, tmp_path):
    """The window's own file, saved and open."""
    made = tmp_path / "beam.quietspan"
    save_to(window, made)
    return made


def trigger_save(window):
    window.menus.actions["saveProject"].trigger()
    window.document.saver.finish()


def test_a_file_that_a_colleague_changed_is_not_overwritten_without_a_question(window, file):
    theirs = moved(beam_example("lab-beam"), 0.09)
    store.save(theirs, file)
    change(window)
    trigger_save(window)
    assert store.load(file) == theirs
    assert window.isWindowModified()
    box = message(window, "overwriteQuestion")
    assert "changed by somebody else" in box.text()
    press(box, "overwrite")
    window.document.saver.finish()
    assert store.load(file) == window.session.project
    assert not window.isWindowModified()


def test_both_are_kept_under_another_name(window, file, tmp_path):
    theirs = moved(beam_example("lab-beam"), 0.09)
    store.save(theirs, file)
    change(window)
    trigger_save(window)
    press(message(window, "overwriteQuestion"), "saveElsewhere")
    dialog = window.findChild(QFileDialog, "saveDialog")
    dialog.fileSelected.emit(str(tmp_path / "mine.quietspan"))
    dialog.close()
    window.document.saver.finish()
    assert store.load(file) == theirs
    assert store.load(tmp_path / "mine.quietspan") == window.session.project
    change(window, 0.05)
    trigger_save(window)
    assert store.load(tmp_path / "mine.quietspan") == window.session.project


def test_cancelling_the_question_keeps_window_and_file(window, file):
    theirs = moved(beam_example("lab-beam"), 0.09)
    store.save(theirs, file)
    change(window)
    window.close()
    message(window, "unsavedGuard").done(Button.Save)
    window.document.saver.finish()
    message(window, "overwriteQuestion").reject()
    assert window.isVisible() and window.isWindowModified()
    assert store.load(file) == theirs


def test_of_two_windows_on_one_file_the_second_to_save_is_asked(window, file, qtbot):
    other = MainWindow(Session(beam_example("lab-beam")), Settings())
    other.session.setParent(other)
    qtbot.addWidget(other, before_close_func=discard_changes)
    other.show()
    other.document.open_path(file)
    change(window, 0.05)
    change(other, 0.06)
    trigger_save(window)
    trigger_save(other)
    assert store.load(file) == window.session.project
    message(other, "overwriteQuestion").reject()
    trigger_save(window)
    assert store.load(file) == window.session.project


def test_saving_again_and_again_asks_nothing(window, file):
    for x in (0.05, 0.06, 0.07):
        change(window, x)
        trigger_save(window)
        assert store.load(file) == window.session.project
    window.document.open_path(file)
    change(window, 0.08)
    trigger_save(window)
    assert store.load(file) == window.session.project


def test_a_file_touched_to_the_very_same_is_no_question(window, file):
    change(window)
    store.save(window.session.project, file)
    trigger_save(window)
    assert not window.isWindowModified()


def test_a_write_protected_file_stays_and_another_name_is_offered(window, file):
    first = store.load(file)
    file.chmod(stat.S_IRUSR)
    change(window)
    trigger_save(window)
    assert store.load(file) == first
    assert window.isWindowModified()
    box = message(window, "overwriteQuestion")
    assert "write-protected" in box.text()
    assert box.findChild(QPushButton, "overwrite") is None
    press(box, "saveElsewhere")
    assert window.findChild(QFileDialog, "saveDialog") is not None


def longest_pause(milliseconds):
    """Seconds between two turns of the event loop, at most, over that time."""
    turns = [time.perf_counter()]
    loop, ticks = QEventLoop(), QTimer(interval=5)
    ticks.timeout.connect(lambda: turns.append(time.perf_counter()))
    ticks.start()
    QTimer.singleShot(milliseconds, loop.quit)
    loop.exec()
    turns.append(time.perf_counter())
    return max(b - a for a, b in pairwise(turns))


@pytest.fixture
def slow_disk(monkeypatch):
    """A disk that takes its time to say that it has written: a save asks it twice, so that a window which waited
    would stand still for twice as long."""
    real, seconds = os.fsync, 1.0

    def slow(handle):
        time.sleep(seconds)
        real(handle)

    monkeypatch.setattr(os, "fsync", slow)
    return seconds


def test_a_slow_disk_does_not_stop_the_window_and_saved_is_said_when_it_is(window, file, slow_disk):
    change(window)
    before = file.read_bytes()
    start = time.perf_counter()
    window.menus.actions["saveProject"].trigger()
    assert time.perf_counter() - start < 1.2 * slow_disk
    assert file.read_bytes() == before
    assert "Saving" in window.statusBar()._file.text()
    assert window.isWindowModified()
    assert longest_pause(int(500 * slow_disk)) < 1.2 * slow_disk
    window.document.saver.finish()
    assert store.load(file) == window.session.project
    assert "Saved" in window.statusBar()._file.text()
    assert not window.isWindowModified()


def test_what_was_changed_while_a_save_was_under_way_is_still_unsaved(window, file, slow_disk):
    change(window, 0.05)
    saved = window.session.project
    window.menus.actions["saveProject"].trigger()
    change(window, 0.06)
    window.document.saver.finish()
    assert store.load(file) == saved
    assert window.isWindowModified()
    window.session.undo_stack.undo()
    window.session.undo_stack.undo()
    assert window.isWindowModified()


def test_two_saves_in_a_row_end_with_the_second(window, file, slow_disk):
    change(window, 0.05)
    window.menus.actions["saveProject"].trigger()
    change(window, 0.06)
    window.menus.actions["saveProject"].trigger()
    window.document.saver.finish()
    assert store.load(file) == window.session.project
    assert not window.isWindowModified()


def test_closing_waits_for_the_disk(window, file, slow_disk, qtbot):
    change(window)
    window.menus.actions["saveProject"].trigger()
    window.close()
    assert window.isVisible()
    qtbot.waitUntil(lambda: not window.isVisible(), timeout=10_000)
    assert store.load(file) == window.session.project


@pytest.mark.skipif(os.name == "nt", reason="Windows has no named pipes in folders")
def test_a_save_onto_a_pipe_or_a_device_ends_in_words(window, tmp_path):
    """Its content was asked for first, which never ends."""
    os.mkfifo(tmp_path / "pipe")
    window.document.saver.save(tmp_path / "pipe", lambda: None)
    window.document.saver.finish()
    assert "not an ordinary file" in message(window).text()
    assert (tmp_path / "pipe").is_fifo()


def test_another_file_opened_meanwhile_waits_and_keeps_its_own_name(window, file, tmp_path, slow_disk):
    other = tmp_path / "other.quietspan"
    store.save(moved(beam_example("lab-beam"), 0.09), other)
    window.menus.actions["saveProject"].trigger()
    window.document.open_path(other)
    window.document.saver.finish()
    assert window.session.path == other
    assert window.session.project == store.load(other)


def test_a_close_that_waits_for_a_save_that_fails_keeps_the_window(window, file, monkeypatch):
    def full(*_):
        time.sleep(0.1)
        raise store.ProjectFileError('"beam.quietspan" could not be written: no space left on device.')

    monkeypatch.setattr(saving.files, "write_atomically", full)
    change(window)
    window.menus.actions["saveProject"].trigger()
    window.close()
    window.document.saver.finish()
    assert window.isVisible() and window.isWindowModified()
    assert "no space left" in message(window).text()


def test_the_recovery_copy_does_not_stop_the_window(window, slow_disk):
    change(window)
    window.document.recovery._pause.setInterval(20)
    change(window, 0.05)
    assert longest_pause(int(700 * slow_disk)) < 1.2 * slow_disk


def test_a_full_recovery_folder_is_told_once_and_in_the_status_line(window, monkeypatch, qtbot):
    def full(*_):
        raise store.ProjectFileError("no space left on device")

    monkeypatch.setattr(recovery.files, "write_atomically", full)
    change(window)
    window.document.recovery.write()
    qtbot.waitUntil(lambda: not window.document.recovery.busy)
    assert "no space left" in message(window).text()
    assert "NOT kept" in window.statusBar()._file.text()
    message(window).close()
    window.document.recovery.write()
    qtbot.waitUntil(lambda: not window.document.recovery.busy)
    assert not [box for box in window.findChildren(QMessageBox, "message") if box.isVisible()]
    monkeypatch.undo()
    window.document.recovery.write()
    qtbot.waitUntil(lambda: not window.document.recovery.busy)
    assert window.document.recovery.works
    assert "kept for recovery" in window.statusBar()._file.text()


def left(file, project, path, known):
    header = f'{{"path": "{path}", "hash": "{known}", "time": 0}}\n'
    file.write_bytes(header.encode() + store.dumps(project))
    return file


def test_work_that_the_file_holds_is_not_offered(window, tmp_path):
    path = tmp_path / "beam.quietspan"
    project = moved(beam_example("lab-beam"), 0.06)
    store.save(project, path)
    copy = left(recovery.folder() / f"left{recovery.SUFFIX}", project, path, "before the save")
    assert recovery.left_behind() == ([], [])
    assert not copy.exists()


def test_recovered_work_asks_before_it_overwrites_a_file_changed_since(window, tmp_path):
    path = tmp_path / "beam.quietspan"
    store.save(beam_example("lab-beam"), path)
    known = recovery.file_hash(path)
    mine = moved(beam_example("lab-beam"), 0.06)
    left(recovery.folder() / f"left{recovery.SUFFIX}", mine, path, known)
    theirs = moved(beam_example("lab-beam"), 0.09)
    store.save(theirs, path)
    window.document.offer_recovery()
    press(message(window, "recoveryOffer"), "recover")
    trigger_save(window)
    assert store.load(path) == theirs
    message(window, "overwriteQuestion").reject()


def test_a_file_that_is_no_project_does_not_ask_to_save_first(window, tmp_path):
    junk = tmp_path / "junk.quietspan"
    junk.write_bytes(b"station;width")
    change(window)
    window.document.open_path(junk)
    assert not [box for box in window.findChildren(QMessageBox, "unsavedGuard") if box.isVisible()]
    assert "junk.quietspan" in message(window).text()
    assert window.isWindowModified()


def test_a_settings_folder_that_cannot_be_made_is_told_and_the_window_opens(qtbot, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("QUIETSPAN_HOME", str(tmp_path / "file" / "home"))
    assert settings.home().is_dir()
    assert str(tmp_path / "file" / "home") in settings.home_trouble()
    window = MainWindow(Session(beam_example("lab-beam")), Settings())
    window.session.setParent(window)
    qtbot.addWidget(window, before_close_func=discard_changes)
    window.show()
    change(window)
    window.document.recovery.write()
    qtbot.waitUntil(lambda: window.document.recovery.file.exists())
    assert threading.active_count() < 20
