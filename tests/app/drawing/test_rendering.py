"""What is painted: something, in both looks, the same on screen and in the copied picture."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QBuffer, QRectF
from PySide6.QtGui import QGuiApplication, QImage, QPainter

from app.drawing.ink import Ink
from app.drawing.surface import Surface, arrangement_of, paint_drawing
from app.drawing.view_model import drawing_view
from app.theme import look as looks
from core.project.structure import CutOut, KeepOut, Layer
from tests.app.drawing import stand_in


def pixels(image: QImage) -> np.ndarray:
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    flat = np.frombuffer(image.constBits(), dtype=np.uint32)
    rows = flat.reshape(image.height(), image.bytesPerLine() // 4)
    return rows[:, : image.width()].copy()  # the image frees its bits with the function


@pytest.fixture(params=["light", "dark"])
def look(request, qapp):
    before = looks.current()
    looks.set_look({"light": looks.light, "dark": looks.dark}[request.param]())
    yield looks.current()
    looks.set_look(before)


def paint(view, ratio=1.0, width=640, height=700) -> QImage:
    page = arrangement_of(view, width, height)
    image = QImage(int(width * ratio), int(height * ratio), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    with QPainter(image) as painter:
        paint_drawing(painter, view, page, Ink(looks.current(), ratio))
    return image


@pytest.mark.parametrize(
    "change",
    [{"use": "sense"}, {"use": "drive"}, {"unit": "in"}, {"strip": None}, {"strip": None, "use": "sense"}, {"stale": True},
     {"strip_is_old": True}, {"is_tuned": False}],
    ids=str,
)  # fmt: skip
def test_what_stays_while_a_patch_moves_follows_every_other_change(qapp, change):
    """It is a picture kept: of a drawing that changed, it must be that of a drawing shown afresh."""
    first = dataclasses.replace(drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1"), strip=None)
    if change.keys() & {"strip", "strip_is_old"}:
        first = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1")
    then = dataclasses.replace(first, **change)
    shown = [first]
    kept, fresh = Surface(lambda: shown[-1], None), Surface(lambda: then, None)
    for surface in (kept, fresh):
        surface.resize(640, 700)
    before = pixels(kept.grab().toImage())
    shown.append(then)
    kept.invalidate()
    after = pixels(kept.grab().toImage())
    assert np.array_equal(after, pixels(fresh.grab().toImage()))
    assert not np.array_equal(after, before)


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_every_mode_is_painted_in_its_strip_in_its_colour(look, ratio):
    view = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1")
    seen = pixels(paint(view, ratio))
    page = arrangement_of(view, 640, 700)
    for mode, rect in zip(view.modes, page.modes, strict=True):
        box = [int(v * ratio) for v in (rect.top(), rect.bottom(), rect.left(), rect.right())]
        part = seen[box[0] : box[1], box[2] : box[3]] & 0xFFFFFF
        wanted = look.mode(mode.number).rgb() & 0xFFFFFF
        assert (part == wanted).sum() > 100


def test_what_does_not_fit_is_hatched_in_the_danger_colour(look):
    project = stand_in.project()
    view = drawing_view(project, stand_in.prediction(), stand_in.strip(), "P1", stale=True)
    danger = look.danger.rgb() & 0xFFFFFF
    assert not (pixels(paint(view)) & 0xFFFFFF == danger).any()
    candidate = project.candidates[0]
    moved = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=0.2),))
    view = drawing_view(
        replace(project, candidates=(moved,)), stand_in.prediction(), stand_in.strip(), "P1", stale=True
    )
    assert (pixels(paint(view)) & 0xFFFFFF == danger).sum() > 50


def test_without_patch_prediction_or_strip_it_still_paints(look):
    project = stand_in.project()
    empty = replace(project, candidates=(replace(project.candidates[0], patches=(), groups=()),))
    view = drawing_view(empty, None, None, None)
    assert len(np.unique(pixels(paint(view)))) > 5


def test_the_still_picture_is_painted_again_only_when_needed(bench):
    bench.canvas.grab()
    ground = bench.surface._ground
    start = bench.plan(0.05)
    bench.mouse.press(start)
    bench.mouse.move(bench.plan(0.07))
    bench.canvas.grab()
    assert bench.surface._ground is ground
    bench.mouse.release(bench.plan(0.07))
    bench.canvas.resize(700, 760)
    bench.canvas.grab()
    assert bench.surface._ground is not ground


def test_the_copied_picture_is_the_drawing_at_twice_the_size(bench):
    bench.canvas.copy_picture()
    picture = QGuiApplication.clipboard().image()
    assert picture.width() == 2 * bench.surface.width()
    assert len(np.unique(pixels(picture))) > 20


def test_the_same_drawing_goes_into_a_vector_file(qapp):
    svg = pytest.importorskip("PySide6.QtSvg")
    view = drawing_view(stand_in.project(), stand_in.prediction(), stand_in.strip(), "P1")
    page = arrangement_of(view, 640, 700)
    out = QBuffer()
    made = svg.QSvgGenerator()
    made.setOutputDevice(out)
    made.setViewBox(QRectF(0, 0, 640, 700))
    with QPainter(made) as painter:
        paint_drawing(painter, view, page, Ink(looks.light()))
    text = bytes(out.data()).decode()
    assert "Mode 3" in text and "keep clear" in text


def test_the_canvas_scrolls_only_when_the_strips_would_be_illegible(bench):
    assert bench.canvas.verticalScrollBar().maximum() == 0
    bench.canvas.resize(680, 300)
    bench.canvas.grab()
    assert bench.canvas.verticalScrollBar().maximum() > 0
    bench.canvas.verticalScrollBar().setValue(50)
    bench.canvas.fit()
    assert bench.canvas.verticalScrollBar().value() == 0


def test_the_canvas_is_named_and_takes_the_focus(bench):
    assert bench.surface.accessibleName() == "Drawing of the span"
    assert "Patch P1 selected" in bench.surface.accessibleDescription()
    assert bench.canvas.focusProxy() is bench.surface


@pytest.mark.parametrize(
    "change",
    [
        {"stations_m": (0.0,)},
        {"stations_m": (0.0, 0.0)},
        {"stations_m": (0.0, 0.2, 0.1)},
        {"stations_m": (0.0, float("nan"))},
        {"width_m": 0.0},
        {"width_m": (0.03,)},
        {"width_m": ()},
        {"width_m": (0.03, -1.0)},
        {"layers": ()},
        {"layers": (Layer("none", 0.0, ()),)},
        {
            "keep_outs": (
                KeepOut("turned", "both", 0.2, 0.1),
                KeepOut("flat", "top", 0.1, 0.1, ((0.1, 0.0),) * 3),
            )
        },
        {"cut_outs": (CutOut("slot", 0.5, 0.0, length_m=0.0, width_m=-1.0),)},
    ],
    ids=str,
)
def test_an_impossible_structure_is_drawn_as_far_as_it_goes(make_bench, change):
    project = stand_in.project()
    bad = replace(project, structure=replace(project.structure, **change))
    bench = make_bench(project)
    bench.session.apply("Type something", bad)
    picture = bench.canvas.grab().toImage()
    assert bench.session.stale or not bench.session.problems
    assert len(np.unique(pixels(picture))) > 20


def test_an_impossible_patch_is_drawn_as_far_as_it_goes(make_bench):
    bench = make_bench()
    candidate = bench.session.project.candidates[0]
    for change in ({"length_m": 0.0}, {"x_start_m": float("nan")}, {"width_m": -0.01}, {"x_start_m": 99.0}):
        patch = replace(candidate.patches[0], **change)
        moved = replace(candidate, patches=(patch,))
        bench.session.apply("Type something", replace(bench.session.project, candidates=(moved,)))
        assert not bench.canvas.grab().isNull()
        assert bench.session.problems


def test_an_undo_during_a_drag_ends_the_drag(bench):
    candidate = bench.session.project.candidates[0]
    moved = replace(candidate, patches=(replace(candidate.patches[0], x_start_m=0.03),))
    bench.session.apply("Move", replace(bench.session.project, candidates=(moved,)))
    bench.mouse.press(bench.plan(0.06))
    bench.mouse.move(bench.plan(0.08))
    bench.session.undo_stack.undo()
    bench.mouse.move(bench.plan(0.10))
    bench.mouse.release(bench.plan(0.10))
    assert bench.patch().x_start_m == 0.02
    assert bench.session.undo_stack.count() == 1


def test_a_zone_of_the_other_face_is_not_hatched(make_bench):
    """Looked at from the top, a zone that covers the whole underside leaves the plan readable."""
    project = stand_in.project()
    inks = {}
    for face in ("top", "underside"):
        zone = KeepOut("everywhere", face, 0.0, project.structure.span_m)
        bench = make_bench(replace(project, structure=replace(project.structure, keep_outs=(zone,))))
        plan = bench.surface.page().plan.toRect()
        area = plan.adjusted(150, plan.height() // 2 - 12, -150, -(plan.height() // 2 - 4))
        inks[face] = len(np.unique(pixels(bench.surface.grab(area).toImage())))
    assert inks["underside"] < 0.5 * inks["top"]
