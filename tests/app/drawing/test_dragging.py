"""The hand on the drawing: real mouse and keys, read what the session holds."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QToolButton

from core.project.structure import KeepOut
from tests.app.drawing import stand_in

CTRL = Qt.KeyboardModifier.ControlModifier


def press_key(widget, key, keys=Qt.KeyboardModifier.NoModifier, *, repeat=False):
    QApplication.sendEvent(widget, QKeyEvent(QKeyEvent.Type.KeyPress, key, keys, "", repeat))


def release_key(widget, key, keys=Qt.KeyboardModifier.NoModifier, *, repeat=False):
    QApplication.sendEvent(widget, QKeyEvent(QKeyEvent.Type.KeyRelease, key, keys, "", repeat))


def test_the_example_of_these_tests_is_a_valid_project(bench):
    assert bench.session.problems == ()


def test_dragging_the_body_in_plan_moves_the_patch_in_one_undo_step(bench):
    start = bench.plan(0.05)
    bench.mouse.drag(start, start + QPointF(bench.pixels(0.030), 4), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.050, abs=1e-4)
    assert bench.patch().length_m == 0.06
    assert bench.session.undo_stack.count() == 1
    assert bench.session.undo_stack.undoText() == "Move patch P1"
    bench.session.undo_stack.undo()
    assert bench.patch().x_start_m == 0.02


def test_releasing_keeps_the_very_number_that_dragging_showed(bench):
    start = bench.plan(0.05)
    bench.mouse.press(start)
    bench.mouse.move(start + QPointF(37.3, 0), CTRL)
    shown = bench.session.shown.candidate().patches[0].x_start_m
    bench.mouse.release(start + QPointF(37.3, 0), CTRL)
    assert bench.patch().x_start_m == shown
    assert round(shown * 1e4) == pytest.approx(shown * 1e4, abs=1e-6)


def test_dragging_the_body_in_the_side_view_moves_the_patch(bench):
    start = bench.side(0.05, 0.0033)
    bench.mouse.drag(start, start + QPointF(bench.pixels(0.020), 0), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.040, abs=1e-4)


def test_dragging_the_marker_of_the_strip_moves_the_patch(bench):
    page = bench.surface.page()
    start = QPointF(page.scale.px(0.02), page.strip.center().y())
    bench.mouse.drag(start, start + QPointF(bench.pixels(0.010), 0), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.030, abs=1e-4)


@pytest.mark.parametrize("where", ["plan", "side"])
def test_dragging_the_ends_resizes_and_keeps_the_other_end(bench, where):
    def at(x_m):
        return bench.plan(x_m) if where == "plan" else bench.side(x_m, 0.0033)

    bench.mouse.drag(at(0.08), at(0.08) + QPointF(bench.pixels(0.020), 0), CTRL)
    assert bench.patch().x_start_m == 0.02
    assert bench.patch().length_m == pytest.approx(0.080, abs=2e-4)
    end = bench.patch().x_end_m
    bench.mouse.drag(at(0.02), at(0.02) + QPointF(bench.pixels(-0.010), 0), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.010, abs=2e-4)
    assert bench.patch().x_end_m == pytest.approx(end, abs=1e-9)
    assert bench.session.undo_stack.count() == 2


def test_a_click_changes_nothing(bench):
    bench.mouse.press(bench.plan(0.05))
    bench.mouse.release(bench.plan(0.05))
    assert bench.session.undo_stack.count() == 0


def test_escape_takes_a_drag_back(bench):
    start = bench.plan(0.05)
    bench.mouse.press(start)
    bench.mouse.move(start + QPointF(60, 0), CTRL)
    assert bench.session.shown != bench.session.project
    press_key(bench.surface, Qt.Key.Key_Escape)
    assert bench.session.shown == bench.session.project
    bench.mouse.move(start + QPointF(80, 0), CTRL)
    bench.mouse.release(start + QPointF(80, 0), CTRL)
    assert bench.patch().x_start_m == 0.02
    assert bench.session.undo_stack.count() == 0


def test_losing_the_focus_takes_a_drag_back(bench):
    start = bench.plan(0.05)
    bench.mouse.press(start)
    bench.mouse.move(start + QPointF(60, 0), CTRL)
    bench.surface.clearFocus()
    assert bench.session.shown == bench.session.project


def test_the_package_edge_snaps_to_a_datum_unless_ctrl_is_held(bench):
    start = bench.plan(0.05)
    # The package's root-side edge (2 mm before the ceramic) comes within three pixels of the datum at 150 mm.
    near = start + QPointF(bench.pixels(0.132) - 3, 0)
    bench.mouse.press(start)
    bench.mouse.move(near)
    assert bench.surface.snapped is not None and bench.surface.snapped.name == "hole"
    bench.mouse.release(near)
    assert bench.patch().x_start_m == pytest.approx(0.152, abs=1e-9)
    bench.session.undo_stack.undo()
    bench.mouse.drag(start, near, CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.152 - 3 / bench.pixels(1.0), abs=1e-4)


def test_a_drag_over_a_keep_out_is_shown_and_not_refused(bench):
    start = bench.plan(0.05)
    bench.mouse.drag(start, start + QPointF(bench.pixels(0.180), 0), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.200, abs=1e-4)
    assert bench.session.stale
    collisions = bench.surface.view.selected.collisions
    assert [c.text for c in collisions] == ["20.0 mm over keep clear"]


def test_a_drag_past_the_tip_is_shown_but_half_the_patch_stays_on_the_page(bench):
    start = bench.plan(0.05)
    bench.mouse.drag(start, start + QPointF(bench.pixels(0.5), 0), CTRL)
    assert bench.patch().x_start_m == pytest.approx(0.270, abs=1e-9)
    assert any("30.0 mm past the tip" in c.text for c in bench.surface.view.selected.collisions)


def test_held_arrow_keys_are_one_undo_step(bench):
    right = Qt.Key.Key_Right
    press_key(bench.surface, right)
    for _ in range(4):
        release_key(bench.surface, right, repeat=True)
        press_key(bench.surface, right, repeat=True)
    assert bench.session.undo_stack.count() == 0
    release_key(bench.surface, right)
    assert bench.patch().x_start_m == pytest.approx(0.025, abs=1e-12)
    assert bench.session.undo_stack.count() == 1


@pytest.mark.parametrize(
    ("keys", "step_m"),
    [
        (Qt.KeyboardModifier.NoModifier, 1e-3),
        (Qt.KeyboardModifier.ShiftModifier, 1e-2),
        (Qt.KeyboardModifier.AltModifier, 1e-4),
    ],
)
def test_shift_is_coarser_and_alt_finer(bench, keys, step_m):
    press_key(bench.surface, Qt.Key.Key_Left, keys)
    release_key(bench.surface, Qt.Key.Key_Left, keys)
    assert bench.patch().x_start_m == pytest.approx(0.02 - step_m, abs=1e-12)


def test_escape_takes_a_nudge_back(bench):
    press_key(bench.surface, Qt.Key.Key_Right)
    press_key(bench.surface, Qt.Key.Key_Escape)
    release_key(bench.surface, Qt.Key.Key_Right)
    assert bench.patch().x_start_m == 0.02
    assert bench.session.undo_stack.count() == 0


def two_patches():
    project = stand_in.project()
    candidate = project.candidates[0]
    second = replace(candidate.patches[0], id="P2", x_start_m=0.12, length_m=0.04)
    return replace(project, candidates=(replace(candidate, patches=(second, candidate.patches[0])),))


def test_tab_goes_through_the_patches_along_the_span_and_then_on(make_bench):
    bench = make_bench(two_patches())
    bench.session.select_patch("P1")
    assert bench.surface.focusNextPrevChild(True)
    assert bench.session.selected_patch == "P2"
    assert bench.surface.focusNextPrevChild(False)
    assert bench.session.selected_patch == "P1"


def test_a_click_selects_and_delete_removes(make_bench):
    bench = make_bench(two_patches())
    bench.mouse.press(bench.plan(0.14))
    bench.mouse.release(bench.plan(0.14))
    assert bench.session.selected_patch == "P2"
    assert "P2" in bench.surface.accessibleDescription()
    press_key(bench.surface, Qt.Key.Key_Delete)
    assert [p.id for p in bench.session.project.candidate().patches] == ["P1"]
    bench.session.undo_stack.undo()
    assert len(bench.session.project.candidate().patches) == 2


def test_a_keep_out_is_drawn_on_the_plan(bench):
    bench.canvas.set_tool("keep-out")
    bench.mouse.drag(bench.plan(0.15, 0.03), bench.plan(0.19, -0.03), CTRL)
    zone = bench.session.project.structure.keep_outs[-1]
    assert (zone.face, zone.polygon_m) == ("top", None)
    assert zone.x_start_m == pytest.approx(0.15, abs=2e-4)
    assert zone.x_end_m == pytest.approx(0.19, abs=2e-4)
    assert bench.session.undo_stack.undoText() == "Draw keep-out"


def test_a_keep_out_inside_the_outline_is_a_box(bench):
    bench.canvas.set_tool("keep-out", "underside")
    bench.mouse.drag(bench.plan(0.15, 0.010), bench.plan(0.19, -0.005), CTRL)
    zone = bench.session.project.structure.keep_outs[-1]
    assert zone.face == "underside"
    assert max(y for _, y in zone.polygon_m) == pytest.approx(0.010, abs=3e-4)
    assert min(y for _, y in zone.polygon_m) == pytest.approx(-0.005, abs=3e-4)


def test_a_keep_out_drawn_below_the_side_view_is_on_the_underside(bench):
    bench.canvas.set_tool("keep-out")
    bench.mouse.drag(bench.side(0.10, -0.001), bench.side(0.13, -0.001), CTRL)
    assert bench.session.project.structure.keep_outs[-1].face == "underside"


def test_a_keep_out_moves_and_resizes(bench):
    bench.mouse.drag(bench.plan(0.246), bench.plan(0.206), CTRL)
    zone = bench.session.project.structure.keep_outs[0]
    assert (zone.x_start_m, zone.x_end_m) == pytest.approx((0.196, 0.216), abs=2e-4)
    end = zone.x_end_m
    bench.mouse.drag(bench.plan(end), bench.plan(end + 0.03), CTRL)
    zone = bench.session.project.structure.keep_outs[0]
    assert (zone.x_start_m, zone.x_end_m) == pytest.approx((0.196, 0.246), abs=3e-4)
    assert bench.session.undo_stack.count() == 2


def test_a_keep_out_polygon_moves_with_its_corners(make_bench):
    project = stand_in.project()
    corners = ((0.2, 0.0), (0.22, 0.0), (0.22, 0.01), (0.2, 0.01))
    zone = KeepOut("bolt", "top", 0.2, 0.22, corners)
    bench = make_bench(replace(project, structure=replace(project.structure, keep_outs=(zone,))))
    bench.mouse.drag(bench.plan(0.21, 0.005), bench.plan(0.19, 0.005), CTRL)
    moved = bench.session.project.structure.keep_outs[0]
    assert moved.polygon_m[0] == pytest.approx((0.18, 0.0), abs=2e-4)
    assert moved.x_start_m == moved.polygon_m[0][0]


def test_an_unknown_tool_is_named(bench):
    with pytest.raises(ValueError, match="pencil"):
        bench.canvas.set_tool("pencil")


def test_the_tool_row_picks_the_keep_out_tool_and_drawing_one_gives_it_back(bench, qtbot):
    button = bench.canvas.findChild(QToolButton, "tool_keep-out_underside")
    with qtbot.waitSignal(bench.canvas.tool_changed):
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert bench.canvas.tool == "keep-out"
    bench.mouse.drag(bench.plan(0.10, 0.03), bench.plan(0.12, -0.03), CTRL)
    assert bench.session.project.structure.keep_outs[-1].face == "underside"
    assert bench.canvas.tool == "select"
    assert bench.canvas.findChild(QToolButton, "tool_select_top").isChecked()


def test_escape_gives_the_keep_out_tool_back(bench):
    bench.canvas.set_tool("keep-out")
    press_key(bench.surface, Qt.Key.Key_Escape)
    assert bench.canvas.tool == "select"


def test_a_clicked_keep_out_is_marked_and_delete_removes_it(bench):
    bench.mouse.press(bench.plan(0.246))
    bench.mouse.release(bench.plan(0.246))
    assert bench.surface.marked_keep_out == 0
    bench.canvas.grab()
    press_key(bench.surface, Qt.Key.Key_Delete)
    assert bench.session.project.structure.keep_outs == ()
    assert len(bench.session.project.candidate().patches) == 1


def test_a_zone_along_the_whole_span_does_not_lie_under_every_click(make_bench):
    project = stand_in.project()
    window = KeepOut("window", "top", 0.2, 0.23)
    under = KeepOut("running surface", "underside", 0.0, project.structure.span_m)
    bench = make_bench(replace(project, structure=replace(project.structure, keep_outs=(window, under))))
    bench.mouse.drag(bench.plan(0.215), bench.plan(0.205), CTRL)
    bench.mouse.drag(bench.plan(0.15, 0.012), bench.plan(0.16, 0.012), CTRL)
    moved, left = bench.session.project.structure.keep_outs
    assert moved.x_start_m == pytest.approx(0.19, abs=3e-4)
    assert left == under
