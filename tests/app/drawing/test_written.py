"""What stands beside the drawing is legible and true."""

from __future__ import annotations

import dataclasses
from itertools import product

import numpy as np
from msgspec.structs import replace

from app.drawing.describe import strip_text
from app.drawing.side import section_polygon, z_scale
from app.drawing.surface import arrangement_of
from app.drawing.view_model import drawing_view
from core.predict.predict import predict
from core.project import edit, library
from core.project.service import StaticForce
from tests.app.drawing import stand_in
from tests.app.drawing.written import painted, written


def view_of(project):
    return drawing_view(project, stand_in.prediction(), stand_in.strip(), "P1", stale=False)


def test_the_floor_of_the_damping_scale_and_the_strain_nodes_are_told_apart(qapp):
    loaded = stand_in.project().service
    assert not loaded.static_forces
    bent = replace(loaded, static_forces=(StaticForce("hung", 2.0),))
    for service in (loaded, bent):
        for height in (560, 620, 700, 900):
            texts = written(view_of(replace(stand_in.project(), service=service)), height=height)
            nodes = next(box for text, box in texts if text == "strain nodes")
            floor = next(box for text, box in texts if text == "inherent")
            others = [box for text, box in texts if text.endswith(" %") and box.right() < floor.right() + 2]
            assert others
            assert not any(box.intersects(floor) for box in (nodes, *others)), (height, nodes, floor)


def test_no_mode_is_called_tuned_where_nothing_is(qapp):
    project = stand_in.project()
    assert "tuned" in [text for text, _ in written(view_of(project))]
    bare = replace(project, candidates=(replace(project.candidates[0], patches=(), groups=()),))
    view = drawing_view(bare, stand_in.prediction(), None, None, stale=False)
    assert not {"tuned", "asked"} & {text for text, _ in written(view)}


def test_the_name_of_a_turned_patch_is_upright_however_the_plan_is_squeezed(qapp):
    project = stand_in.project()
    wide = replace(project.structure, width_m=0.2)
    for angle in (0.35, -0.9, 1.6):
        patch = replace(project.candidates[0].patches[0], angle_rad=angle, x_start_m=0.1)
        turned = replace(project, structure=wide, candidates=(replace(project.candidates[0], patches=(patch,)),))
        painter = painted(view_of(turned))
        assert any("P1" in text for text, _ in painter.written)
        assert painter.distorted == []


def test_a_strip_of_before_says_that_it_is_worked_out(qapp):
    view = view_of(stand_in.project())
    assert any(text.startswith("best ") for text, _ in written(view))
    old = [text for text, _ in written(dataclasses.replace(view, strip_is_old=True))]
    assert "Working it out ..." in old
    assert not any(text.startswith("best ") for text in old)


def test_a_strip_that_is_nothing_where_the_patch_hangs_over_the_edge_is_painted(qapp):
    made = stand_in.strip()
    for values in (made.zeta, made.tension, made.compression):
        values[40:] = np.nan
    made.allowed[40:] = False
    service = replace(stand_in.project().service, static_forces=(StaticForce("hung", 2.0),))
    project = replace(stand_in.project(), service=service)
    view = drawing_view(project, stand_in.prediction(), made, "P1", stale=False)
    texts = [text for text, _ in written(view)]
    assert any(text.startswith("best ") for text in texts)
    assert not any("nan" in text for text in texts)
    assert "nan" not in strip_text(view.strip, float(made.x_start_m[50]))


def test_a_target_that_modes_reach_at_different_places_only_is_no_target_out_of_reach(qapp):
    """Its line said "no place reaches it" right beside the curve of the mode that did."""
    view = view_of(stand_in.project())
    strip = view.strip
    zeta, half = np.full_like(strip.zeta, 0.003), len(strip.zeta) // 2
    zeta[:half, 0], zeta[half:, 1] = 0.008, 0.008
    needed = ((1, 0.005, "−40 % needs 0.50 %"), (2, 0.005, "−40 % needs 0.50 %"))

    def told(**changes):
        shown = dataclasses.replace(view, strip=dataclasses.replace(strip, needed=needed, **changes))
        return next(text for text, _ in written(shown) if "needs" in text)

    everywhere = np.ones_like(strip.allowed)
    assert told(zeta=zeta, allowed=everywhere) == "−40 % needs 0.50 %: no place reaches it on both modes"
    assert told(zeta=np.full_like(zeta, 0.004), allowed=everywhere) == "−40 % needs 0.50 %: no place reaches it"
    assert told(zeta=np.full_like(zeta, 0.006), allowed=everywhere) == "−40 % needs 0.50 %"


def test_what_a_target_needs_is_said_within_the_strip_however_low_its_line_lies(qapp):
    view = view_of(stand_in.project())
    strip = view.strip
    for high in (0.004, 0.02, 0.2):
        zeta = np.full_like(strip.zeta, 0.003)
        zeta[0, 0] = high
        low = dataclasses.replace(strip, zeta=zeta, needed=((1, 0.0033, "−25 % needs 0.33 %"),), allowed=np.ones_like(strip.allowed))
        shown = dataclasses.replace(view, strip=low)
        box = next(box for text, box in written(shown) if "needs" in text)
        rect = arrangement_of(shown, 640, 700).strip
        assert rect.contains(box), (high, rect, box)


def test_what_two_targets_need_is_told_apart(qapp):
    """In a low strip the words of one lay over those of the other, as their lines are ten pixels apart."""
    view = view_of(stand_in.project())
    strip = view.strip
    zeta = np.full_like(strip.zeta, 0.0045)
    zeta[0, :2] = 0.0095
    needed = ((1, 0.0069, "−35 % needs 0.69 %"), (2, 0.0064, "−30 % needs 0.64 %"))
    shown = dataclasses.replace(view, strip=dataclasses.replace(strip, zeta=zeta, needed=needed))
    for width, height in product((480, 560, 590, 640, 900), (480, 560, 700, 900)):
        told = [box for text, box in written(shown, width, height) if "needs" in text]
        assert len(told) == 2 and not told[0].intersects(told[1]), (width, height)
        assert all(arrangement_of(shown, width, height).strip.contains(box) for box in told)


def test_the_worst_limits_in_words_lie_over_no_patch(qapp):
    """In a low side view they hid the patch they speak of."""
    project = library.example("half-board")
    view = drawing_view(project, predict(project), None, "P1")
    assert view.marks
    for height in (500, 520, 600, 800):
        page = arrangement_of(view, 480, height)
        zs = z_scale(page.side, view.structure, view.patches, page.scale)
        stack = section_polygon(view.patches[0], "top", view.structure, page.scale, zs, "package").boundingRect()
        words = [box for text, box in written(view, 480, height) if view.marks[0].text == text]
        assert words and not any(box.intersects(stack.adjusted(0, 2, 0, 0)) for box in words), height


def test_what_a_patch_collides_with_is_read_to_its_end(qapp):
    """'over the hole "front ins' was cut by the edge of the drawing."""
    project = library.example("half-board")
    patch = replace(project.candidate().patches[0], x_start_m=-0.005, y_m=0.04)
    view = drawing_view(edit.with_patch(project, project.active, patch), None, None, "P1", stale=True)
    for width in (420, 500, 600, 900, 1400):
        texts = written(view, width, 700)
        text, box = next((text, box) for text, box in texts if text.startswith("P1: "))
        assert box.right() <= width, width
        assert text.count('"') in (0, 2) or text.endswith("…")
        assert "−5.0" in {text for text, _ in texts}
