"""Load cases, static forces and temperatures in the input column."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

from app.panels import edits
from app.panels.edits import load_kind
from app.panels.words import LOAD_KINDS


@pytest.mark.parametrize("kind", [key for key, _ in LOAD_KINDS])
def test_each_kind_of_load_can_be_added_and_removed(panel, session, kind, pick):
    before = session.project.service
    pick(panel.service.new_kind, kind)
    service = session.project.service
    assert load_kind(service.loads[service.active_load]) == kind
    assert session.problems == ()
    for key, rows in panel.service.by_kind.items():
        assert all(row.isVisible() == (key == kind) for row in rows)
    panel.service.remove_load()
    assert session.project.service.loads == before.loads
    session.undo_stack.undo()
    session.undo_stack.undo()
    assert session.project.service == before


def test_a_pasted_block_of_static_forces(panel, session):
    table = panel.service.forces
    QGuiApplication.clipboard().setText("up\t45\t\ndown\t-20,5\t250")
    table.view.setCurrentIndex(table.model.index(0, 0))
    QTest.keyClick(table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    forces = session.project.service.static_forces
    assert [(f.name, f.force_n, f.x_m) for f in forces[:2]] == [("up", 45.0, None), ("down", -20.5, 0.25)]
    assert session.undo_stack.count() == 1


def test_a_bad_force_stays_in_its_cell_with_the_reason(panel, session):
    before = session.project
    table = panel.service.forces
    table.model.setData(table.model.index(0, 1), "much")
    assert "much" in table.errors()[0]
    assert session.project is before


def test_an_upside_down_band_is_told_beside_it(session, row_of, type_into):
    row = row_of("service.loads[0].band_hz")
    type_into(row.field, "9000")
    assert session.stale
    assert row.problem() == session.problems[0].message


def test_output_place_is_tip_when_empty(panel, session, row_of, type_into):
    row = row_of("view.output_x_m")
    type_into(row.field, "120")
    assert session.project.view.output_x_m == pytest.approx(0.12)
    row.field.setFocus()
    row.field.selectAll()
    QTest.keyClick(row.field, Qt.Key.Key_Delete)
    QTest.keyClick(row.field, Qt.Key.Key_Return)
    assert session.project.view.output_x_m is None


def test_strain_and_voltage_ask_for_the_patch_only_where_there_are_several(panel, session, pick, row_of):
    pick(row_of("view.output").field, "voltage")
    assert session.prediction.response.unit.startswith("V")
    assert panel.service.of_patch.isHidden()
    session.apply("Add patch", edits.with_new_patch(session.project)[0])
    assert panel.service.of_patch.isVisible()
    pick(panel.service.of_patch.field, "P2")
    assert "G2" in session.prediction.response.label
