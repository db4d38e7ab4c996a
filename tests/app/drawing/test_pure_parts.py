"""The pure parts of the drawing: axis, arrangement, snapping, tracking of modes, view model."""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from app.drawing.arrangement import arrange, least_height
from app.drawing.axis import XScale, nice_step, tick_text, ticks
from app.drawing.describe import hover_text, spoken, strip_text
from app.drawing.dimensions import length_text
from app.drawing.position_strip import blocked_stretches, damping_scale
from app.drawing.refine import refined
from app.drawing.snapping import Feature, Snapper, snapper
from app.drawing.structure_view import structure_view
from app.drawing.surface import arrangement_of
from app.drawing.tracking import follow, mac, on_grid
from app.drawing.view_model import drawing_view, mode_views
from core.predict.fields import strain_nodes
from core.project.structure import Layer, Piece
from tests.app.drawing import stand_in


@given(st.floats(-1.0, 2.0), st.floats(0.01, 3.0))
def test_the_axis_goes_there_and_back(x_m, span_m):
    scale = XScale(78.0, 600.0, span_m)
    assert scale.x(scale.px(x_m)) == pytest.approx(x_m, abs=1e-9)


@given(st.floats(1e-4, 1e4), st.integers(2, 20))
def test_a_nice_step_is_round_and_gives_no_more_parts_than_asked(span, most):
    step = nice_step(span, most)
    assert span / step <= most * (1 + 1e-6)
    assert f"{step:.0e}"[0] in "125"


def test_ticks_include_both_ends_and_are_written_as_their_step_needs():
    assert ticks(0.0, 0.3, 0.1) == pytest.approx([0.0, 0.1, 0.2, 0.3])
    assert tick_text(0.30000000000000004, 0.1) == "0.3"
    assert tick_text(150.0, 50.0) == "150"


@pytest.mark.parametrize("asked", [(), (True,), (True, True, False, False, False), (False,) * 8, (True,) * 8])
@pytest.mark.parametrize(("with_strip", "with_strain"), [(True, True), (True, False), (False, False)])
@pytest.mark.parametrize("size", [(420, 400), (640, 560), (640, 700), (1200, 1100)])
def test_views_are_stacked_without_overlap_and_fill_the_page(size, asked, with_strip, with_strain):
    page = arrange(*size, 0.3, asked, with_strip=with_strip, with_strain=with_strain)
    column = [page.ruler, page.plan, page.dimensions, page.side, page.mode_caption, *page.modes, page.folded]
    column += [page.strip_caption, page.strip, page.strain_caption, page.strain]
    shown = sorted((r for r in column if r.height() > 0), key=lambda r: r.top())
    for above, below in pairwise(shown):
        assert above.bottom() <= below.top() + 1e-9
    least = least_height(asked, with_strip=with_strip, with_strain=with_strain)
    assert page.height >= least - 1e-9
    if page.height > size[1] + 0.5:
        assert page.height == pytest.approx(least)  # it scrolls only where everything is at its floor
    assert page.with_strip is with_strip
    assert (page.strain.height() > 0) is with_strain


@pytest.mark.parametrize("height", [420, 500, 590, 700, 900])
def test_what_is_asked_for_folds_last(height):
    page = arrange(700, height, 0.3, (True, True, False, False, False), with_strain=True)
    asked, other = page.modes[:2], page.modes[2:]
    assert all(r.height() >= 40 for r in asked)
    assert page.strip.height() >= 52
    assert page.plan.height() >= 50
    assert page.strain.height() >= 36
    heights = {round(r.height(), 6) for r in other}
    assert len(heights) == 1
    assert max(heights) < asked[0].height()
    assert (page.folded.height() > 0) is (max(heights) == 0)


def test_a_page_of_1280_by_800_keeps_a_strip_for_every_mode_and_drops_the_legend():
    page = arrange(600, 706, 0.3, (True, True, False, False, False), with_strain=True)
    assert page.mode_caption.height() == 0
    assert all(r.height() >= 22 for r in page.modes)
    assert page.height <= 706.5


