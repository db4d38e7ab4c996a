"""Tuned masses in the input column: added, tuned, fixed, limited, removed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from core.predict.loads.limit_words import STROKE
from core.project.candidate import Tuning


@pytest.fixture
def section(panel):
    return panel.absorber


def press(qtbot, section, name):
    qtbot.mouseClick(section.findChild(QPushButton, f"button {name}"), Qt.MouseButton.LeftButton)


def absorbers(session):
    return session.project.candidate().absorbers


def test_a_new_one_sits_where_the_mode_served_moves_most_and_can_be_undone(qtbot, panel, session, section):
    assert section.empty.isVisible() and not any(row.isVisible() for row in section.form_rows())
    press(qtbot, section, "Add tuned mass")
    (one,) = absorbers(session)
    assert (one.id, one.x_m, one.tuning) == ("M1", 0.3, Tuning(1, "optimum", "damping"))
    assert one.mass_kg == pytest.approx(0.02 * session.prediction.bare_mass_kg, rel=0.5)
    assert session.problems == () and session.prediction.modes[0].zeta > 0.1
    assert section.heading.text() == "Tuned mass M1" and section.place.field.text() == "300"
    session.undo_stack.undo()
    assert absorbers(session) == () and section.empty.isVisible() and not section.place.isVisible()


def test_the_tab_key_walks_rows_made_later_in_the_order_they_stand(qtbot, panel, session, section):
    press(qtbot, section, "Add tuned mass")
    section.place.field.setFocus()
    for field in (section.mass.field, section.follows.field, section.mode.field, section.rule.field):
        qtbot.keyClick(panel.window().focusWidget(), Qt.Key.Key_Tab)
        assert field.hasFocus()


def test_what_is_typed_is_what_is_predicted(qtbot, panel, session, section, type_into, pick):
    press(qtbot, section, "Add tuned mass")
    type_into(section.mass.field, "3")
    type_into(section.place.field, "25 cm")
    pick(section.follows.field, False)
    fixed = absorbers(session)[0]
    assert fixed.tuning is None
    assert fixed.frequency_hz == pytest.approx(session.prediction.absorbers[0].frequency_hz)
    type_into(section.frequency.field, "18")
    type_into(section.damping.field, "12")
    (one,) = session.prediction.absorbers
    assert (one.mass_kg, one.x_m, one.frequency_hz) == pytest.approx((0.003, 0.25, 18.0))
    assert one.damping_ratio == pytest.approx(0.12)
    assert section.share.told.text().endswith("of mode 1")
    assert section.spring.told.text() and section.damper.told.text()
    assert section.stroke.told.text().endswith(one.size_meaning)


def test_its_rule_is_chosen_as_that_of_a_circuit(qtbot, panel, session, section, pick):
    press(qtbot, section, "Add tuned mass")
    pick(section.mode.field, 2)
    pick(section.rule.field, "closed form")
    pick(section.goal.field, "peak")
    assert absorbers(session)[0].tuning == Tuning(2, "closed form", "peak")
    assert section.frequency_now.isVisible() and not section.frequency.isVisible()
    assert not section.weights.isVisible()
    pick(section.goal.field, "weighted")
    assert section.weights.isVisible()


def test_the_allowed_stroke_is_a_limit_until_it_is_cleared(qtbot, panel, session, section, type_into):
    press(qtbot, section, "Add tuned mass")
    assert section.allowed.field.placeholderText() == "no limit"
    type_into(section.allowed.field, "1")
    assert absorbers(session)[0].allowed_stroke_m == pytest.approx(1e-3)
    assert any(limit.name == STROKE for limit in session.prediction.limits)
    type_into(section.allowed.field, " ")
    assert absorbers(session)[0].allowed_stroke_m is None


def test_a_place_on_the_clamp_is_refused_beside_the_field(qtbot, panel, session, section, type_into, row_of):
    press(qtbot, section, "Add tuned mass")
    type_into(section.place.field, "0")
    panel.tell_problems()
    assert "cannot move" in section.place.field.error()
    assert row_of("candidates[A].absorbers[M1].x_m") is section.place


def test_of_several_one_is_chosen_and_removed(qtbot, panel, session, section, pick):
    press(qtbot, section, "Add tuned mass")
    press(qtbot, section, "Add tuned mass")
    assert [one.id for one in absorbers(session)] == ["M1", "M2"]
    assert section.heading.text() == "Tuned mass M2" and section.chooser.isVisible()
    pick(section.chooser, "M1")
    assert session.selected_absorber == "M1"
    press(qtbot, section, "Delete tuned mass")
    assert [one.id for one in absorbers(session)] == ["M2"]
    assert session.undo_stack.undoText().startswith("Delete tuned mass ")
    assert section.heading.text() == "Tuned mass M2" and not section.chooser.isVisible()


def test_a_problem_elsewhere_brings_it_up(qtbot, panel, session, section):
    press(qtbot, section, "Add tuned mass")
    press(qtbot, section, "Add tuned mass")
    panel.go_to("candidates[A].absorbers[M1].mass_kg")
    assert session.selected_absorber == "M1"
