"""What is told about the width is true everywhere along the span, at any angle and any rounding of the file."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon, box

from core.outline import apply
from core.outline.drawing import OutlineError
from core.outline.frame import Frame, suggest
from core.outline.model_plan import net_curve
from core.outline.shape import Shape, make_shape
from core.predict.predict import predict
from core.project import library
from tests.core.outline.test_shape import wild_areas

SPAN_M = 0.3
AXIS = Frame((0.0, 0.0), (SPAN_M, 0.0))
LAB = library.example("lab-beam")


def turned_taper(root_m: float, tip_m: float, degrees: float, decimals: int) -> Polygon:
    """A taper of 300 mm, turned, with its corners rounded to so many decimals of a millimetre."""
    half = 0.5 * np.array([root_m, tip_m])
    corners = np.array([(0, -half[0]), (SPAN_M, -half[1]), (SPAN_M, half[1]), (0, half[0])])
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turned = corners @ np.array([[c, s], [-s, c]]) + np.array([0.123, -0.045])
    return Polygon(np.round(1e3 * turned, decimals) * 1e-3)


@settings(max_examples=150, deadline=None)
@given(
    root=st.floats(0.02, 0.06),
    ratio=st.floats(0.3, 1.0),
    degrees=st.floats(-89.0, 89.0),
    decimals=st.integers(0, 6),
)
def test_a_taper_at_any_angle_and_rounding_keeps_its_width(root, ratio, degrees, decimals):
    part = turned_taper(root, ratio * root, degrees, decimals)
    made = make_shape(part, suggest(part), 0.005)
    rounding = 0.5e-3 * 10.0**-decimals  # of each coordinate
    x = np.linspace(0.003, SPAN_M - 0.003, 200)
    true = np.interp(x, [0, SPAN_M], [root, ratio * root])
    off = np.interp(x, made.stations.x_m, made.stations.width_m) - true
    assert np.abs(off).max() < 3.5 * rounding + 2e-6
    assert made.off.width_m < 1e-6 and made.off.area_share < 1e-3
    assert made.span_m == pytest.approx(SPAN_M, abs=0.1 * root * (decimals == 0) + 4 * rounding + 2e-6)


@pytest.mark.parametrize("decimals", [1, 2, 3, 4, 6])
@pytest.mark.parametrize("degrees", [0.0, 7.3, 30.0, 58.6])
def test_its_first_frequency_is_that_of_the_square_part(degrees, decimals):
    def first(part: Polygon, frame: Frame) -> float:
        after = apply.with_outline(LAB, make_shape(part, frame, 0.002), "taper.dxf")
        return predict(after).modes[0].f_short_hz

    part = turned_taper(0.04, 0.02, degrees, decimals)
    exact = first(Polygon([(0, -0.02), (SPAN_M, -0.01), (SPAN_M, 0.01), (0, 0.02)]), AXIS)
    # f goes with 1/L^2 and with the width at the root
    assert first(part, suggest(part)) == pytest.approx(exact, rel=0.04 * 10.0**-decimals + 1e-4)


@pytest.mark.parametrize("out_of_square_m", [5e-7, 2e-6, 9e-6, 1.5e-5])
@pytest.mark.parametrize("where", ["root", "step", "tip"])
def test_an_edge_out_of_square_by_micrometres_is_an_edge(where, out_of_square_m):
    d = out_of_square_m
    root, step, tip = (d * (where == name) for name in ("root", "step", "tip"))
    part = Polygon(
        [(0, -0.02), (0.1, -0.02), (0.1, -0.01), (SPAN_M - tip, -0.01), (SPAN_M, 0.01), (0.1 + step, 0.01),
         (0.1, 0.02), (root, 0.02)]
    )  # fmt: skip
    made = make_shape(part, AXIS, 0.002)
    at = np.interp([0.0, 0.05, 0.0998, 0.1002, 0.2, SPAN_M], made.stations.x_m, made.stations.width_m)
    assert at == pytest.approx([0.04, 0.04, 0.04, 0.02, 0.02, 0.02], abs=2e-6)
    assert made.off.area_share < 1e-4


def test_a_root_edge_out_of_square_moves_the_clamp_line_to_the_whole_width_and_says_so():
    part = Polygon([(0, -0.02), (SPAN_M, -0.01), (SPAN_M, 0.01), (0.0012, 0.02)])
    made = make_shape(part, suggest(part), 0.005)
    assert made.span_m == pytest.approx(SPAN_M - 0.0012, abs=1e-5)
    assert made.stations.width_m[0] == pytest.approx(0.04, rel=0.01)
    assert any("root edge is 1.2" in remark and "out of square" in remark for remark in made.remarks)


def test_a_clamp_line_through_a_narrow_place_is_remarked():
    pointed = Polygon([(0, 0), (0.02, -0.02), (SPAN_M, -0.02), (SPAN_M, 0.02), (0.02, 0.02)])
    made = make_shape(pointed, AXIS, 0.005)
    assert any("swings as on a hinge" in remark for remark in made.remarks)


def widths_by_cutting(part: Polygon, x: np.ndarray) -> np.ndarray:
    """Net width at each x, by another route: the length of a cut across."""
    cuts = [LineString([(v, -9.0), (v, 9.0)]) for v in x]
    return np.array([shapely.length(part.intersection(cut)) for cut in cuts])


def furthest(made: Shape, x: np.ndarray, reach_m: float = 3e-5) -> float:
    """Largest difference of the model's net width from any drawn one within a reach, at these places."""
    curve = net_curve(made.stations.x_m, made.stations.width_m, made.cut_outs)
    model = np.interp(x, curve.x_m, curve.width_m)
    near = np.stack([widths_by_cutting(made.polygon, x + by) for by in np.linspace(-reach_m, reach_m, 5)])
    low, high = near.min(axis=0), near.max(axis=0)
    # between two cuts the width is straight but at corners, where it is widest or narrowest
    corners = np.unique(shapely.get_coordinates(made.polygon)[:, 0])
    corners = corners[(np.abs(corners[:, None] - x) <= reach_m).any(axis=1)]
    for at in (corners - 1e-9, corners + 1e-9):
        there, within = widths_by_cutting(made.polygon, at)[:, None], np.abs(at[:, None] - x) <= reach_m
        low = np.minimum(low, np.where(within, there, np.inf).min(axis=0, initial=np.inf))
        high = np.maximum(high, np.where(within, there, -np.inf).max(axis=0, initial=-np.inf))
    return float(np.maximum(model - high, low - model).max())


@settings(max_examples=60, deadline=None)
@given(area=wild_areas(), share=st.sampled_from([0.002, 0.01]), seed=st.integers(0, 99))
def test_no_width_is_further_off_than_told(area, share, seed):
    try:
        made = make_shape(area, suggest(area), share)
    except OutlineError:
        return
    x = np.random.default_rng(seed).uniform(5e-5, made.span_m - 5e-5, 60)
    assert furthest(made, x) <= made.off.width_m + 2e-3 * share * made.curve.widest_m + 2e-6
    model = net_curve(made.stations.x_m, made.stations.width_m, made.cut_outs).area_m2
    assert abs(model - made.polygon.area) <= (made.off.area_share + 1e-6) * made.polygon.area


def test_what_the_cut_outs_leave_out_is_told_too():
    hole = Polygon([(0.1, -0.005), (0.11, -0.005), (0.11, 0.005), (0.1, 0.005)])
    made = make_shape(box(0, -0.02, SPAN_M, 0.02).difference(hole), AXIS, 0.005)
    assert len(made.cut_outs) == 1 and made.off.width_m < 1e-6 and made.off.area_share < 1e-5
