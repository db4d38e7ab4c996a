"""Files that hold no outline are told in words, with what to do."""

from __future__ import annotations

import time

import numpy as np
import pytest

from core.outline import rings
from core.outline.drawing import OutlineDrawing, OutlineError, Trace, checked, unit_doubt
from core.outline.frame import Frame, suggest
from core.outline.readers import LARGEST_BYTES, read_drawing
from core.outline.shape import make_shape, possible_parts, source_area
from tests.core.outline.drawings import new_dxf, parts_of, read

BROKEN = {
    "noise.dxf": (bytes(range(256)) * 40, "not a DXF"),
    "words.dxf": (b"Dear customer,\nplease find attached\n", "Export it again"),
    "empty.dxf": (b"", "empty (0 bytes)"),
    "dwg.dxf": (b"AC1027" + bytes(200), "DWG"),
    "words.svg": (b"Dear customer,", "not SVG"),
    "cut.svg": (b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm"><path d="M0 0', "cut off"),
    "other.svg": (b"<html><body/></html>", "not an SVG"),
    "zero.svg": (b'<svg xmlns="http://www.w3.org/2000/svg" width="0mm" height="0"/>', "scaled to zero"),
    "nothing.svg": (b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm"><text>x</text></svg>', "no lines"),
    "words.csv": (b"x;width\n0;wide\n", '"wide", not a number'),
    "part.step": (b"ISO-10303-21;", "Export it as DXF or SVG"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_told_in_words(tmp_path, name):
    content, words = BROKEN[name]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(OutlineError) as told:
        read_drawing(path)
    assert words in str(told.value)


def test_a_cut_off_dxf_is_told_or_read_as_far_as_it_goes(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
    doc.saveas(tmp_path / "whole.dxf")
    whole = (tmp_path / "whole.dxf").read_bytes()
    path = tmp_path / "part.dxf"
    for share in (0.2, 0.5, 0.8, 0.97):
        path.write_bytes(whole[: int(share * len(whole))])
        try:
            assert read_drawing(path).traces
        except OutlineError as error:
            assert "Export" in str(error)


def test_a_file_of_50_mb_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "big.dxf"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(OutlineError, match="50 MB") as told:
        read_drawing(path)
    assert f"less than {LARGEST_BYTES // 1_000_000} MB can be read" in str(told.value)


def test_a_folder_and_a_missing_file_are_told(tmp_path):
    (tmp_path / "a.dxf").mkdir()
    with pytest.raises(OutlineError, match="folder"):
        read_drawing(tmp_path / "a.dxf")
    with pytest.raises(OutlineError, match="cannot be opened"):
        read_drawing(tmp_path / "b.dxf")


def test_an_open_outline_says_where_and_how_wide_the_gap_is(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 30), (0, 30), (0, 2)])
    drawing = read(doc, tmp_path)
    parts = parts_of(drawing)
    with pytest.raises(OutlineError, match=r"\(0.0, 0.0\) and \(0.0, 2.0\) mm are 2 mm apart"):
        source_area(parts, 0, suggest(parts_of(drawing, join_m=3e-3).polygons[0]))


def test_a_wider_reach_closes_the_gap(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 30), (0, 30), (0, 2)])
    assert len(parts_of(read(doc, tmp_path), join_m=3e-3).polygons) == 1


def test_a_self_crossing_outline_says_where(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (100, 20), (100, 0), (0, 20)], close=True)
    with pytest.raises(OutlineError, match=r"crosses itself near x = 50.0 mm, y = 10.0 mm"):
        parts_of(read(doc, tmp_path))


def test_a_drawing_of_no_size_is_told(tmp_path):
    doc, space = new_dxf()
    space.add_line((5, 5), (5, 5))
    with pytest.raises(OutlineError):
        read(doc, tmp_path)


def test_wrong_units_are_doubted_with_the_likely_one():
    assert unit_doubt("mm", 300.0) is None
    assert "In millimetres it would be 300 mm" in (unit_doubt("m", 300.0) or "")
    assert "In metres" in (unit_doubt("mm", 0.3) or "")
    # an inch header on a drawing in millimetres, the commonest of them
    assert unit_doubt("in", 40.0) is None
    assert "In millimetres it would be 300 mm" in (unit_doubt("in", 300.0) or "")