def test_the_nearest_feature_within_reach_wins():
    snap = Snapper((Feature(0.10, "hole"), Feature(0.20, "pin")), 0.004)
    assert snap.shift(0.103, 0.199) == (pytest.approx(0.001), Feature(0.20, "pin"))
    assert snap.shift(0.15) == (0.0, None)


def test_a_patch_does_not_snap_to_a_keep_out_of_the_other_face():
    structure = stand_in.project().structure
    top = snapper(structure, ("top",), 1e-3)
    under = snapper(structure, ("underside",), 1e-3)
    assert {f.name for f in top.features} - {f.name for f in under.features} == {"edge of keep clear"}


def test_modes_that_cross_keep_their_names():
    shapes = stand_in.shapes(4)
    crossed = shapes.deflection[[0, 2, 1, 3]] * -1.0
    like = mac(on_grid(shapes.x_m, shapes.deflection), on_grid(shapes.x_m, crossed))
    assert follow((1, 2, 3, 4), like) == (1, 3, 2, 4)


def test_a_small_change_on_another_grid_changes_no_name():
    old, new = stand_in.shapes(5, 151, span=0.3), stand_in.shapes(5, 87, span=0.31)
    like = mac(on_grid(old.x_m, old.deflection), on_grid(new.x_m, new.deflection))
    assert follow((1, 2, 3, 4, 5), like) == (1, 2, 3, 4, 5)
    assert follow((2, 1, 3, 4, 5), like) == (2, 1, 3, 4, 5)


def test_an_extra_mode_takes_an_unused_name():
    old, new = stand_in.shapes(3), stand_in.shapes(4)
    names = follow((1, 3, 2), mac(on_grid(old.x_m, old.deflection), on_grid(new.x_m, new.deflection)))
    assert names == (1, 3, 2, 4)


def test_strain_nodes_of_a_cantilever():
    """Curvature zeros of the clamped-free beam mirror its displacement nodes (Blevins 1979, table 8-1)."""
    shapes = stand_in.shapes(3, 601)
    assert strain_nodes(shapes)[0] == ()
    assert np.array(strain_nodes(shapes)[1]) / 0.3 == pytest.approx([0.2166], abs=2e-4)
    assert np.array(strain_nodes(shapes)[2]) / 0.3 == pytest.approx([0.1323, 0.4965], abs=2e-4)


def test_a_layer_that_stops_is_drawn_where_it_is():
    structure = stand_in.project().structure
    rib = Layer(
        "rib", 0.002, (Piece("aluminium", start_m=0.05, end_m=0.10), Piece("aluminium", 0.01, start_m=0.2))
    )
    view = structure_view(replace(structure, layers=(*structure.layers, rib)))
    ribs = [piece for piece in view.pieces if piece.name == "rib"]
    assert [(p.x_m[0], p.x_m[-1]) for p in ribs] == [(0.05, 0.10), (0.2, 0.3)]
    assert view.thickest_m == pytest.approx(0.005)


def test_lengths_keep_the_decimals_they_have():
    assert [length_text(x) for x in (0.06, 0.0375, 0.00612, 0.0061234)] == ["60.0", "37.5", "6.12", "6.123"]


def test_blocked_starts_are_stretches_and_say_why():
    view = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1")
    (stretch,) = blocked_stretches(view.strip)
    assert stretch == pytest.approx((0.17, 0.20), abs=0.005)
    assert "not allowed: over keep clear" in strip_text(view.strip, 0.185)
    assert "mode 1: " in strip_text(view.strip, 0.05) and "not allowed" not in strip_text(view.strip, 0.05)
    assert view.strip.best(1) == 0


def test_a_strip_without_an_allowed_place_has_no_best():
    strip = stand_in.strip()
    strip.allowed = np.zeros_like(strip.allowed)
    view = drawing_view(stand_in.project(), stand_in.prediction(), strip, "P1")
    assert view.strip.best(1) is None


