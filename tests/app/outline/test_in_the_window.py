"""Dropping a drawing on the window; the patch moved across and turned on the true outline."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent

from app.outline.import_dialog import ImportDialog
from app.outline.state import ImportState
from app.shell.session import Session
from app.shell.settings import Settings
from app.shell.window import MainWindow
from core.outline.readers import read_drawing
from core.project import edit
from tests.app.drawing.conftest import make_bench  # noqa: F401
from tests.app.outline.conftest import OUTLINES
from tests.levels import beam_example

SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


def on_bracket():
    project = ImportState(beam_example("lab-beam"), read_drawing(OUTLINES / "bracket.dxf")).outcome().after
    patch = project.candidate().patches[0]
    moved = replace(patch, x_start_m=0.17, length_m=0.03, width_m=0.012)
    return edit.with_patch(replace(project, candidates=project.candidates[:1]), "A", moved)


def test_a_dropped_drawing_opens_the_preview(qtbot):
    window = MainWindow(Session(beam_example("lab-beam")), Settings())
    window.session.setParent(window)
    qtbot.addWidget(window)
    window.show()
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(OUTLINES / "bracket.dxf"))])
    window.dropEvent(
        QDropEvent(QPointF(9, 9), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, SHIFT)
    )
    (dialog,) = window.findChildren(ImportDialog)
    qtbot.waitUntil(lambda: dialog.state is not None, timeout=20_000)
    dialog.accept()
    assert window.session.project.structure.outline is not None
    window.session.undo_stack.setClean()


def test_shift_drags_the_patch_across_and_plain_dragging_does_not(make_bench):  # noqa: F811
    bench = make_bench(on_bracket())
    assert bench.surface.view.structure.rings_m
    start = bench.plan(0.185, 0.0)
    across = bench.plan(0.185, 0.007)
    bench.mouse.drag(start, across, CTRL)
    assert bench.patch().y_m == 0.0
    bench.mouse.drag(start, across, SHIFT | CTRL)
    assert bench.patch().y_m == pytest.approx(0.007, abs=2e-4)
    assert bench.patch().x_start_m == pytest.approx(0.17, abs=1e-4)
    assert bench.session.undo_stack.undoText() == "Move patch P1"


def test_a_turned_patch_is_taken_hold_of_where_it_is_drawn(make_bench):  # noqa: F811
    project = on_bracket()
    patch = project.candidate().patches[0]
    bench = make_bench(edit.with_patch(project, "A", replace(patch, angle_rad=1.5)))
    hit = bench.surface.pointer.hit(bench.plan(0.185, 0.011))
    assert hit is not None and hit.patch == "P1"
    assert bench.surface.pointer.hit(bench.plan(0.198, 0.0)) is None


def test_over_the_edge_is_shown_and_told(make_bench):  # noqa: F811
    bench = make_bench(on_bracket())
    bench.mouse.drag(bench.plan(0.185), bench.plan(0.185, 0.018), SHIFT | CTRL)
    (patch,) = bench.surface.view.patches
    assert any("over the edge" in collision.text for collision in patch.collisions)
    assert any("hangs over the edge" in problem.message for problem in bench.session.problems)


def test_up_and_down_nudge_across(make_bench):  # noqa: F811
    bench = make_bench(on_bracket())
    keys = bench.surface.keys
    keys.press(Qt.Key.Key_Up, Qt.KeyboardModifier.NoModifier)
    keys.release(Qt.Key.Key_Up)
    assert bench.patch().y_m == pytest.approx(0.001)
    assert bench.session.undo_stack.count() == 1
