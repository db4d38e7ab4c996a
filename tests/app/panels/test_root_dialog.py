"""The root stiffness from f1 in the window: one action, one undo step, refusals in words."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialogButtonBox, QPushButton

from app.results.facts import service_rows


@pytest.fixture
def dialog(panel, qtbot):
    opened = []
    panel.structure.editor_wanted.connect(lambda name: opened.append(name))
    button = panel.findChild(QPushButton, "button Root stiffness from f1 ...")
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert opened == ["root"]
    found = panel.window().findChild(object, "root editor")
    return found


def ok(dialog):
    return dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)


def test_a_typed_f1_becomes_the_root_in_one_step_and_back(dialog, session, panel, type_into):
    before, f1 = session.project, session.prediction.modes[0].f_short_hz
    assert not ok(dialog).isEnabled()
    type_into(dialog.frequencies[0], f"{0.962 * f1:.4f}")
    assert "f1 −3.8 % against a rigid clamp" in dialog.found_text.text()
    QTest.mouseClick(ok(dialog), Qt.MouseButton.LeftButton)
    assert session.undo_stack.count() == 1
    assert session.project.structure.root.kind == "elastic"
    assert session.prediction.modes[0].f_short_hz == pytest.approx(0.962 * f1, rel=1e-4)
    assert panel.structure.against_rigid.told.text().startswith("f1 −3.")
    session.undo_stack.undo()
    assert session.project == before


def test_above_the_rigid_clamp_is_refused_beside_the_field(dialog, session, type_into):
    type_into(dialog.frequencies[0], f"{1.05 * session.prediction.modes[0].f_short_hz:.4f}")
    assert "above the rigid clamp" in dialog.refusal.problem()
    assert not ok(dialog).isEnabled() and dialog.found_text.text() == ""
    dialog.reject()
    assert session.undo_stack.count() == 0


def test_f2_is_a_check_with_its_answer(dialog, session, type_into):
    modes = session.prediction.modes
    type_into(dialog.frequencies[0], f"{0.962 * modes[0].f_short_hz:.4f}")
    type_into(dialog.frequencies[1], f"{1.03 * modes[1].f_short_hz:.4f}")
    assert "not the root alone" in dialog.checks_text.text()


def test_damping_at_service_swing_is_typed_told_and_taken_back(session, panel, row_of, type_into):
    row = row_of("structure.damping.service_ratios")
    assert row.field.text() == ""
    type_into(row.field, "1.0; 0.8")
    assert session.project.structure.damping.service_ratios == (0.01, 0.008)
    assert [row.name for row in service_rows(session.prediction)][:2] == ["Mode 1 at service swing", "Mode 2 at service swing"]
    assert "dB against small swing" in service_rows(session.prediction)[0].second
    row.field.clear()
    row.field.commit()
    assert session.project.structure.damping.service_ratios == ()
    assert service_rows(session.prediction) == ()
