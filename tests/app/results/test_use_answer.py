"""The block above the results answers the use: what a pick-up gives, what a shaker moves and with which force."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from core.project.candidate import Instrument
from core.units import words
from tests.app.results.test_uses import look_in


def with_group(window, **changes):
    project = window.session.project
    candidate = project.candidate()
    made = replace(candidate, groups=(replace(candidate.groups[0], **changes), *candidate.groups[1:]))
    window.session.apply("Change the group", replace(project, candidates=(made, *project.candidates[1:])))
    QApplication.processEvents()


def test_the_block_of_a_pick_up_says_volts_per_mm_per_newton_and_the_smallest_motion(window, qtbot):
    look_in(window, qtbot, 3)
    block, group = window.answers.of_use, window.session.prediction.groups[0]
    assert block.isVisible() and not window.answers.block.isVisible()
    sensing = group.sensing
    slow, first = block.lines.modes
    assert slow.damping == f"{words.engineering(1e-3 * abs(sensing.slow_v_per_m), 'V')}/mm"
    assert slow.peak == words.engineering(sensing.slow_smallest_m, "m", 2)
    assert first.number == 1 and first.damping == f"{words.engineering(1e-3 * sensing.modes[0].v_per_m, 'V')}/mm"
    assert f"{words.engineering(abs(sensing.slow_v_per_n), 'V')} per N" in block.lines.settling
    assert block.lines.limit.share == words.seconds(sensing.fade_s)
    assert f"Mode 1: {words.frequency(sensing.modes[0].frequency_hz)}, gives" in block.accessibleDescription()
    assert block.cut_texts == []


def test_an_input_nobody_entered_is_a_doubt_with_the_way_to_its_field(window, qtbot):
    look_in(window, qtbot, 3)
    block = window.answers.of_use
    assert block.doubt[0] == "Input assumed" and block.settle.isVisible()
    qtbot.mouseClick(block.settle, Qt.MouseButton.LeftButton)
    assert window.inputs.circuit.instrument.field.hasFocus()
    with_group(window, instrument=Instrument("preamplifier", 1e9, 1e-10))
    assert block.doubt == ("", ()) and not block.settle.isVisible()


def test_the_block_of_a_shaker_says_motion_per_volt_blocked_force_and_free_stroke(window, qtbot):
    look_in(window, qtbot, 2)
    block, driving = window.answers.of_use, window.session.prediction.groups[0].driving
    slow, first = block.lines.modes
    assert slow.damping == f"{words.engineering(abs(driving.slow_m_per_v), 'm')}/V"
    assert slow.peak == f"±{words.engineering(driving.load_line.free_m, 'm')}"
    assert first.met is False and words.engineering(driving.modes[0].allowed_v, "V", 2) in first.short[0]
    line = driving.load_line
    assert block.lines.settling == f"{words.engineering(line.blocked_n, 'N')} blocked, {words.engineering(line.free_m, 'm')} free"
    assert block.lines.limit.level == "plain" and block.lines.limit.share == words.share(60.0 / driving.field_v)
    project = window.session.project
    window.session.apply("Push a spring", replace(project, drive=replace(project.drive, load_n_m=200.0, amplitude_v=120.0)))
    QApplication.processEvents()
    line = window.session.prediction.groups[0].driving.load_line
    assert block.lines.settling == f"{words.engineering(line.stroke_m, 'm')} with {words.engineering(line.force_n, 'N')}"
    assert block.lines.limit.level == "danger"
    assert block.cut_texts == []


def test_a_square_wave_that_overshoots_is_told(window, qtbot):
    look_in(window, qtbot, 2)
    project = window.session.project
    window.session.apply("Square", replace(project, drive=replace(project.drive, waveform="square")))
    QApplication.processEvents()
    assert window.answers.of_use.doubt[0] == "Overshoots"
    quick = replace(project.drive, frequency_hz=2e4)
    window.session.apply("Fast", replace(project, drive=quick))
    QApplication.processEvents()
    assert window.answers.of_use.doubt[0] == "The amplifier cannot follow"


def test_damping_comes_back_as_it_was(window, qtbot):
    before = window.answers.block.lines
    look_in(window, qtbot, 2)
    look_in(window, qtbot, 1)
    assert window.answers.block.isVisible() and not window.answers.of_use.isVisible()
    assert window.answers.block.lines == before


@pytest.mark.parametrize(("digit", "up", "down"), [(1, None, None), (2, True, True), (3, False, True)])
def test_the_arrow_in_the_side_view_says_how_the_point_moves_or_is_pushed(window, qtbot, digit, up, down):
    look_in(window, qtbot, digit)
    view = window.canvas.surface.view
    group = window.session.prediction.groups[0]
    if up is None:
        assert view.arrow is None
        return
    assert (view.arrow.up, view.arrow.down) == (up, down)
    assert view.arrow.x_m == group.driving.point_m
    told = words.engineering(abs(group.driving.slow_m_per_v) * 60.0, "m") if digit == 2 else f"{words.engineering(abs(group.sensing.slow_v_per_n), 'V')} per N"
    assert told in view.arrow.text
