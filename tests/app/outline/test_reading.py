"""Reading goes on beside the window: it can be stopped, what is large is read, what is left out is said."""

from __future__ import annotations

import time

import ezdxf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest

from app.outline.state import ImportState
from app.outline.tracing import load_picture
from core.outline.drawing import OutlineError
from core.outline.readers import read_drawing
from core.outline.widths import from_text
from tests.app.outline.conftest import OUTLINES, wait_read
from tests.core.outline.test_apart import nested_svg
from tests.levels import beam_example


def test_a_drawing_that_never_ends_is_stopped_by_a_click_and_another_can_be_read(
    open_import, qtbot, tmp_path
):
    (tmp_path / "deep.svg").write_text(nested_svg(40), encoding="utf-8")
    dialog = open_import()
    dialog.open_path(tmp_path / "deep.svg")
    qtbot.wait(300)
    assert dialog.reading.isVisible() and dialog.state is None
    begun = time.monotonic()
    QTest.mouseClick(dialog.stop_button, Qt.MouseButton.LeftButton)
    assert time.monotonic() - begun < 1.0 and not dialog.reading.isVisible()
    dialog.open_path(OUTLINES / "bracket.dxf")
    wait_read(qtbot, dialog)
    assert dialog.outcome.shape.span_m == pytest.approx(0.26)


def test_a_scan_of_a3_at_600_dpi_is_read(tmp_path):
    scan = QImage(7016, 9921, QImage.Format.Format_RGB32)
    scan.fill(Qt.GlobalColor.white)
    assert scan.save(str(tmp_path / "scan.jpg"))
    assert load_picture(tmp_path / "scan.jpg").width() == 7016


def test_a_picture_that_is_too_large_says_what_is_allowed(tmp_path):
    strip = QImage(12_001, 4, QImage.Format.Format_Grayscale8)
    strip.fill(0)
    strip.save(str(tmp_path / "strip.png"))
    with pytest.raises(OutlineError, match=r"12001 x 4 pixels\. Save it with at most 12000"):
        load_picture(tmp_path / "strip.png")


def drawn(tmp_path, layer: str) -> ImportState:
    doc = ezdxf.new("R2010", units=4)
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 30), (0, 30)], close=True, dxfattribs={"layer": "PART"})
    space.add_circle((50, 15), 4, dxfattribs={"layer": layer})
    doc.saveas(tmp_path / "part.dxf")
    return ImportState(beam_example("lab-beam"), read_drawing(tmp_path / "part.dxf"))


def test_a_layer_of_holes_belongs_to_the_outline(tmp_path):
    made = drawn(tmp_path, "HOLES").outcome()
    assert [cut.diameter_m for cut in made.shape.cut_outs] == pytest.approx([0.008], abs=1e-5)


def test_closed_lines_within_the_part_are_never_left_out_in_silence(tmp_path):
    made = drawn(tmp_path, "L7").outcome()
    assert made.shape.cut_outs == ()
    assert any('hold closed lines within the part: "L7" (1)' in remark for remark in made.remarks)


def test_a_table_wider_than_long_keeps_its_axis_along_x():
    state = ImportState(beam_example("lab-beam"), from_text("0;100\n40;120"))
    assert state.outcome().shape.span_m == pytest.approx(0.04)
