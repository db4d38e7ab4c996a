"""Load cases, static forces and temperatures in the input column."""

from __future__ import annotations

import numpy as np
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


def test_a_random_spectrum_is_pasted_as_a_table_and_says_its_level(panel, session, pick, qtbot):
    pick(panel.service.new_kind, "random base")
    table = panel.service.spectrum
    assert table.isVisible()
    block = "80\t0.04\n20\t0.01\n350\t0.04\n2000\t0.007"
    QGuiApplication.clipboard().setText(block)
    table.view.setCurrentIndex(table.model.index(0, 0))
    table.view.setFocus()
    QTest.keyClick(table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    points = session.project.service.loads[-1].spectrum_hz_m2_s3
    assert [f for f, _ in points] == [20.0, 80.0, 350.0, 2000.0]
    assert points[1][1] == pytest.approx(0.04 * 9.80665**2)
    f = np.geomspace(20.0, 2000.0, 20001)
    density = np.exp(np.interp(np.log(f), np.log([20, 80, 350, 2000]), np.log([0.01, 0.04, 0.04, 0.007])))
    mean_square = float((0.5 * (density[1:] + density[:-1]) * np.diff(f)).sum())
    assert float(panel.service.rms.told.text().split()[0]) == pytest.approx(mean_square**0.5, rel=5e-3)
    assert not session.stale
    for row in panel.service.band_rows:
        assert row.isHidden()


@pytest.mark.parametrize("kind, field, text, attribute, value", [
    ("base shock", "Peak", "50", "peak_m_s2", 50.0),
    ("base shock", "Lasting", "6", "duration_s", 0.006),
    ("base step", "Level", "3", "level_m_s2", 3.0),
])
def test_motions_of_the_base_have_their_fields(panel, session, pick, type_into, kind, field, text, attribute, value):
    pick(panel.service.new_kind, kind)
    row = next(r for r in panel.service.by_kind[kind] if r.caption.text() == field)
    type_into(row.field, text)
    assert getattr(session.project.service.loads[-1], attribute) == pytest.approx(value)
    assert not session.stale
