"""The show in the real window: opened by one key, played, dragged, slowed, heard and taken along."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest
from scipy.io import wavfile

from app.show.player import NO_EXTRA
from app.show.stage import swing_words
from app.theme import look
from core.project.candidate import Circuit
from tests.app.fields.test_wheel import turn
from tests.levels import beam_example

Key = Qt.Key


class Ear:
    """What would have come out of the loudspeaker."""

    def __init__(self):
        self.heard, self.stops = [], 0

    def play(self, samples, rate_hz):
        self.heard.append((samples, rate_hz))

    def stop(self):
        self.stops += 1


@pytest.fixture
def ear(monkeypatch):
    made = Ear()
    monkeypatch.setattr("app.show.page.make_player", lambda: (made, ""))
    return made


@pytest.fixture
def show(window, qtbot, ear):
    """The page, opened by the one key and stopped at its beginning."""
    window.canvas.setFocus()
    QTest.keyClick(window.canvas.focusWidget() or window.canvas, Key.Key_Space)
    page = window.pages.ring_down
    assert page is not None and page.isVisible()
    page.clock.stop()
    page.clock.go_to(0.0)
    return page


def test_space_on_the_drawing_opens_it_and_it_plays(window, qtbot, ear):
    window.canvas.setFocus()
    QTest.keyClick(window.canvas.focusWidget() or window.canvas, Key.Key_Space)
    page = window.pages.ring_down
    assert page.clock.playing
    qtbot.waitUntil(lambda: page.clock.at_s > 0.0, timeout=3000)
    assert page.controls.play.text() == "Stop"
    QTest.keyClick(page, Key.Key_Space)
    assert not page.clock.playing
    assert page.controls.play.text() == "Play"
    QTest.keyClick(page, Key.Key_Escape)
    assert window.pages.currentIndex() == 0


def test_before_swings_on_while_after_has_settled(show):
    """At the time at which the circuit has brought it to 5 %, both at once."""
    show.controls.findChild(object, "order-together").click()
    settled = show.programme.swing.ring.settle_after_s
    start = show.before.swing_now
    show.clock.go_to(settled)
    assert show.after.swing_now == pytest.approx(0.05 * start, rel=0.1)
    assert show.before.swing_now > 2 * show.after.swing_now
    tip = show.programme.swing.before
    expected = (tip.amplitude[:-1] @ np.exp(tip.rate * settled)).real
    assert show.before.bend_m == pytest.approx(expected, abs=1e-12)


def test_one_after_the_other_the_second_waits_for_the_first(show):
    assert show.programme.order == "in turn"
    length = show.programme.length_s
    show.clock.go_to(0.5 * length)
    assert show.after.swing_now == pytest.approx(show.programme.swing.largest, rel=0.05)
    show.clock.go_to(1.5 * length)
    assert show.before.swing_now == 0.0
    assert show.after.swing_now < 0.5 * show.programme.swing.largest


def test_keys_slow_it_down_step_by_a_swing_and_say_what_is_drawn(show):
    QTest.keyClick(show, Key.Key_4)
    assert show.programme.slow == 16
    assert show.controls.findChild(object, "slow16").isChecked()
    assert "swings a second" in show.controls.slow_text.text()
    QTest.keyClick(show, Key.Key_Right)
    assert show.clock.at_s == pytest.approx(1.0 / show.programme.swing.f_hz)
    QTest.keyClick(show, Key.Key_Left)
    assert show.clock.at_s == pytest.approx(0.0, abs=1e-9)


def test_the_time_is_dragged_on_the_trace(show):
    box = show.trace._box()
    place = QPoint(round(box.left() + 0.5 * box.width()), round(box.center().y()))
    QTest.mousePress(show.trace, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place)
    assert show.clock.at_s == pytest.approx(0.5 * show.programme.length_s, rel=0.02)
    QTest.mouseRelease(show.trace, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, place)


def test_the_wheel_over_it_changes_nothing(show):
    before = (show.clock.at_s, show.programme.slow, show.controls.loudness.value())
    for widget in (show.trace, show.before, show.controls.loudness):
        turn(widget)
    assert (show.clock.at_s, show.programme.slow, show.controls.loudness.value()) == before


def test_sound_starts_with_the_picture_from_the_same_moment(show, ear):
    QTest.keyClick(show, Key.Key_M)
    assert show.controls.sound.isChecked()
    show.clock.go_to(0.25 * show.programme.whole_s)
    QTest.keyClick(show, Key.Key_Space)
    samples, rate = ear.heard[-1]
    left = (show.programme.whole_s - 0.25 * show.programme.whole_s) * show.programme.slow
    assert len(samples) / rate == pytest.approx(left, rel=0.01)
    assert 0.0 < np.abs(samples).max() <= 0.6
    QTest.keyClick(show, Key.Key_Space)
    assert ear.stops


def test_without_the_extra_it_says_how_sound_is_had_and_plays_on(window, qtbot, monkeypatch):
    monkeypatch.setattr("app.show.page.make_player", lambda: (None, NO_EXTRA))
    window.pages.show_ring_down()
    page = window.pages.ring_down
    assert page.clock.playing
    assert not page.controls.sound.isEnabled()
    assert "quietspan[sound]" in page.controls.sound_text.text()


def test_sound_and_animation_are_written_to_files(show, tmp_path, window, qtbot):
    with qtbot.waitSignal(show.said) as said:
        show.write_wave(str(tmp_path / "ring.wav"))
    assert said.args == ["ring.wav written"]
    rate, samples = wavfile.read(tmp_path / "ring.wav")
    assert len(samples) / rate == pytest.approx(show.programme.whole_s, rel=1e-3)
    show.write_animation(str(tmp_path / "ring.html"))
    page = (tmp_path / "ring.html").read_text()
    assert "not measured" in page and "<animate" in page
    with qtbot.waitSignal(show.said) as said:
        show.write_wave(str(tmp_path / "nowhere" / "ring.wav"))
    assert "is not there" in said.args[0]


def test_a_circuit_that_makes_it_unstable_plays_nothing_and_says_why(show, window, qtbot):
    project = window.session.project
    candidate, free = project.candidate(), window.session.prediction.groups[0].free_capacitance_f
    beyond = Circuit("negative C parallel R", {"negative_capacitance_f": 3.0 * free, "resistance_ohm": 1e4})
    groups = tuple(replace(g, circuit=beyond) for g in candidate.groups)
    grows = replace(candidate, groups=groups)
    candidates = tuple(grows if c.id == grows.id else c for c in project.candidates)
    window.session.apply("beyond", replace(project, candidates=candidates))
    qtbot.waitUntil(lambda: bool(window.session.prediction.unstable), timeout=3000)
    assert show.programme is None
    assert "Unstable" in show.about.text() and "drifts" in show.about.text()
    assert not show.controls.play.isEnabled()
    QTest.keyClick(show, Key.Key_Space)
    assert not show.clock.playing


def test_the_scale_beside_the_tip_has_room_for_its_words(window, qtbot, ear):
    window.document._replace(beam_example("louvre-blade"))  # swings in shares of the start
    window.resize(960, 600)
    window.pages.show_ring_down()
    page = window.pages.ring_down
    page.clock.stop()
    qtbot.wait(20)
    for stage in (page.before, page.after):
        told = f"\N{MINUS SIGN}{swing_words(stage._scene.swing.largest, stage._scene.swing).removeprefix('± ')}"
        words = QFontMetricsF(look.font(11)).horizontalAdvance(told)
        assert stage._box().right() + 22.0 + 8.0 + words <= stage.width()