def test_hovering_a_mode_tells_x_and_the_curves():
    view = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1")
    page = arrangement_of(view, 640, 700)
    text = hover_text(view, page, page.modes[1].center(), None)
    assert text.startswith("x = 150.0 mm\nMode 2")
    assert "strain nodes at 65." in text


def test_the_drawing_in_words_names_selection_and_modes():
    text = spoken(drawing_view(stand_in.project(), stand_in.prediction(), None, "P1"))
    assert "Patch P1 selected, on the top face, from 20.0 to 80.0 mm of 300.0 mm." in text
    assert "Mode 1 at 27.40 Hz." in text


def test_a_pair_shows_opposite_signs_on_its_faces():
    project = stand_in.project()
    candidate = project.candidates[0]
    pair = replace(candidate.patches[0], face="both")
    view = drawing_view(replace(project, candidates=(replace(candidate, patches=(pair,)),)), None, None, "P1")
    assert view.patches[0].faces == ("top", "underside")
    assert view.patches[0].signs == (1, -1)


def test_refining_a_cubic_gives_the_cubic_and_leaves_repeated_x_out():
    x = np.array([0.0, 0.3, 0.3, 0.5, 1.0])
    cubic, bend = 2 * x**3 - x, 12 * x
    fine_x, fine = refined(x, np.stack([cubic, -cubic]), np.stack([bend, -bend]), longest_m=0.1)
    assert (np.diff(fine_x) > 0).all() and np.diff(fine_x).max() <= 0.1 + 1e-12
    assert len(fine_x) == 3 + 2 + 5 + 1
    assert fine[0] == pytest.approx(2 * fine_x**3 - fine_x, abs=1e-12)
    assert fine[1] == pytest.approx(-fine[0], abs=1e-15)


@pytest.mark.parametrize(
    ("least", "most", "inherent", "low"),
    [(0.003, 0.04, 0.003, 0.3), (0.0061, 0.008, 0.006, 0.6), (0.002, 0.008, 0.003, 0.2)],
)
def test_the_damping_scale_stands_on_the_inherent_damping_or_on_what_is_less(least, most, inherent, low):
    strip = stand_in.strip()
    strip.zeta = least + (most - least) * (strip.zeta - strip.zeta.min()) / np.ptp(strip.zeta)
    view = drawing_view(stand_in.project(), stand_in.prediction(), strip, "P1")
    shown = damping_scale(dataclasses.replace(view.strip, inherent=inherent), 150.0)
    assert shown.low == pytest.approx(low)
    assert shown.low <= 100 * least < 100 * most <= shown.high


def test_a_target_near_enough_is_on_the_scale_and_one_far_off_does_not_flatten_the_curves():
    strip = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1").strip
    most = 100 * float(strip.zeta.max())
    plain = damping_scale(strip, 150.0)
    near = damping_scale(dataclasses.replace(strip, needed=((1, 0.015 * most, "+1"),)), 150.0)
    assert near.high >= 1.5 * most
    far = damping_scale(dataclasses.replace(strip, needed=((1, 0.5, "+1"),)), 150.0)
    assert far == plain


def test_rounding_is_not_shown_as_an_effect_of_the_place():
    strip = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1").strip
    noise = 0.0015 * (1 + 1e-9 * np.sin(np.arange(strip.zeta.size))).reshape(strip.zeta.shape)
    flat = dataclasses.replace(strip, zeta=noise)
    assert strip.best(1) is not None and flat.best(1) is None
    shown = damping_scale(flat, 130.0)
    assert shown.high - shown.low > 0.05  # not the scale of the rounding


def test_a_mode_keeps_its_name_while_a_drag_crosses_it_with_another():
    told = mode_views(stand_in.prediction(), 3, (1, 3, 2), ("B1", "C1", "B2"))
    assert [(mode.number, mode.name) for mode in told] == [(1, "B1"), (2, "B2"), (3, "C1")]
    assert [mode.name for mode in mode_views(stand_in.prediction(), 3)] == ["", "", ""]
