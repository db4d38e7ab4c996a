"""A tuned mass on the drawing: taken with the mouse, moved by keys, deleted, told."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QAction

from app.drawing.describe import hover_text, spoken
from app.drawing.hits import absorber_boxes
from app.drawing.menu import canvas_menu
from core.project.candidate import Absorber
from tests.app.drawing import stand_in
from tests.app.drawing.test_dragging import CTRL, press_key, release_key


@pytest.fixture
def hung(make_bench):
    project = stand_in.project()
    one = Absorber("M1", 0.5 * project.structure.span_m, 0.004, 30.0)
    candidate = replace(project.candidate(), absorbers=(one,))
    kept = tuple(candidate if c.id == candidate.id else c for c in project.candidates)
    return make_bench(replace(project, candidates=kept))


def place(bench):
    return bench.session.project.candidate().absorbers[0].x_m


def middle(bench, view=0):
    return absorber_boxes(bench.surface.view, bench.surface.page())[0][view].center()


@pytest.mark.parametrize("view", [0, 1], ids=["plan", "side"])
def test_the_mouse_moves_it_along_in_one_undo_step(hung, view):
    before, patch = place(hung), hung.patch().x_start_m
    start = middle(hung, view)
    hung.mouse.drag(start, start + QPointF(hung.pixels(0.03), 3), CTRL)
    assert place(hung) == pytest.approx(before + 0.03, abs=2e-4)
    assert hung.session.undo_stack.count() == 1
    assert hung.session.undo_stack.undoText() == "Move tuned mass M1"
    assert hung.session.selected_absorber == "M1" and hung.patch().x_start_m == patch
    hung.session.undo_stack.undo()
    assert place(hung) == before


def test_it_stays_on_the_span_and_escape_takes_it_back(hung):
    before, start = place(hung), middle(hung)
    hung.mouse.press(start)
    hung.mouse.move(start + QPointF(2000, 0), CTRL)
    assert hung.session.shown.candidate().absorbers[0].x_m == hung.session.project.structure.span_m
    press_key(hung.surface, Qt.Key.Key_Escape)
    hung.mouse.release(start)
    assert place(hung) == before and hung.session.undo_stack.count() == 0


def test_keys_move_and_delete_what_was_picked_last(hung):
    before, patch = place(hung), hung.patch().x_start_m
    hung.mouse.press(middle(hung))
    hung.mouse.release(middle(hung))
    press_key(hung.surface, Qt.Key.Key_Right)
    release_key(hung.surface, Qt.Key.Key_Right)
    assert place(hung) == pytest.approx(before + 1e-3) and hung.patch().x_start_m == patch
    at = hung.plan(hung.patch().x_start_m + 0.5 * hung.patch().length_m)
    hung.mouse.press(at)
    hung.mouse.release(at)
    assert hung.session.selected_absorber is None
    press_key(hung.surface, Qt.Key.Key_Right)
    release_key(hung.surface, Qt.Key.Key_Right)
    assert hung.patch().x_start_m == pytest.approx(patch + 1e-3)
    hung.mouse.press(middle(hung))
    hung.mouse.release(middle(hung))
    press_key(hung.surface, Qt.Key.Key_Delete)
    assert hung.session.project.candidate().absorbers == ()
    assert hung.session.undo_stack.undoText() == "Delete tuned mass M1"
    assert hung.session.project.candidate().patches


def test_the_menu_adds_one_there_and_deletes_one(hung):
    def entry(point, text):
        menu = canvas_menu(hung.session, hung.surface, point, hung.surface)
        return next(action for action in menu.findChildren(QAction) if action.text().startswith(text))

    entry(hung.plan(0.1), "Add a tuned mass at").trigger()
    added = hung.session.project.candidate().absorbers[1]
    assert (added.id, added.x_m) == ("M2", pytest.approx(0.1, abs=1e-3))
    assert hung.session.selected_absorber == "M2"
    entry(middle(hung), "Delete tuned mass M1").trigger()
    assert [one.id for one in hung.session.project.candidate().absorbers] == ["M2"]


def test_it_is_told_under_the_pointer_and_read_aloud(hung):
    view, page, at = hung.surface.view, hung.surface.page(), middle(hung)
    text = hover_text(view, page, at, hung.surface.pointer.hit(at))
    assert "Tuned mass M1 4.0" in text and "drag to move" in text
    assert "Tuned mass M1 4.0" in spoken(view)


def test_one_that_moves_too_far_says_so(hung):
    project = hung.session.project
    candidate = project.candidate()
    tight = replace(candidate, absorbers=(replace(candidate.absorbers[0], allowed_stroke_m=1e-9),))
    kept = tuple(tight if c.id == tight.id else c for c in project.candidates)
    hung.session.apply("Less room", replace(project, candidates=kept))
    assert hung.surface.view.absorbers[0].broken
    assert "further than it may" in spoken(hung.surface.view)
