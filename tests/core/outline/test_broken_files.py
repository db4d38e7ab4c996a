"""Files that hold no outline are told in words, with what to do."""

from __future__ import annotations

import pytest

from core.outline.drawing import OutlineError, unit_doubt
from core.outline.frame import suggest
from core.outline.readers import LARGEST_BYTES, read_drawing
from core.outline.shape import make_shape, source_area
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
    assert f"less than {LARGEST_BYTES // 1_000_000} MB" in str(told.value)


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
    with pytest.raises(OutlineError, match=r"\(0.0, 0.0\) and \(0.0, 2.0\) mm do not meet, a gap of 2 mm"):
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
