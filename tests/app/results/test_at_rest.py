"""What stands on the screen while something is tried out belongs to what is tried, or says that it does not."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from app.drawing.view_model import LATER
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from core.project import edit, library
from core.study.doubts import Doubt
from core.units import words
from tests.app.conftest import discard_changes


@pytest.fixture
def shipped(qtbot):
    """The window on the lab beam as it is shipped, where the part twists among its modes."""
    look.set_look(look.light())
    opened = MainWindow(Session(library.example("lab-beam")), Settings())
    opened.session.setParent(opened)
    qtbot.addWidget(opened, before_close_func=discard_changes)
    opened.resize(1440, 900)
    with qtbot.waitExposed(opened):
        opened.show()
    return opened


def thicker(project):
    layer = project.structure.layers[0]
    layers = (replace(layer, thickness_m=3.0 * layer.thickness_m),)
    return replace(project, structure=replace(project.structure, layers=layers))


def test_a_preview_that_rests_tells_torsion_of_what_is_tried(shipped, qtbot):
    """A window of layers kept the frequencies of torsion, and the time axis, of the part as it was, as long as it was open."""
    session, bars = shipped.session, shipped.results.bars
    before = dict(bars._twists)
    assert "T1" in before
    reach = shipped.results.ring_down.shown_range[0].high
    with qtbot.waitSignal(session.hand_rests, timeout=5000):
        with qtbot.waitSignal(session.prediction_changed):
            session.preview(thicker(session.project))
        assert dict(bars._twists)["T1"] == LATER
    T1 = session.prediction.torsion[0]
    assert dict(bars._twists)["T1"].startswith(words.frequency(T1.f_hz))
    assert T1.f_hz > 2.0 * float(before["T1"].split()[0])
    assert shipped.results.ring_down.shown_range[0].high < 0.6 * reach


def test_under_a_hand_that_holds_on_the_charts_do_not_swim(shipped, qtbot):
    session, surface = shipped.session, shipped.canvas.surface
    reach = shipped.results.ring_down.shown_range[0].high
    qtbot.mousePress(surface, Qt.MouseButton.LeftButton, pos=surface.rect().bottomRight())
    with qtbot.waitSignal(session.hand_rests, timeout=5000):
        session.preview(thicker(session.project))
    assert shipped.results.ring_down.shown_range[0].high == reach
    session.cancel_preview()
    qtbot.mouseRelease(surface, Qt.MouseButton.LeftButton, pos=surface.rect().bottomRight())


def test_a_doubt_tells_no_numbers_of_another_layout(window, qtbot):
    """Beside a peak of −16 % it said "may be −27 to −17 %", of the place before."""
    session, answers = window.session, window.answers
    qtbot.waitUntil(lambda: bool(answers.doubts.doubts), timeout=20000)
    name, details = answers.block.doubt
    assert any(c.isdigit() for c in details[0])
    patch = session.project.candidate().patches[0]
    with qtbot.waitSignal(session.prediction_changed):
        session.preview(edit.with_patch(session.project, "A", replace(patch, x_start_m=0.1)))
    assert answers.block.doubt == (name, ("assumed",))
    with qtbot.waitSignal(session.prediction_changed):
        session.cancel_preview()
    assert answers.block.doubt == (name, details)
    with qtbot.waitSignal(session.prediction_changed):
        session.apply("Move", edit.with_patch(session.project, "A", replace(patch, x_start_m=0.1)))
    assert answers.block.doubt == (name, ("assumed",))
    qtbot.waitUntil(lambda: answers.block.doubt[1] not in (("assumed",), details), timeout=20000)


def test_nothing_is_doubted_of_a_project_that_was_closed(window, qtbot):
    qtbot.waitUntil(lambda: bool(window.answers.doubts.doubts), timeout=20000)
    window.document.new()
    QApplication.processEvents()
    assert window.answers.block.doubt == ("", ())


def test_what_was_worked_out_of_a_closed_project_is_dropped(window, qtbot, monkeypatch):
    """Also where the one opened is alike: it is asked anew once the hand rests."""
    watch, known = window.answers.doubts, Doubt("materials[0]", "Density", 1, "damping", 1.0, 0.9, 1.1)
    monkeypatch.setattr("app.results.doubt_watch._work", lambda project, stop: (known,))
    qtbot.waitUntil(lambda: bool(watch.doubts), timeout=20000)
    watch._wanted = None
    watch._ask()
    window.session.replace(window.session.project, None)
    qtbot.wait(300)
    assert watch.doubts == ()
    qtbot.waitUntil(lambda: watch.doubts == (known,), timeout=20000)


def test_without_a_patch_the_limits_say_that_there_are_none(window, qtbot):
    about = window.results._sections["limits"]._about
    assert "its source on hover" in about.text()
    window.document.new()
    qtbot.waitUntil(lambda: "nothing is bonded" in about.text())
