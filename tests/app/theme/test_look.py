"""The look: contrast, distinct modes, pens in device pixels, one signal for a change."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QColor, QGuiApplication, QPalette

from app.theme import look as looks


def luminance(color: QColor) -> float:
    """Relative luminance after WCAG 2.1."""
    channels = [color.redF(), color.greenF(), color.blueF()]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: QColor, other: QColor) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("look", [looks.light(), looks.dark()], ids=["light", "dark"])
def test_text_and_mode_colours_stand_out_from_the_page(look):
    for page in (look.window, look.panel):
        for ink in (look.text, look.faint_text, look.accent, look.danger, look.caution, look.good):
            assert contrast(ink, page) >= 4.5
        for number in range(1, 9):
            assert contrast(look.mode(number), page) >= 4.0
    assert contrast(look.accent, look.accent_text) >= 4.5


@pytest.mark.parametrize("look", [looks.light(), looks.dark()], ids=["light", "dark"])
def test_eight_modes_differ_in_colour_and_in_dash(look):
    assert len({look.mode(n).name() for n in range(1, 9)}) == 8
    assert len({tuple(look.mode_dash(n)) for n in range(1, 9)}) == 8
    assert look.mode(9) == look.mode(1)
    assert look.candidate("A") != look.candidate("B")


def test_a_change_of_look_is_told_and_sets_the_palette(qtbot):
    before = looks.current()
    try:
        with qtbot.waitSignal(looks.look_changed):
            looks.set_look(looks.dark())
        assert looks.current().is_dark
        assert QGuiApplication.palette().color(QPalette.ColorRole.Window) == looks.dark().window
    finally:
        looks.set_look(before)


def test_a_pen_without_a_widget_has_a_real_width(qapp):
    pen = looks.pen(QColor("red"), 0.35, None, (3.0, 2.0))
    assert not pen.isCosmetic()
    assert pen.widthF() == pytest.approx(0.35)
    assert pen.dashPattern() == [3.0, 2.0]


def test_no_font_is_smaller_than_eleven_pixels(qapp):
    assert looks.font(7).pixelSize() == looks.SMALLEST_TEXT_PX