def test_a_clamp_line_past_the_part_is_told(tmp_path):
    from dataclasses import replace

    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
    parts = parts_of(read(doc, tmp_path))
    frame = replace(suggest(parts.polygons[0]), clamp_m=0.2)
    with pytest.raises(OutlineError, match="clamp line"):
        make_shape(parts.polygons[0], frame, 0.005)


def lines(*points, closed=False):
    return Trace(np.array(points, dtype=float), closed)


def joined(*traces: Trace):
    return rings.join(OutlineDrawing("part.dxf", traces, "mm", "file"), frozenset({""}), "mm")


STRIP = lines((0, 0), (200, 0), (200, 30), (0, 30), closed=True)
RANDOM = np.random.default_rng(7)


def test_a_scrap_that_crosses_itself_is_left_out_and_said():
    parts = joined(STRIP, lines((50, 5), (60, 15), (60, 5), (50, 15), closed=True))
    assert parts.polygons[0].area == pytest.approx(6e-3)
    assert any("A line crosses itself and is left out" in r and "x = 55.0 mm" in r for r in parts.remarks)


@pytest.mark.parametrize(
    ("traces", "words"),
    [
        ([Trace(RANDOM.uniform(0, 300, (19_000, 2)), True)], "crosses itself near"),
        ([Trace(RANDOM.uniform(0, 300, (300, 2)), True)], "crosses itself near"),
        ([Trace(RANDOM.uniform(0, 300, (2, 2)), False) for _ in range(1000)], "more than 5000 places"),
        ([Trace(RANDOM.uniform(0, 0.05, (2, 2)), False) for _ in range(4000)], "within 0.1 mm of each other"),
        (
            [Trace(RANDOM.uniform(0, 300, (100_000, 2)), False)],
            "100000 corners on these layers; an outline may have",
        ),
        ([Trace(RANDOM.uniform(0, 300, (2, 2)), False) for _ in range(6000)], "6000 lines on these layers"),
    ],
)
def test_what_no_outline_holds_is_refused_within_a_second_or_two(traces, words):
    begun = time.process_time()  # what it costs, however busy the machine is
    with pytest.raises(OutlineError, match=words):
        joined(*traces)
    assert time.process_time() - begun < 4.0  # under 2 s measured


def test_each_gap_of_an_open_outline_is_named():
    parts = joined(lines((0, 0), (200, 0), (200, 29)), lines((199.4, 30), (0, 30), (0, 0.5)))
    assert [round(1e3 * gap.width_m, 3) for gap in parts.gaps] == [1.166, 0.5]
    with pytest.raises(OutlineError) as told:
        source_area(parts, 0, Frame((0, 0), (0.2, 0)))
    assert "gaps, the ends at (200.0, 29.0) and (199.4, 30.0) mm are 1.17 mm apart; (0.0, 0.0) and" in str(
        told.value
    )


def test_a_part_a_hundredth_of_its_frame_can_be_chosen():
    frame = lines((-10, -10), (410, -10), (410, 287), (-10, 287), closed=True)
    parts = joined(frame, lines((0, 0), (120, 0), (120, 8), (0, 8), closed=True))
    assert [round(1e6 * area.area) for area in possible_parts(parts)] == [124740 - 960, 960]


def test_a_coordinate_beyond_any_drawing_is_told():
    with pytest.raises(OutlineError, match="coordinate of 1e"):
        checked(OutlineDrawing("part.dxf", (lines((0, 0), (1e300, 0), (0, 1e300)),), "mm", "file"))


def test_the_layout_is_read_where_the_model_space_is_empty(tmp_path):
    doc, _ = new_dxf()
    doc.layout("Layout1").add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
    drawing = read(doc, tmp_path)
    assert len(drawing.traces) == 1 and 'layout "Layout1"' in drawing.remarks[0]
