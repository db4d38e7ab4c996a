"""From an area to stations: exact widths, stated error, holes, halves, doubts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from core.outline.drawing import OutlineError
from core.outline.frame import Frame, suggest, suggest_half, suggest_mirrored
from core.outline.shape import make_shape
from core.outline.stations import choose
from core.outline.width import width_curve

AXIS = Frame((0.0, 0.0), (0.3, 0.0))


def taper(x: float) -> float:
    return 0.02 - 0.04 * (x - 0.1) ** 2


@pytest.mark.parametrize("share", [0.001, 0.005, 0.01])
def test_the_width_between_stations_is_within_the_stated_error(share):
    xs = np.linspace(0, 0.3, 400)
    part = Polygon([*((x, taper(x)) for x in xs), *((x, -taper(x)) for x in xs[::-1])])
    made = make_shape(part, AXIS, share)
    true = np.array([2 * taper(x) for x in np.linspace(0, 0.3, 977)])
    off = np.interp(np.linspace(0, 0.3, 977), made.stations.x_m, made.stations.width_m) - true
    assert np.abs(off).max() <= made.off.width_m + 1e-6
    assert made.error_share <= share
    assert len(made.stations.x_m) <= 4 + 1.2 / math.sqrt(share)


def test_a_rectangle_keeps_two_stations_and_its_exact_width():
    made = make_shape(box(0, -0.015, 0.3, 0.015), AXIS, 0.005)
    assert made.stations.x_m.tolist() == [0.0, 0.3] and made.stations.width_m.tolist() == [0.03, 0.03]
    assert made.error_share < 1e-12 and made.remarks == ()


def test_a_round_hole_becomes_a_cut_out_and_an_odd_one_counts_into_the_width():
    odd = Polygon([(0.2, -0.004), (0.22, 0.0), (0.2, 0.004)])
    part = box(0, -0.02, 0.3, 0.02).difference(Point(0.05, 0.006).buffer(0.005, 64)).difference(odd)
    made = make_shape(part, AXIS, 0.005)
    (hole,) = made.cut_outs
    assert (hole.kind, made.n_in_width) == ("hole", 1)
    assert [hole.x_m, hole.y_m, hole.diameter_m] == pytest.approx([0.05, 0.006, 0.01], abs=2e-6)
    assert np.interp(0.2001, made.stations.x_m, made.stations.width_m) == pytest.approx(0.032, abs=3e-4)


def test_a_slot_along_the_axis_becomes_a_slot():
    made = make_shape(box(0, -0.02, 0.3, 0.02).difference(box(0.1, -0.003, 0.15, 0.003)), AXIS, 0.005)
    (slot,) = made.cut_outs
    assert (slot.kind, slot.length_m, slot.width_m, slot.x_m) == ("slot", 0.05, 0.006, 0.125)


def test_a_step_is_met_from_both_sides():
    part = shapely.union(box(0, -0.02, 0.1, 0.02), box(0.1, -0.01, 0.3, 0.01))
    made = make_shape(part, AXIS, 0.002)
    at = np.interp([0.0999, 0.1001], made.stations.x_m, made.stations.width_m)
    assert at == pytest.approx([0.04, 0.02], abs=1e-6)
    assert any("steps from 40" in remark for remark in made.remarks)


def test_the_clamp_line_and_the_tip_line_cut_off_what_lies_beyond():
    frame = replace(AXIS, clamp_m=0.05, end_m=0.25)
    made = make_shape(box(0, -0.015, 0.3, 0.015), frame, 0.005)
    assert made.span_m == pytest.approx(0.2) and made.polygon.area == pytest.approx(0.2 * 0.03)


def test_the_axis_may_lie_anyhow_on_the_drawing():
    turned = shapely.affinity.rotate(box(0, -0.015, 0.3, 0.015), 37, origin=(1, 2))
    frame = suggest(turned)
    made = make_shape(turned, frame, 0.005)
    assert made.span_m == pytest.approx(0.3, abs=1e-6)
    assert made.stations.width_m == pytest.approx([0.03, 0.03], abs=2e-6)
    there = frame.to_beam(frame.to_drawing(np.array([[0.1, 0.02]])))
    assert there[0] == pytest.approx([0.1, 0.02], abs=1e-12)


def test_the_axis_of_a_bent_part_runs_along_its_leg():
    bent = shapely.union(box(0, 0, 0.24, 0.03), box(0.21, 0, 0.24, 0.16))
    frame = suggest(bent)
    assert [frame.root[1], frame.tip[1]] == pytest.approx([0.015, 0.015])


def test_a_closed_half_is_mirrored_about_its_straight_side():
    half = Polygon([(0, 0), (0.3, 0), (0.3, 0.008), (0.1, 0.02), (0, 0.02)])
    made = make_shape(half, suggest_mirrored(half), 0.005)
    assert made.polygon.area == pytest.approx(2 * half.area)
    assert np.interp([0.05, 0.3], made.stations.x_m, made.stations.width_m) == pytest.approx([0.04, 0.016])


def test_an_open_half_is_closed_by_its_mirror_image():
    from core.outline.frame import half_area

    chain = np.array([(0.0, 0.0), (0.0, 0.02), (0.2, 0.02), (0.3, 0.0)])
    frame = suggest_half(chain)
    made = make_shape(half_area(chain, frame), frame, 0.005)
    assert made.polygon.area == pytest.approx(2 * (0.2 * 0.02 + 0.1 * 0.02 / 2))


def test_a_half_away_from_the_axis_is_refused_in_words():
    with pytest.raises(OutlineError, match=r"5\.0 mm away from the axis"):
        make_shape(box(0, 0.005, 0.3, 0.02), replace(AXIS, mirrored=True), 0.005)


@pytest.mark.parametrize(
    "part, words",
    [
        (shapely.union(box(0, -0.01, 0.3, 0.01), box(0.27, -0.01, 0.3, 0.2)), "L- or gusset-shaped"),
        (box(0, -0.06, 0.3, 0.06), "Span over width is 2.5"),
        (Polygon([(0, -0.01), (0.1, -0.01), (0.13, -0.04), (0.3, -0.04), (0.3, 0.04), (0.13, 0.04),
                  (0.1, 0.01), (0, 0.01)]), "width changes fast"),
        (box(0, -0.01, 0.3, 0.03), "beside the axis"),
        (box(0, -0.02, 0.3, 0.02).difference(box(0.1, -0.005, 0.31, 0.005)), "separate arms"),
    ],
)  # fmt: skip
def test_what_is_no_straight_beam_is_remarked(part, words):
    assert any(words in remark for remark in make_shape(part, AXIS, 0.005).remarks)


@st.composite
def wild_areas(draw):
    """Any union of a few boxes and discs with a few taken out."""
    number = st.integers(-2000, 2000).map(lambda n: n * 1e-4)
    size = st.integers(1, 3000).map(lambda n: n * 1e-4)
    area = Polygon()
    for _ in range(draw(st.integers(1, 5))):
        x, y, w, h = draw(number), draw(number), draw(size), draw(size)
        piece = box(x, y, x + w, y + h) if draw(st.booleans()) else Point(x, y).buffer(w, 16)
        area = area.difference(piece) if draw(st.integers(0, 2)) == 0 else area.union(piece)
    pieces = [p for p in getattr(area, "geoms", [area]) if isinstance(p, Polygon) and p.area > 1e-9]
    return max(pieces, key=lambda p: p.area, default=box(0, 0, 0.1, 0.01))


@settings(max_examples=80, deadline=None)
@given(area=wild_areas(), clamp=st.floats(-0.05, 0.1), share=st.sampled_from([0.002, 0.01]))
def test_any_outline_makes_a_beam_or_says_why_not(area, clamp, share):
    try:
        made = make_shape(area, replace(suggest(area), clamp_m=clamp), share)
    except OutlineError as error:
        assert len(str(error)) > 20
        return
    x, w = made.stations.x_m, made.stations.width_m
    assert x[0] == 0 and (np.diff(x) > 1e-6 - 1e-12).all() and (w > 0).all() and np.isfinite(w).all()
    assert made.curve.area_m2 == pytest.approx(made.polygon.area, rel=1e-6, abs=1e-12)


@given(st.lists(st.floats(0.002, 0.05), min_size=3, max_size=30))
def test_widths_of_a_table_come_back_where_they_were_given(widths):
    x = np.linspace(0, 0.3, len(widths))
    half = np.array(widths) / 2
    curve = width_curve(Polygon([*zip(x, half, strict=True), *zip(x[::-1], -half[::-1], strict=True)]))
    stations = choose(curve, 1e-5)
    assert np.interp(x, stations.x_m, stations.width_m) == pytest.approx(widths, abs=2e-6)
