"""The map on screen: pressed, walked over by keys, refused where it is not allowed, cancelled."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QStyle, QStyleOptionComboBox

from app.panels.edits import with_new_absorber
from app.studies import map_form
from app.studies.edits import at_cell
from app.studies.map_view import scale_texts
from app.studies.page import MAP
from app.studies.words import band_text, cell_text
from core.project.edit import with_candidate, with_patch, with_structure, without_patch
from core.project.structure import KeepOut
from core.study.placement.map_nodes import carries
from tests.levels import beam_example


@pytest.fixture
def page(open_studies, monkeypatch):
    monkeypatch.setattr(map_form, "SHAPE", (30, 10))
    project = with_structure(beam_example("lab-beam"), keep_outs=(KeepOut("label", "top", 0.2, 0.22),))
    return open_studies(project, MAP, (1100, 700))


def drawn(qtbot, page):
    """The map, once it is whole."""
    view = page.map.view
    qtbot.waitUntil(lambda: view.shown is not None and view.shown.done == 1.0 and page.map.band.text() != "")
    return view.shown


def press(qtbot, page, i, j):
    found = page.map.view.shown
    point = page.map.view.at(found.across_m[i], found.size_m[j])
    qtbot.mouseClick(page.map.view, Qt.MouseButton.LeftButton, pos=QPoint(round(point.x()), round(point.y())))


def patch_of(page):
    return page.session.project.candidate().patches[0]


def test_a_click_moves_the_patch_in_one_undo_step(qtbot, page):
    found = drawn(qtbot, page)
    before, steps = patch_of(page), page.session.undo_stack.count()
    press(qtbot, page, 12, 4)
    assert patch_of(page).x_start_m == pytest.approx(found.across_m[12], abs=1e-4)
    assert patch_of(page).length_m == pytest.approx(found.size_m[4], abs=1e-4)
    assert page.session.undo_stack.count() == steps + 1
    assert page.session.undo_stack.undoText().startswith("Move P1 to start")
    page.session.undo_stack.undo()
    assert patch_of(page) == before


def test_moving_the_patch_keeps_the_map(qtbot, page):
    found = drawn(qtbot, page)
    press(qtbot, page, 12, 4)
    qtbot.wait(2 * 150)
    assert page.map.view.shown is found


@pytest.mark.parametrize("changed", ["tuned mass", "parts"])
def test_what_else_damps_makes_another_map(qtbot, page, changed):
    """It stayed as it was, though every prediction of it had changed."""
    found, session = drawn(qtbot, page), page.session
    candidate = session.project.candidate()
    other = with_candidate(session.project, replace(candidate, build=replace(candidate.build, series="E12")))
    if changed == "tuned mass":
        other, _ = with_new_absorber(session.project, session.prediction)
    session.apply("Change", other)
    qtbot.waitUntil(lambda: page.map.view.shown is not found and page.map.view.shown.done == 1.0, timeout=20000)
    assert (abs(page.map.view.shown.values - found.values) > 1e-6 * found.values).any()


def test_a_cell_that_is_not_allowed_is_told_and_not_taken(qtbot, page):
    found = drawn(qtbot, page)
    i, j = np.argwhere([[("label" in found.reason_at(i, j)) for j in range(10)] for i in range(30)])[0]
    before = patch_of(page)
    press(qtbot, page, i, j)
    assert patch_of(page) == before
    assert 'lies over the keep-out "label"' in page.map.readout.text()


def test_a_map_with_the_keyboard_shows_it(qtbot, page):
    drawn(qtbot, page)
    page.activateWindow()
    page.map.form.low.setFocus()
    without = page.map.view.grab().toImage()
    page.map.view.setFocus()
    assert page.map.view.hasFocus() and page.map.view.grab().toImage() != without


def test_arrow_keys_walk_and_enter_moves(qtbot, page):
    found = drawn(qtbot, page)
    view = page.map.view
    qtbot.keyClick(view, Qt.Key.Key_Right)
    i, j = found.best
    assert cell_text(found, i + 1, j) == page.map.readout.text() == view.accessibleDescription()
    qtbot.keyClick(view, Qt.Key.Key_Return)
    assert patch_of(page).x_start_m == pytest.approx(found.across_m[i + 1], abs=1e-4)


def test_thickness_makes_a_package_of_its_own(qtbot, page):
    drawn(qtbot, page)
    page.map.form.axis.set_value(("start", "thickness"))
    page.map.form.axis.chosen.emit(("start", "thickness"))
    qtbot.waitUntil(
        lambda: page.map.view.shown.request.axis == "thickness" and page.map.view.shown.done == 1.0
    )
    found = page.map.view.shown
    press(qtbot, page, 3, 2)
    project = page.session.project
    package = project.package(patch_of(page).package)
    assert package.ceramic_thickness_m == pytest.approx(found.size_m[2], abs=1e-6)
    assert package.name == f"Type II, 50 x 25 x 0.25, ceramic {1e3 * package.ceramic_thickness_m:.4g} mm"
    assert page.session.problems == ()


def test_clicking_on_through_thicknesses_leaves_no_packages_behind():
    before = beam_example("lab-beam")
    names = tuple(p.name for p in before.packages)
    once = at_cell(before, "P1", "thickness", 0.01, 0.0004)
    assert len(once.packages) == len(names) + 1
    twice = at_cell(once, "P1", "thickness", 0.02, 0.0005)
    assert len(twice.packages) == len(names) + 1
    assert twice.package(patch_in(twice).package).ceramic_thickness_m == 0.0005
    back = at_cell(twice, "P1", "thickness", 0.02, 0.00025)
    assert tuple(p.name for p in back.packages) == names
    assert patch_in(back).package == "Type II, 50 x 25 x 0.25"
    # a copy that another candidate uses stays
    other = with_patch(once, "B", replace(once.candidate("B").patches[0], package=patch_in(once).package))
    assert len(at_cell(other, "P1", "thickness", 0.02, 0.0005).packages) == len(names) + 2


def patch_in(project):
    return project.candidate().patches[0]


def test_the_newest_request_wins_and_cancel_keeps_what_is_drawn(qtbot, page):
    drawn(qtbot, page)
    for quantity in ("coupling", "electrode use", "strain margin"):
        page.map.form.quantity.set_value(quantity)
        page.map.form.quantity.chosen.emit(quantity)
    qtbot.waitUntil(lambda: page.map.view.shown.request.quantity == "strain margin")
    found = page.map.view.shown
    page.map.form.quantity.set_value("peak change")
    page.map.form.quantity.chosen.emit("peak change")
    page.map.cancel()
    qtbot.wait(100)
    assert page.map.view.shown.request is found.request
    assert "Cancelled" in page.map.progress.words.text()


def test_without_a_patch_it_says_what_to_do(qtbot, page):
    drawn(qtbot, page)
    project = page.session.project
    page.session.apply("Delete", without_patch(project, project.active, "P1"))
    qtbot.waitUntil(lambda: "has no patch" in page.map.empty.text())


def test_an_empty_range_is_told(qtbot, page):
    drawn(qtbot, page)
    page.map.form.high.set_value(0.001)
    page.map.form.changed.emit()
    assert "ends before it starts" in page.map.empty.text()


def test_the_band_speaks(qtbot, page):
    found = drawn(qtbot, page)
    text = band_text(found)
    assert text == page.map.band.text()
    assert text.startswith("Best damping ratio of mode 1")
    assert "hatched band stays within 5 %" in text


def test_the_table_holds_the_map(qtbot, page):
    found = drawn(qtbot, page)
    table = page.map.table()
    assert len(table) == 31
    assert float(table[4][3]) == pytest.approx(100 * found.values[3, 2], rel=1e-4)


def test_thickness_against_length_keeps_the_start_and_a_click_sets_both(qtbot, page):
    drawn(qtbot, page)
    start = patch_of(page).x_start_m
    page.map.form.axis.set_value(("length", "thickness"))
    page.map.form.axis.chosen.emit(("length", "thickness"))
    qtbot.waitUntil(lambda: page.map.view.shown.request.over == "length" and page.map.view.shown.done == 1.0)
    found = page.map.view.shown
    assert page.map.view._present == (patch_of(page).length_m, 0.00025)
    i, j = found.best
    page.map.move_patch(i, j)
    patch = patch_of(page)
    assert patch.x_start_m == start
    assert patch.length_m == pytest.approx(found.across_m[i], abs=1e-4)
    package = page.session.project.package(patch.package)
    assert package.ceramic_thickness_m == pytest.approx(found.size_m[j], abs=1e-6)
    assert page.session.prediction.modes[0].zeta == pytest.approx(found.best_value, rel=0.02)
    assert "ceramic length" in band_text(found) and "ceramic thickness" in band_text(found)


@pytest.mark.parametrize(("low", "high", "texts"), [
    (0.004500, 0.004501, ["0.45 %"]), (0.0045, 0.00462, ["0.45 %", "0.46 %"]),
    (0.004, 0.0148, ["0.40 %", "0.67 %", "0.94 %", "1.21 %", "1.48 %"]),
])  # fmt: skip
def test_no_number_stands_twice_beside_the_colours(low, high, texts):
    told = scale_texts(low, high, "%")
    assert [text for _, text in told] == texts
    assert told[0][0] == 0.0 and (len(told) == 1 or told[-1][0] == 1.0)


def test_carrying_over_is_told_only_where_it_is_done(page):
    session, about = page.session, page.map.about
    assert session.project.structure.level == "section" and "carried over" not in about.text()
    session.apply("Sections", with_structure(session.project, level="across"))
    page.map.refresh()
    assert "carried over" in about.text()
    page.map.form.quantity.set_value("strain margin")
    page.map.refresh()
    assert ("carried over" in about.text()) == carries(session.project.structure, "strain margin")


def test_what_a_map_is_over_is_read_whole(page):
    field = page.map.form.axis
    box = field.style().subControlRect(QStyle.ComplexControl.CC_ComboBox, _option(field), QStyle.SubControl.SC_ComboBoxEditField, field)
    widest = max(field.fontMetrics().horizontalAdvance(field.itemText(i)) for i in range(field.count()))
    assert widest <= box.width()


def _option(field):
    option = QStyleOptionComboBox()
    field.initStyleOption(option)
    return option
