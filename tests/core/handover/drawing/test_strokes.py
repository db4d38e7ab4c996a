"""Items reduced to primitives: hatching stays inside, text is measured, SVG is well formed."""

from __future__ import annotations

from math import dist
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.handover.drawing.items import Arrow, DatumSymbol, Drawing, Hatch, Line, Polygon, Text
from core.handover.drawing.lettering import text_box, text_width_mm, wrap
from core.handover.drawing.strokes import Fill, Stroke, hatch_lines, strokes
from core.handover.drawing.svg import drawing_svg
from core.handover.sheet.diagram import placement_diagram
from tests.core.handover.sheet_scenes import lab

SVG = "{http://www.w3.org/2000/svg}"


def test_hatch_of_a_square_has_the_length_its_area_asks_for():
    square = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
    total = sum(dist(a, b) for a, b in hatch_lines(square, Hatch(30.0, 0.5)))
    assert total == pytest.approx(1600 / 0.5, rel=0.01)


@given(st.floats(0, 180), st.floats(0.5, 3.0))
def test_hatch_lines_end_on_the_polygon(angle, spacing):
    notch = ((0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (15.0, 8.0), (0.0, 20.0))
    for a, b in hatch_lines(notch, Hatch(angle, spacing)):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        roof = 20.0 - 12.0 * min(middle[0], 30.0 - middle[0]) / 15.0
        assert -1e-6 <= middle[1] <= roof + 1e-6


def test_an_arrow_ends_at_its_tip():
    shaft, head = strokes(Arrow((0.0, 0.0), (10.0, 0.0), "lead"))
    assert isinstance(head, Fill) and (10.0, 0.0) in head.points
    assert isinstance(shaft, Stroke) and shaft.points[-1][0] < 10.0


def test_a_datum_triangle_stands_on_the_feature():
    triangle = next(strokes(DatumSymbol((5.0, 5.0), "down", "A")))
    assert sorted(p[1] for p in triangle.points)[:2] == [5.0, 5.0]


def test_an_unfilled_polygon_without_edge_draws_only_its_hatch():
    square = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
    drawn = list(strokes(Polygon(square, "keep-out", None, hatch=Hatch())))
    assert drawn and all(isinstance(p, Stroke) and not p.closed for p in drawn)


def test_bold_is_wider_and_size_scales():
    assert text_width_mm("Placement", 3.0, bold=True) > text_width_mm("Placement", 3.0)
    assert text_width_mm("Placement", 6.0) == pytest.approx(2 * text_width_mm("Placement", 3.0))


def test_turned_text_has_a_turned_box():
    left, top, right, bottom = text_box(Text((10.0, 50.0), "12.0", 3.0, angle_deg=90))
    assert bottom == pytest.approx(50.0) and bottom - top > right - left


@given(st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=120), st.floats(8.0, 60.0))
def test_wrapped_lines_fit_and_lose_nothing(text, width):
    lines = wrap(text, 2.5, width)
    assert all(text_width_mm(line, 2.5) <= width + 1e-9 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_a_number_keeps_its_unit():
    lines = wrap("never above 85 °C (package limit; half the Curie temperature is 182 °C).", 2.5, 30.0)
    assert not any(line.startswith(("°C", "%")) for line in lines)


def test_svg_has_the_paper_size_and_text_as_text():
    root = ElementTree.fromstring(drawing_svg(placement_diagram(lab())))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("297mm", "210mm", "0 0 297 210")
    texts = [element.text for element in root.iter(f"{SVG}text")]
    assert "A to P1 241.0 ± 1.0" in texts
    assert len(list(root.iter(f"{SVG}path"))) > 50


def test_svg_escapes_what_a_person_types():
    drawing = Drawing("A4", 297.0, 210.0, (Text((5.0, 5.0), "a < b & c", 3.0),), "x & y")
    root = ElementTree.fromstring(drawing_svg(drawing))
    assert [element.text for element in root.iter(f"{SVG}text")] == ["a < b & c"]


def test_dashed_lines_stay_dashed_in_svg():
    drawing = Drawing("A4", 297.0, 210.0, (Line((0.0, 0.0), (9.0, 0.0), "ceramic", dash="dashed"),), "x")
    path = next(ElementTree.fromstring(drawing_svg(drawing)).iter(f"{SVG}path"))
    assert path.get("stroke-dasharray") == "2.4 1.2"
