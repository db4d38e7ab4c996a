"""The context menu: what it offers where, and what choosing does."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QAction

from app.drawing.menu import canvas_menu
from core.predict.predict import predict


def open_menu(bench, point: QPointF):
    return canvas_menu(bench.session, bench.surface, point, bench.canvas)


def choose(menu, text: str) -> None:
    actions = [action for action in menu.findChildren(QAction) if action.text() == text]
    assert len(actions) == 1, [action.text() for action in menu.findChildren(QAction)]
    actions[0].trigger()


def test_a_patch_is_flipped_duplicated_and_deleted(bench):
    choose(open_menu(bench, bench.plan(0.05)), "Flip P1 to the underside face")
    assert bench.patch().face == "underside"
    choose(open_menu(bench, bench.plan(0.05)), "Duplicate P1")
    ids = [p.id for p in bench.session.project.candidate().patches]
    assert len(ids) == 2 and bench.session.selected_patch == ids[1]
    choose(open_menu(bench, bench.plan(0.05)), "Delete P1")
    assert [p.id for p in bench.session.project.candidate().patches] == ids[1:]
    assert bench.session.undo_stack.count() == 3


def test_polarity_is_switched_in_the_group_and_seen_on_the_patch(bench):
    choose(open_menu(bench, bench.plan(0.05)), "Switch polarity of P1")
    assert bench.session.project.candidate().groups[0].members[0].polarity == -1
    assert bench.surface.view.patches[0].signs == (-1,)


def test_a_patch_is_added_where_the_pointer_is(bench):
    choose(open_menu(bench, bench.plan(0.12)), "Add a patch at 120 mm")
    new = bench.session.selected_patch
    assert new != "P1"
    assert bench.patch(new).x_start_m == pytest.approx(0.12, abs=1e-9)
    assert any(m.patch == new for g in bench.session.project.candidate().groups for m in g.members)


def test_keep_outs_and_datums_are_added_and_deleted(bench):
    choose(open_menu(bench, bench.plan(0.12)), "Add a keep-out at 120 mm on the underside face")
    zone = bench.session.project.structure.keep_outs[-1]
    assert (zone.face, zone.x_start_m, zone.x_end_m) == (
        "underside",
        pytest.approx(0.11),
        pytest.approx(0.13),
    )
    choose(open_menu(bench, bench.plan(0.12)), f"Delete {zone.name}")
    assert zone not in bench.session.project.structure.keep_outs
    choose(open_menu(bench, bench.plan(0.12)), "Add a datum feature at 120 mm")
    assert bench.session.project.structure.datums[-1].x_m == pytest.approx(0.12)


def test_the_best_place_for_a_mode_is_gone_to(bench, qtbot):
    qtbot.waitUntil(lambda: bench.session.strip is not None)
    page = bench.surface.page()
    point = QPointF(page.scale.px(0.15), page.strip.center().y())
    best = bench.session.strip.x_start_m[bench.surface.view.strip.best(2)]
    before = predict(bench.session.project).modes[1].zeta
    choose(open_menu(bench, point), "Mode 2")
    # the place is sought between the strip's samples too
    step = np.diff(bench.session.strip.x_start_m).max()
    assert bench.patch().x_start_m == pytest.approx(best, abs=step)
    assert predict(bench.session.project).modes[1].zeta >= before
