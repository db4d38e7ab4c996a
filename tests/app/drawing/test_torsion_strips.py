"""Modes that twist, as strips among the others."""

import dataclasses

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QImage

from app.drawing.axis import XScale
from app.drawing.describe import hover_text, spoken
from app.drawing.ink import Ink
from app.drawing.mode_strip import paint_mode
from app.drawing.surface import arrangement_of
from app.drawing.view_model import drawing_view
from app.theme import look
from core.predict.predict import predict
from core.project import library
from core.project.edit import with_patch, with_structure, with_view
from tests.app.drawing.written import Writing


def seen(project):
    return drawing_view(project, predict(project), None, None, names=("B1", "B2", "B3", "B4", "B5"))


@pytest.fixture
def bracket():
    return with_structure(library.example("gantry-bracket"), level="across")


def test_they_stand_in_the_order_of_their_frequencies(bracket):
    view = seen(bracket)
    assert [m.name for m in view.modes] == ["B1", "B2", "T1", "B3", "B4", "T2", "B5"]
    assert [m.number for m in view.modes] == [1, 2, 0, 3, 4, 0, 5]
    assert view.asked_flags == (True, False, False, False, False, False, False)
    twist = view.modes[2]
    left, right = twist.edges
    assert np.allclose(left, -right) and np.abs(left).max() == pytest.approx(1.0)
    assert twist.told == "cannot be reached by a centred patch"


def test_a_mode_that_twists_above_those_shown_is_not_drawn(bracket):
    assert [m.name for m in seen(with_view(bracket, modes_shown=2)).modes] == ["B1", "B2"]


def test_sections_that_stay_flat_have_no_such_strip(bracket):
    assert all(m.number for m in seen(with_structure(bracket, level="section")).modes)


def test_it_is_told_under_the_pointer_and_read_aloud(bracket):
    view = seen(bracket)
    page = arrangement_of(view, 900, 1100)
    strip = page.modes[2]
    assert strip.height() > 0
    text = hover_text(view, page, QPointF(page.scale.px(0.26), strip.center().y()), None)
    assert "T1, 433.9 Hz: the part twists" in text and "cannot be reached by a centred patch" in text
    assert "left edge +1.00, right edge −1.00" in text or "left edge 1.00, right edge −1.00" in text
    assert "T1 at 433.9 Hz." in spoken(view)


def test_a_patch_off_the_centreline_says_what_it_does_to_it():
    board = with_structure(library.example("half-board"), level="across")
    patch = board.candidate("A").patches[0]
    aside = with_patch(board, "A", replace(patch, y_m=0.04))
    twist = next(m for m in seen(aside).modes if m.name == "T1")
    assert twist.told.startswith("K² 0.06 %, damping 0.4")


def test_the_window_paints_it(bracket, window, qtbot):
    """Two rows more than modes shown; the page makes room or folds them with their names."""
    window.session.replace(bracket, None)
    window.session.undo_stack.setClean()
    qtbot.waitUntil(lambda: len(window.canvas.surface.view.modes) == 7, timeout=20000)
    surface = window.canvas.surface
    assert [m.name for m in surface.view.modes] == ["B1", "B2", "T1", "B3", "B4", "T2", "B5"]
    assert len(surface.page().modes) == 7
    assert not surface.grab().isNull()


def test_a_mode_that_curves_across_is_drawn_with_its_edges():
    board = with_view(library.example("half-board"), modes_shown=5)
    view = drawing_view(board, predict(board), None, None, names=("B1", "B2", "C1", "B3", "C2"))
    across = next(m for m in view.modes if m.name == "C1")
    left, right = across.chord
    assert left == pytest.approx(right, abs=1e-9)  # a straight centred layout
    middle = np.interp(across.x_m, across.deflection_x_m, across.deflection)
    assert np.abs(left - middle).max() > 0.5 and max(np.abs(left).max(), np.abs(middle).max()) == pytest.approx(1.0, abs=0.01)
    assert all(m.chord is None for m in view.modes if not m.name.startswith("C"))
    page = arrangement_of(view, 900, 1100)
    strip = page.modes[view.modes.index(across)]
    text = hover_text(view, page, QPointF(page.scale.px(0.26), strip.center().y()), None)
    assert "C1 curves across: left edge " in text and "right edge " in text
    assert across.told == "curves across: middle bold, edges thin"


def test_the_bars_name_what_modes_do_and_say_which_are_not_reached(qtbot):
    from app.results.mode_bars import ModeBars
    from core.predict.prediction import twists_among

    board = with_view(library.example("half-board"), modes_shown=3)
    found = predict(board)
    bars = ModeBars()
    qtbot.addWidget(bars)
    bars.show_modes(found.modes, twists_among(found), stale=False, dragging=False)
    rows = bars.sentences()
    assert len(rows) == 5 and rows[3].startswith("T1: the part twists, ") and rows[3].endswith("cannot be reached by a centred patch")
    assert [cells.shorted.split()[0] for cells in bars._cells] == ["B1", "B2", "C1"]
    plain = ModeBars()
    qtbot.addWidget(plain)
    plain.show_modes(found.modes, stale=False, dragging=False)
    assert bars.sizeHint().height() > plain.sizeHint().height()


def test_in_a_low_strip_no_line_strikes_the_words_out(qapp, bracket):
    twist = next(m for m in seen(bracket).modes if m.name == "T1")
    still = dataclasses.replace(twist, edges=(0.0 * twist.edges[0], 0.0 * twist.edges[1]))
    scale, pictures = XScale(80.0, 560.0, bracket.structure.span_m), []
    for mode in (twist, still):
        image = QImage(640, 40, QImage.Format.Format_RGB32)
        image.fill(look.current().panel)
        painter = Writing(image)
        paint_mode(painter, QRectF(80, 4, 480, 25), mode, scale, Ink(look.current(), 1.0), stale=False)
        painter.end()
        box = next(box for text, box in painter.written if text == mode.told)
        pictures.append(image.copy(box.toRect()))
    assert pictures[0] == pictures[1]
    assert pictures[0].width() > 100
