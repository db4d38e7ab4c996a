"""The first screenful answers: at every size, for every example, and what it says is right."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QApplication, QLineEdit

from app.fields import ChoiceField, QuantityField
from app.panels.asked_fields import PeakChangeField
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from app.theme import look
from core.predict.predict import predict
from core.project import edit, library
from core.project.service import Asked, Impact, StaticForce
from tests.app.conftest import discard_changes
from tests.app.drawing.conftest import Bench
from tests.levels import beam_example

SIZES = [(1920, 1200), (1600, 1000), (1280, 800), (1067, 667), (853, 533), (800, 500)]
"""1600 x 1000 at 100, 150 and 200 per cent are 1600, 1067 and 800 wide; 1280 x 800 at 150 is 853."""


@pytest.fixture
def make_window(qtbot):
    def make(key: str, size: tuple[int, int] = (1440, 900), *, as_shipped: bool = False) -> MainWindow:
        """At the level of beams, which costs a third, unless `as_shipped`."""
        look.set_look(look.light())
        opened = MainWindow(Session(library.example(key) if as_shipped else beam_example(key)), Settings())
        opened.session.setParent(opened)
        qtbot.addWidget(opened, before_close_func=discard_changes)
        opened.resize(*size)
        with qtbot.waitExposed(opened):
            opened.show()
        QApplication.processEvents()
        return opened

    return make


def in_window(widget, window) -> bool:
    box = QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())
    return widget.isVisible() and window.rect().contains(box)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize(
    "key", ["touring-ski", *(pytest.param(k, marks=pytest.mark.slow) for k in ("gantry-bracket", "louvre-blade"))]
)
def test_what_answers_is_on_the_screen_and_no_label_is_cut(make_window, key, size):
    window = make_window(key, size, as_shipped=True)
    window.answers.block.show_doubt("Permittivity of Navy Type II", ("peak of mode 1 may be −28 to −20 %", "−28 %"))
    QApplication.processEvents()
    window.grab()
    assert (window.width(), window.height()) == size
    for widget in (window.answers.block, window.canvas, window.bar.pages, window._status, window._status._time):
        assert in_window(widget, window), widget.objectName()
    assert window.answers.block.cut_texts == []
    page, seen = window.canvas.surface.page(), window.canvas.viewport().height()
    asked = [rect for rect, wanted in zip(page.modes, window.canvas.surface.view.asked_flags, strict=True) if wanted]
    for rect in (page.plan, page.side, *asked, page.strip, page.strain):
        assert rect.height() >= 36
        assert rect.bottom() <= seen
    assert page.scale.right_px + 44 <= window.canvas.viewport().width()
    for name, _ in (("drawing", ""), ("compare", ""), ("studies", ""), ("papers", "")):
        button = window.bar.pages.button(name)
        assert button.fontMetrics().horizontalAdvance(button.text()) <= button.width()


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_inputs_are_beside_the_drawing_or_one_key_away(make_window, qtbot, size):
    window = make_window("touring-ski", size)
    beside = size[0] >= 1150
    assert in_window(window.inputs, window) is beside
    assert window.pages.input_side.rail.isVisible() is not beside
    qtbot.keyClick(window, Qt.Key.Key_F4)
    QApplication.processEvents()
    assert in_window(window.inputs, window) is not beside
    qtbot.keyClick(window, Qt.Key.Key_F4)
    QApplication.processEvents()
    assert in_window(window.inputs, window) is beside


def test_inputs_over_the_page_are_typed_into_and_escape_closes_them(make_window, qtbot):
    window = make_window("touring-ski", (1067, 667))
    qtbot.keyClick(window, Qt.Key.Key_F4)
    field = window.inputs.asked.modes.field
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "1")
    qtbot.keyClick(window.pages.input_side, Qt.Key.Key_Escape)
    assert not window.pages.input_side.is_open
    assert window.session.project.service.asked.modes == (1,)


def test_a_click_beside_inputs_that_lie_over_the_page_closes_them(make_window, qtbot):
    """The drawing takes a press for itself, so that they stayed over what was worked on."""
    window = make_window("touring-ski", (1067, 667))
    side, surface = window.pages.input_side, window.canvas.surface
    for beside in (surface, window.results.bars):
        qtbot.keyClick(window, Qt.Key.Key_F4)
        qtbot.mouseClick(window.inputs.asked.heading, Qt.MouseButton.LeftButton)
        assert side.is_open
        qtbot.mouseClick(beside, Qt.MouseButton.LeftButton, pos=QPoint(beside.width() - 20, 20))
        assert not side.is_open


def test_a_wider_window_brings_the_inputs_back_beside_it(make_window):
    window = make_window("touring-ski", (1067, 667))
    window.resize(1400, 900)
    QApplication.processEvents()
    assert in_window(window.inputs, window)
    assert not window.pages.input_side.rail.isVisible()


def test_the_block_says_what_a_hand_computes(make_window):
    window = make_window("louvre-blade")
    lines = window.answers.block.lines
    mode = predict(window.session.project).modes[1]
    change = 100 * (10 ** (mode.peak_change_db / 20) - 1)
    (row,) = lines.modes
    assert row.number == 2
    assert row.peak == f"−{abs(change):.0f} %"
    assert row.damping == f"{100 * mode.zeta_before:.2f} → {100 * mode.zeta:.2f} %"
    assert (lines.state, lines.badge) == ("missed", "missed")
    assert row.short[0] == f"{change + 25:.2g} points short"
    said = " ".join(window.answers.block.sentences())
    for word in ("resistor", "20 °C", "vortex lock-in", "−25 %"):
        assert word in said


def test_the_ski_is_answered_at_minus_ten_degrees(make_window):
    window = make_window("touring-ski")
    cold = predict(window.session.project, temperature_c=-10.0)
    rows = window.answers.block.lines.modes
    assert [row.number for row in rows] == [1, 2]
    for row, mode in zip(rows, cold.modes, strict=False):
        assert row.damping == f"{100 * mode.zeta_before:.2f} → {100 * mode.zeta:.2f} %"
    assert "−10 °C" in window.answers.block.lines.about[0]


def test_during_a_drag_an_answer_at_another_temperature_waits_and_says_so(make_window, qtbot):
    window = make_window("touring-ski")
    bench = Bench(window.session, window.canvas)
    bench.mouse.press(bench.plan(0.060))
    bench.mouse.move(bench.plan(0.120))
    lines = window.answers.block.lines
    assert lines.state == "waits"
    assert "20 °C" in lines.about[0]
    qtbot.waitUntil(lambda: window.answers.block.lines.state == "missed", timeout=5000)
    bench.mouse.release(bench.plan(0.120))
    assert window.answers.block.lines.state == "missed"
    assert "−10 °C" in window.answers.block.lines.about[0]


def test_a_target_met_says_so_and_by_how_much(make_window):
    window = make_window("lab-beam")
    zeta = 100 * predict(window.session.project).modes[0].zeta
    lines = window.answers.block.lines
    assert lines.badge == "met"
    assert lines.modes[0].short[0] == f"{zeta - 0.30:.2f} points to spare"


def test_with_nothing_asked_the_tuned_mode_is_told_and_the_block_asks(make_window, qtbot):
    window = make_window("louvre-blade")
    project = window.session.project
    window.session.apply("Ask nothing", edit.with_service(project, asked=Asked()))
    lines = window.answers.block.lines
    assert (lines.badge, [row.number for row in lines.modes]) == ("", [2])
    assert window.answers.block.ask.isVisible()
    qtbot.mouseClick(window.answers.block.ask, Qt.MouseButton.LeftButton)
    assert window.inputs.asked.modes.field.hasFocus()


def beyond(project):
    """The project with a static force that no ceramic survives."""
    force = StaticForce("leaned on", 6.0)
    return edit.with_service(project, static_forces=(*project.service.static_forces, force))


def test_a_broken_limit_is_on_the_drawing_and_in_the_block(make_window):
    window = make_window("lab-beam")
    quiet = window.grab()
    assert window.answers.block.lines.limit.level != "danger"
    assert not any(mark.broken for mark in window.canvas.surface.view.marks)
    window.session.apply("Lean", beyond(window.session.project))
    worst = window.session.prediction.limits[0]
    told = window.answers.block.lines.limit
    assert told.level == "danger"
    assert told.names[0] == worst.name
    assert told.share == f"{100 / worst.margin:.0f} %"
    marks = window.canvas.surface.view.marks
    assert marks[0].broken and marks[0].patch == "P1"
    assert marks[0].text.endswith(f"{100 / worst.margin:.0f} %")
    red = look.current().danger.rgb()
    plan = window.canvas.surface.page().plan.toRect()

    def reds(picture) -> int:
        image = picture.toImage()
        top = window.canvas.surface.mapTo(window, plan.topLeft())
        return sum(
            image.pixel(x, y) == red
            for x in range(top.x(), top.x() + plan.width(), 2)
            for y in range(top.y(), top.y() + plan.height(), 2)
        )

    assert reds(window.grab()) > 10 > reds(quiet)


def test_the_way_from_the_worst_limit_to_the_list(make_window, qtbot):
    window = make_window("touring-ski", (1280, 800))
    qtbot.mouseClick(window.answers.block.more, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    assert in_window(window.results.limits, window) or not window.results.limits.visibleRegion().isEmpty()
    rows = window.results.limits.rows
    assert all("reached at" in row.second for row, limit in zip(rows, window.session.prediction.limits, strict=True)
               if limit.load_at_limit and limit.margin < 1e6)  # fmt: skip


def test_a_folded_section_still_says_its_number(make_window):
    window = make_window("touring-ski", (1067, 667))
    sections = window.results._sections
    assert not sections["bars"].folded
    assert sections["ring"].folded and sections["ring"].summary.startswith("to 5 % in")
    worst = min(limit.margin for limit in window.session.prediction.limits)
    assert sections["limits"].folded and f"worst {100 / worst:.0f} %" in sections["limits"].summary
    assert "mode 1" in sections["response"].summary


def test_a_section_a_person_unfolds_stays_unfolded(make_window, qtbot):
    window = make_window("touring-ski", (1067, 667))
    section = window.results._sections["ring"]
    qtbot.mouseClick(section._title, Qt.MouseButton.LeftButton)
    assert not section.folded
    window.resize(1100, 660)
    QApplication.processEvents()
    assert not section.folded


def test_results_of_a_layout_that_cannot_be_predicted_are_faded_as_a_whole(make_window):
    window = make_window("lab-beam")
    project = window.session.project
    patch = replace(project.candidate().patches[0], x_start_m=0.29)
    window.session.apply("Move", edit.with_patch(project, project.active, patch))
    panel = window.results
    assert window.session.stale
    assert window.answers.block._faded
    assert panel.bars._stale and panel.limits._faded and panel.groups._faded and panel.masses._faded
    assert panel.remarks._faded and panel.assumed._faded and panel.peaks._faded
    assert window.canvas.surface.view.marks == ()


# ---- typing a target -------------------------------------------------------------------------


def retype(qtbot, field: QLineEdit, text: str) -> None:
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)


@pytest.mark.parametrize(
    ("text", "share"),
    [("-40", -0.40), ("40 %", -0.40), ("40 % less", -0.40), ("-6.0206 dB", -0.5), ("3 dB", 10 ** (-3 / 20) - 1)],
)
def test_a_peak_is_typed_in_per_cent_or_decibels(make_window, qtbot, text, share):
    window = make_window("louvre-blade")
    retype(qtbot, window.inputs.findChild(PeakChangeField), text)
    assert window.session.project.service.asked.values == pytest.approx((share,), abs=1e-6)


def test_modes_a_temperature_and_a_load_are_typed_and_chosen(make_window, qtbot):
    window = make_window("louvre-blade")
    retype(qtbot, window.inputs.asked.modes.field, "2 and 1")
    retype(qtbot, window.inputs.asked.findChild(QuantityField, "field Held at"), "-20")
    under = window.inputs.asked.findChild(ChoiceField, "field Under")
    under.setFocus()
    qtbot.keyClick(under, Qt.Key.Key_End)
    asked = window.session.project.service.asked
    assert (asked.modes, asked.temperature_c, asked.load) == ((1, 2), -20.0, 1)
    assert "flicked by hand" in window.answers.block.lines.about[0]


def test_another_quantity_starts_from_a_value_it_can_have(make_window):
    window = make_window("louvre-blade")
    wanted = window.inputs.asked.findChild(ChoiceField, "field Wanted")
    wanted.chosen.emit("settling")
    assert window.session.project.service.asked.values == (1.0,)
    assert window.session.problems == ()
    assert window.answers.block.lines.settling.startswith("settles in")


def test_what_is_no_mode_is_told_beside_the_field(make_window, qtbot):
    window = make_window("louvre-blade")
    row = window.inputs.asked.modes
    retype(qtbot, row.field, "first")
    assert '"first" is not a mode. Type the numbers in the circles' in row.problem()
    retype(qtbot, row.field, "T1")
    assert '"T1" is not a mode. A mode that twists has no number' in row.problem()
    assert window.session.project.service.asked.modes == (2,)


def test_a_load_taken_away_takes_its_target_back_to_the_one_looked_at(make_window):
    window = make_window("louvre-blade")
    service = window.session.project.service
    third = Impact("knock", 0.1, 1e-3, (10.0, 600.0))
    asked = replace(service.asked, load=2)
    changed = replace(service, loads=(*service.loads, third), asked=asked, active_load=0)
    window.session.apply("Add", edit.with_service(window.session.project, changed))
    window.inputs.service.remove_load()
    assert window.session.project.service.asked.load == 1
    window.session.apply("Look", edit.with_service(window.session.project, active_load=1))
    window.inputs.service.remove_load()
    assert window.session.project.service.asked.load is None
