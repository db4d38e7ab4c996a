"""A crash loses at most the last second, and says so at the next start."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time

import pytest
from PySide6.QtWidgets import QPushButton

from app.shell import recovery
from core.project import store
from tests.app.conftest import message
from tests.app.shell.test_session import moved
from tests.levels import beam_example

EDIT_AND_HANG = """
import sys, time
from pathlib import Path
from PySide6.QtCore import QTimer
from app.shell.start import make_application, make_window
from tests.app.shell.test_session import moved

app = make_application()
window = make_window()
window.show()
if len(sys.argv) > 1:
    window.document.open_path(Path(sys.argv[1]))
window.session.apply("Move P1", moved(window.session.project, 0.0777))
def ready():
    if window.document.recovery.file.exists():
        print("written", flush=True)
        time.sleep(60)
timer = QTimer(interval=50)
timer.timeout.connect(ready)
timer.start()
app.exec()
"""


def run_and_kill(*args: str) -> None:
    """Another program edits, writes its recovery copy, and is killed without a chance to close."""
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        [sys.executable, "-c", EDIT_AND_HANG, *args], env=env, stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout.readline().strip() == "written"
        child.send_signal(signal.SIGKILL if os.name != "nt" else signal.SIGTERM)


def press(box, name):
    box.findChild(QPushButton, name).click()


def test_work_of_a_killed_program_is_offered_and_recovered(window, tmp_path, qtbot):
    file = tmp_path / "beam.quietspan"
    store.save(beam_example("lab-beam"), file)
    run_and_kill(str(file))
    window.document.offer_recovery()
    offer = message(window, "recoveryOffer")
    assert "beam.quietspan" in offer.text()
    press(offer, "recover")
    assert window.session.project == moved(beam_example("lab-beam"), 0.0777)
    assert window.session.path == file
    assert window.isWindowModified()
    assert store.load(file) == beam_example("lab-beam")  # not overwritten until saved
    qtbot.waitUntil(lambda: not window.document.recovery.busy)
    assert recovery.left_behind() == ([], [])


def test_work_that_was_never_saved_can_be_discarded(window):
    run_and_kill()
    window.document.offer_recovery()
    offer = message(window, "recoveryOffer")
    assert "never saved" in offer.informativeText()
    press(offer, "discardCopy")
    assert recovery.left_behind() == ([], [])
    assert window.session.project == beam_example("lab-beam")


def test_the_copy_is_written_after_a_command_and_deleted_when_saved(window, tmp_path, qtbot):
    copy = window.document.recovery.file
    window.session.apply("Move P1", moved(window.session.project, 0.05))
    assert not copy.exists()
    qtbot.waitUntil(copy.exists, timeout=5000)
    window.document.saver.save(tmp_path / "beam.quietspan", lambda: None)
    qtbot.waitUntil(lambda: not copy.exists(), timeout=5000)


def test_a_running_program_keeps_its_copy_to_itself(window, qtbot):
    window.session.apply("Move P1", moved(window.session.project, 0.05))
    window.document.recovery.write()
    qtbot.waitUntil(lambda: not window.document.recovery.busy)
    assert recovery.left_behind() == ([], [])
    assert window.document.recovery.file.exists()


@pytest.mark.parametrize("content", [b"", b"\x00\xff" * 500, b'{"path": null}\n', b"[]\n{}", None])
def test_an_unreadable_copy_is_kept_aside_and_said(same_window, content):
    window = same_window
    bad = recovery.folder() / f"bad{recovery.SUFFIX}"
    if content is None:
        whole = store.dumps(beam_example("lab-beam"))
        content = b'{"path": null, "hash": null, "time": 0}\n' + whole[:1000]
    bad.write_bytes(content)
    window.document.offer_recovery()
    box = message(same_window)
    assert "kept" in box.text()
    assert not bad.exists()
    assert (recovery.folder() / "unreadable" / bad.name).read_bytes() == content


def test_a_changed_file_is_said_in_the_offer(window, tmp_path):
    file = tmp_path / "beam.quietspan"
    store.save(beam_example("lab-beam"), file)
    header = f'{{"path": "{file}", "hash": "{recovery.file_hash(file)}", "time": {time.time()}}}\n'
    copy = recovery.folder() / f"left{recovery.SUFFIX}"
    copy.write_bytes(header.encode() + store.dumps(moved(beam_example("lab-beam"), 0.06)))
    found, _ = recovery.left_behind()
    assert not found[0].file_changed
    store.save(moved(beam_example("lab-beam"), 0.09), file)
    found, _ = recovery.left_behind()
    assert found[0].file_changed
    window.document.offer_recovery()
    assert "changed" in message(window, "recoveryOffer").informativeText()


def test_locks_and_half_written_copies_of_killed_programs_are_taken_away(window):
    place = recovery.folder()
    held = window.document.recovery.file.with_suffix(".lock")
    assert held.exists()
    left, half = place / "0123.lock", place / ".0123.recovery.abcd1234.part"
    left.write_text(f"99999999\nquietspan\n{socket.gethostname()}\n")
    half.write_bytes(b"half a copy")
    os.utime(half, (time.time() - 7200, time.time() - 7200))
    recovery.left_behind()
    assert held.exists()
    assert not left.exists() and not half.exists()
