"""DXF: entities, units, layers, blocks, and the way back."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.project.structure import Outline
from tests.core.outline.drawings import new_dxf, parts_of, read, shape_of

CIRCLE = [(math.cos(a), math.sin(a)) for a in np.linspace(0, 2 * math.pi, 721)[:-1]]


def far_apart_m(a, b) -> float:
    return float(shapely.hausdorff_distance(a, b, densify=0.01))


def test_lines_arcs_and_a_circle_join_to_one_part_with_a_hole(tmp_path):
    doc, space = new_dxf()
    space.add_line((0, -20), (200, -20))
    space.add_arc((200, 0), 20, 270, 90)
    space.add_line((0, 20), (200, 20))  # drawn the other way round
    space.add_line((0, 20.00004), (0, -20))  # an end that meets only nearly
    space.add_circle((50, 0), 5)
    parts = parts_of(read(doc, tmp_path))
    area = 200 * 40 + math.pi * 400 / 2 - math.pi * 25
    assert len(parts.polygons) == 1 and len(parts.polygons[0].interiors) == 1
    assert parts.polygons[0].area * 1e6 == pytest.approx(area, rel=1e-4)


@pytest.mark.parametrize("code, factor", [(1, 0.0254), (4, 1e-3), (5, 1e-2), (6, 1.0)])
def test_the_header_gives_the_unit(tmp_path, code, factor):
    doc, space = new_dxf(code)
    space.add_lwpolyline([(0, 0), (0.3 / factor, 0), (0.3 / factor, 0.03 / factor), (0, 0.03 / factor)],
                         close=True)  # fmt: skip
    drawing = read(doc, tmp_path)
    assert drawing.unit_from == "file"
    assert shape_of(drawing).span_m == pytest.approx(0.3, abs=1e-7)


def test_without_a_unit_in_the_header_it_is_a_guess(tmp_path):
    doc, space = new_dxf(0)
    space.add_lwpolyline([(0, 0), (0.3, 0), (0.3, 0.03), (0, 0.03)], close=True)
    drawing = read(doc, tmp_path)
    assert (drawing.unit, drawing.unit_from) == ("m", "guess")


def test_curves_stay_within_a_hundredth_of_a_millimetre(tmp_path):
    doc, space = new_dxf()
    space.add_ellipse((0, 0), (80, 0), ratio=0.25)
    space.add_lwpolyline([(200, 0, 1.0), (220, 0, 1.0)], format="xyb", close=True)
    space.add_circle((300, 0), 10)
    big, *_ = sorted(parts_of(read(doc, tmp_path)).polygons, key=lambda p: -p.area)
    ellipse = shapely.Polygon([(0.08 * x, 0.02 * y) for x, y in CIRCLE])
    assert far_apart_m(big, ellipse) < 1e-5
    discs = sorted(parts_of(read(doc, tmp_path)).polygons, key=lambda p: p.centroid.x)[1:]
    assert [d.area * 1e6 for d in discs] == pytest.approx([math.pi * 100, math.pi * 100], rel=5e-4)
    assert discs[0].centroid.x == pytest.approx(0.210, abs=1e-6)


def test_a_closed_spline_is_an_outline(tmp_path):
    doc, space = new_dxf()
    space.add_spline().set_closed([(0, 0, 0), (100, -20, 0), (200, 0, 0), (100, 20, 0)], degree=3)
    assert len(parts_of(read(doc, tmp_path)).polygons) == 1


def test_blocks_are_placed_turned_and_take_the_layer_of_their_reference(tmp_path):
    doc, space = new_dxf()
    block = doc.blocks.new("part")
    block.add_lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], close=True)
    space.add_blockref("part", (10, 5), dxfattribs={"layer": "EDGE", "rotation": 90, "xscale": 2})
    drawing = read(doc, tmp_path)
    assert [info.name for info in drawing.layers] == ["EDGE"]
    bounds = np.array(parts_of(drawing).polygons[0].bounds) * 1e3
    assert bounds == pytest.approx([-10, 5, 10, 205], abs=1e-6)


def test_a_polyline_seen_from_below_is_mirrored_as_drawn(tmp_path):
    doc, space = new_dxf()
    space.add_lwpolyline([(0, 0), (-100, 0, 0, 0, -0.5), (-100, 20), (0, 20)], close=True,
                         dxfattribs={"extrusion": (0, 0, -1)})  # fmt: skip
    bounds = np.array(parts_of(read(doc, tmp_path)).polygons[0].bounds) * 1e3
    assert bounds[0] == pytest.approx(0, abs=1e-6) and bounds[2] > 100


@st.composite
def outlines(draw):
    """A star-shaped ring of any wildness about a point, mm."""
    count = draw(st.integers(5, 40))
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    radius = np.array(draw(st.lists(st.floats(2, 120), min_size=count, max_size=count)))
    return [(r * math.cos(a) * 2, r * math.sin(a)) for r, a in zip(radius.tolist(), angle, strict=True)]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(ring=outlines())
def test_outline_to_dxf_and_back_within_a_hundredth_of_a_millimetre(tmp_path, ring):
    doc, space = new_dxf()
    space.add_lwpolyline(ring, close=True)
    first = shape_of(read(doc, tmp_path))
    saved: Outline = first.outline("part.dxf")
    back, again = new_dxf()
    for loop in (saved.exterior, *saved.holes):
        again.add_lwpolyline([(1e3 * x, 1e3 * y) for x, y in loop], close=True)
    returned = parts_of(read(back, tmp_path)).polygons[0]
    assert far_apart_m(returned, first.polygon) < 1e-5
