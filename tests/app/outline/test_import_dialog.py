"""The preview: what it shows, dragging its lines, taking the outline, broken files."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QDialogButtonBox

from app.outline.scene import across, handles
from core.outline.frame import Frame
from tests.app.outline.conftest import OUTLINES, click, drag, wait_read


def ok_button(dialog):
    return dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)


def test_a_drawing_is_shown_with_its_unit_layers_error_and_changes(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    assert dialog.form.size_told.text() == "The part is 260.0 × 48.0 mm. Written in the file."
    assert dict(dialog.state.choices.roles) == {
        "NOTES": "nothing", "OUTLINE": "outline", "KEEP-OUT TOP": "keep-out top"
    }  # fmt: skip
    text = dialog.findings.text()
    assert "Width error 0." in text and "3 holes as cut-outs; 1 opening counted into the width" in text
    assert "Span 300.0 mm → 260.0 mm" in text and "1 keep-out added" in text
    assert dialog.outcome.shape.error_share < 0.01


def test_taking_it_is_one_undo_step(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    before = dialog.session.project
    dialog.accept()
    structure = dialog.session.project.structure
    assert structure.outline.source == "bracket.dxf" and structure.span_m == 0.26
    assert [zone.face for zone in structure.keep_outs] == ["top"]
    assert dialog.session.undo_stack.count() == 1
    dialog.session.undo_stack.undo()
    assert dialog.session.project == before


def test_cancelling_changes_nothing(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    dialog.reject()
    assert dialog.session.undo_stack.count() == 0


def test_the_clamp_line_is_dragged_and_cuts_off_what_is_held(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    a, b = across(dialog.sheet.scene, dialog.sheet.scale, "clamp")
    start = a + (b - a) * 0.1
    drag(dialog, start, start + QPointF(0.03 * dialog.sheet.scale.px_per_m, 0))
    assert dialog.state.choices.frame.clamp_m == pytest.approx(0.03, abs=5e-4)
    assert dialog.outcome.shape.span_m == pytest.approx(0.23, abs=5e-4)
    assert dialog.form.clamp.value() == dialog.state.choices.frame.clamp_m
    assert len(dialog.outcome.shape.cut_outs) == 1  # the fixing holes lie in the support now


def test_the_tip_line_shortens_the_span(open_import):
    dialog = open_import(OUTLINES / "ski-forebody.svg")
    a, b = across(dialog.sheet.scene, dialog.sheet.scale, "end")
    start = a + (b - a) * 0.05
    drag(dialog, start, start - QPointF(0.1 * dialog.sheet.scale.px_per_m, 0))
    assert dialog.outcome.shape.span_m == pytest.approx(0.612, abs=3e-3)


def test_a_point_of_the_axis_catches_a_corner_of_the_drawing(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    place = handles(dialog.sheet.scene, dialog.sheet.scale)["root"]
    drag(dialog, place, dialog.sheet.scale.px(0.0, -0.0235))
    assert dialog.state.choices.frame.root == (0.0, -0.024)
    assert any("off the axis" in remark for remark in dialog.outcome.remarks)


def test_typing_a_place_moves_the_line(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    dialog.form.clamp.committed.emit(0.02)
    dialog.form.end.committed.emit(0.2)
    assert dialog.outcome.shape.span_m == pytest.approx(0.18)
    dialog.form.end.cleared.emit()
    assert dialog.outcome.shape.span_m == pytest.approx(0.24)


def test_another_unit_scales_the_part_and_is_doubted(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    dialog.form.unit_chosen.emit("m")
    assert "In metres the drawing is 260 m long. Check the unit." in dialog.form.size_told.text()
    dialog.form.unit_chosen.emit("in")
    assert dialog.outcome.shape.span_m == pytest.approx(0.26 * 25.4)


def test_a_layer_that_closes_nothing_says_so_and_cannot_be_taken(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    dialog.form.role_chosen.emit("OUTLINE", "nothing")
    assert "No layer is chosen as the outline" in dialog.trouble.text()
    assert not ok_button(dialog).isEnabled()
    dialog.form.role_chosen.emit("OUTLINE", "outline")
    assert ok_button(dialog).isEnabled()


def test_a_click_chooses_the_part_within_the_frame_of_the_drawing(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    dialog.form.role_chosen.emit("NOTES", "outline")
    assert dialog.outcome.shape.span_m == pytest.approx(0.32)  # the frame is the largest
    click(dialog, 0.03, 0.0)
    assert dialog.outcome.shape.span_m == pytest.approx(0.26) and dialog.form.part.value() == 1


@pytest.mark.parametrize("content", [b"", b"Dear customer", bytes(range(256)) * 9])
def test_a_broken_file_is_told_and_leaves_the_window_usable(open_import, qtbot, tmp_path, content):
    (tmp_path / "bad.dxf").write_bytes(content)
    dialog = open_import(tmp_path / "bad.dxf")
    assert "Export" in dialog.trouble.text()
    assert not ok_button(dialog).isEnabled()
    dialog.open_path(OUTLINES / "bracket.dxf")
    wait_read(qtbot, dialog)
    assert dialog.trouble.text() == "" and ok_button(dialog).isEnabled()


def test_pasted_widths_and_their_length(open_import):
    dialog = open_import()
    dialog.take_widths("40\n40\n20\n")
    assert not dialog.form.length_row.isHidden()
    dialog.form.length_typed.emit(0.2)
    assert dialog.outcome.shape.stations.x_m.tolist() == [0.0, 0.1, 0.2]
    dialog.take_widths("")
    assert "clipboard holds no text" in dialog.trouble.text()


def test_a_frame_survives_the_way_to_the_screen_and_back(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    assert isinstance(dialog.state.choices.frame, Frame)
    point = dialog.sheet.scale.px(0.1, 0.02)
    assert dialog.sheet.scale.at(point) == pytest.approx((0.1, 0.02))


def test_only_the_keep_outs_of_a_layer_can_be_taken(open_import):
    dialog = open_import(OUTLINES / "bracket.dxf")
    before = dialog.session.project.structure
    dialog.form.zones_only_switched.emit(True)
    dialog.accept()
    after = dialog.session.project.structure
    assert after.stations_m == before.stations_m and after.outline is None
    assert len(after.keep_outs) == len(before.keep_outs) + 1
    assert dialog.session.undo_stack.undoText() == "Import keep-outs"


def test_the_part_is_taken_and_not_the_frame_of_its_sheet(open_import, tmp_path):
    """A frame of A3 round a ski of 160 mm was taken for the part, and the part for its hole."""
    import ezdxf

    drawing = ezdxf.new(units=4)
    space = drawing.modelspace()
    for low, high in (((0, 0), (420, 297)), ((10, 10), (410, 287)), ((230, 10), (410, 70))):
        space.add_lwpolyline([low, (high[0], low[1]), high, (low[0], high[1])], close=True)
    space.add_line((230, 40), (410, 40))
    space.add_lwpolyline([(100, 150), (220, 150), (250, 155), (250, 175), (220, 180), (100, 180)], close=True)
    space.add_circle((110, 165), 3)
    drawing.saveas(tmp_path / "framed.dxf")
    dialog = open_import(tmp_path / "framed.dxf")
    assert dialog.outcome.shape.span_m == pytest.approx(0.15)
    assert len(dialog.outcome.shape.cut_outs) == 1
    assert any("the frame of the sheet" in remark for remark in dialog.outcome.remarks)
    click_at = dialog.form.part
    click_at.chosen.emit(0)
    assert dialog.outcome.shape is None or dialog.outcome.shape.span_m > 0.35
    assert not any("the frame of the sheet" in remark for remark in dialog.outcome.remarks)
