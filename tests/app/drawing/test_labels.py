"""Names on the drawing keep out of each other's way."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from app.drawing.axis import XScale
from app.drawing.ink import Ink
from app.drawing.labels import Labels
from app.drawing.use_arrow import UseArrow, paint_use_arrow
from app.theme import look


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
