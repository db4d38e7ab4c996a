"""Names on the drawing keep out of each other's way."""

from __future__ import annotations

import dataclasses

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Ink
from app.drawing.labels import Labels
from app.drawing.limit_marks import LimitMark
from app.drawing.plan import package_rect, y_scale
from app.drawing.side import section_polygon, z_scale
from app.drawing.surface import arrangement_of
from app.drawing.use_arrow import UseArrow, paint_use_arrow
from app.drawing.view_model import drawing_view
from app.theme import look
from core.predict.predict import predict
from core.project import edit, library
from tests.app.drawing.written import written


@pytest.fixture
def page(qapp):
    image = QImage(400, 120, QImage.Format.Format_ARGB32)
    painter = QPainter(image)
    yield painter
    painter.end()


def test_the_words_of_an_arrow_go_beside_a_name_that_stands_there(page):
    scale, ink = XScale(50.0, 350.0, 0.3), Ink(look.light())
    arrow, side = UseArrow(0.3, True, True, "±8.78 µm", False), QRectF(50, 20, 300, 80)
    free, beside = Labels(), Labels()
    paint_use_arrow(page, side, arrow, 60.0, 80.0, scale, ink, free)
    name = QRectF(free.taken[0])
    beside.keep_off(name)
    paint_use_arrow(page, side, arrow, 60.0, 80.0, scale, ink, beside)
    written = beside.taken[-1]
    assert not written.intersects(name)
    assert written.right() <= name.left() and written.top() == name.top()


def test_names_of_patches_side_by_side_keep_off_each_other_beside_a_broken_limit(qapp):
    """"P1 +" stood on the package of P2, and P2 over the first letter of "camera foot"."""
    project = library.example("gantry-bracket")
    project = edit.add_patch(edit.set_active(project, "A"), "A")
    view = drawing_view(project, predict(project), None, "P2")
    view = dataclasses.replace(view, marks=(LimitMark("P1", "P1 amplifier voltage 156 %", True, 0.05),))
    for width in (560, 640, 800, 1200):
        page = arrangement_of(view, width, 500)
        zs = z_scale(page.side, view.structure, view.patches, page.scale)
        stacks = [section_polygon(p, "top", view.structure, page.scale, zs, "package").boundingRect() for p in view.patches]
        texts = written(view, width, 500)
        names = [box for text, box in texts if text in ("P1 +", "P2 +")]
        assert names
        assert not any(name.intersects(stack) for name in names for stack in stacks)
        ys = y_scale(page.plan, view.structure.widest_m, page.scale)
        packages = [package_rect(patch, page.scale, ys) for patch in view.patches]
        zone = next(box for text, box in texts if text.startswith("camera foot"))
        assert not any(zone.intersects(package) for package in packages), width


@pytest.mark.parametrize("use", ["drive", "sense"])
def test_the_words_of_an_arrow_keep_off_those_of_a_broken_limit(qapp, use):
    """"±37.6 µm" stood on "at 24.1 mm, 1 more"."""
    project = library.example("half-board")
    project = edit.with_view(project, use=use)
    view = drawing_view(project, predict(project), None, "P1")
    assert view.arrow is not None and view.marks
    for height in (420, 500, 600, 800):
        texts = written(view, 480, height)
        arrow = next(box for text, box in texts if text == view.arrow.text)
        others = [box for text, box in texts if text in {m.text for m in view.marks} or text.startswith("at ")]
        assert others and not any(arrow.intersects(box) for box in others), height
