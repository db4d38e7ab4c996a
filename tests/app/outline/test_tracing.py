"""A picture, two points of known distance, and the outline clicked corner by corner."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest

from tests.app.outline.conftest import click, drag

CORNERS = ((100, 100), (400, 110), (800, 130), (800, 170), (400, 190), (100, 200))


@pytest.fixture
def photo(tmp_path, qapp):
    image = QImage(900, 300, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    with QPainter(image) as painter:
        painter.setBrush(QColor("gray"))
        painter.drawPolygon([QPointF(*corner) for corner in CORNERS])
    path = tmp_path / "photo.png"
    image.save(str(path))
    return path


def click_px(dialog, x: float, y: float) -> None:
    k = dialog.hand.tracing.m_per_px
    click(dialog, x * k, -y * k)


def trace(dialog) -> None:
    click_px(dialog, 100, 250)
    click_px(dialog, 800, 250)
    dialog.form.distance_typed.emit(0.35)
    for corner in CORNERS:
        click_px(dialog, *corner)


def test_tracing_gives_the_outline_in_metres_within_a_per_cent(open_import, photo):
    dialog = open_import(photo)
    assert dialog.hint.text().startswith("Click the first of two points")
    trace(dialog)
    assert dialog.outcome.after is None
    click_px(dialog, *CORNERS[0])  # the first point again closes it
    made = dialog.outcome.shape
    assert made.span_m == pytest.approx(0.35, abs=1.5e-3)
    true = dict(zip((0.0, 0.15, 0.35), (0.05, 0.04, 0.02), strict=True))
    for x, width in true.items():
        at = min(max(x, 0.0), made.span_m)
        index = abs(made.curve.x_m - at).argmin()
        assert made.curve.width_m[index] == pytest.approx(width, abs=0.01 * 0.05 + 5e-4)


def test_keys_take_points_back_and_close(open_import, photo):
    dialog = open_import(photo)
    trace(dialog)
    QTest.keyClick(dialog.sheet, Qt.Key.Key_Backspace)
    assert len(dialog.hand.tracing.corners) == 5
    QTest.keyClick(dialog.sheet, Qt.Key.Key_Return)
    assert dialog.hand.tracing.closed and dialog.outcome.after is not None
    assert dialog.outcome.after.origins["structure.width_m"].status == "measured"


def test_a_corner_can_be_dragged_afterwards(open_import, photo):
    dialog = open_import(photo)
    trace(dialog)
    dialog.hand.close()
    k = dialog.hand.tracing.m_per_px
    sheet = dialog.sheet
    drag(dialog, sheet.scale.px(400 * k, -190 * k), sheet.scale.px(400 * k, -220 * k))
    assert dialog.hand.tracing.corners[4] == pytest.approx((400, -220), abs=1.5)


def test_a_picture_that_is_none_is_told(open_import, tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"no picture")
    dialog = open_import(tmp_path / "photo.jpg")
    assert "no readable picture" in dialog.trouble.text()
