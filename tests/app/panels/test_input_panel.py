"""The input column: typing, undo, problems beside their field, following a drag."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLineEdit, QWidget

from app.fields.row import FormRow
from app.panels.bound import ReadOut
from app.panels.paths import replaced_at, value_at

START = "candidates[A].patches[P1].x_start_m"


@pytest.mark.parametrize(("text", "start_m"), [("37.5", 0.0375), ("37,5", 0.0375), ("1.5 in", 0.0381)])
def test_typing_a_start_moves_the_patch_as_one_undo_step(session, row_of, type_into, text, start_m):
    before = session.project
    type_into(row_of(START).field, text)
    assert value_at(session.project, START) == pytest.approx(start_m, abs=1e-12)
    assert session.undo_stack.count() == 1
    assert session.undo_stack.undoText() == "Move patch"
    session.undo_stack.undo()
    assert session.project == before
    assert row_of(START).field.text() == "5"


def test_words_are_refused_beside_the_field_and_nothing_changes(session, row_of, type_into):
    before = session.project
    row = row_of(START)
    type_into(row.field, "abc")
    assert "abc" in row.problem()
    assert row.errors.isVisible()
    assert session.project is before and session.undo_stack.count() == 0
    QTest.keyClick(row.field, Qt.Key.Key_Escape)
    assert row.problem() == "" and row.field.text() == "5"


def test_a_negative_span_is_refused_with_its_bound(session, row_of, type_into):
    row = row_of("structure.stations_m")
    type_into(row.field, "-5")
    assert "−5 mm" in row.problem() and "least allowed is 1 mm" in row.problem()
    assert session.project.structure.span_m == 0.3


def test_off_the_tip_is_told_beside_the_start_and_the_last_good_prediction_stays(session, row_of, type_into):
    good = session.prediction
    row = row_of(START)
    type_into(row.field, "290")
    assert session.stale and session.prediction is good
    assert row.problem() == session.problems[0].message
    assert "P1" in row.problem()
    session.undo_stack.undo()
    assert row.problem() == "" and not session.stale


def test_a_problem_in_a_folded_section_is_listed_and_reached(panel, session):
    panel.patch.set_open(False)
    session.apply("Move patch", replaced_at(session.project, START, 0.29))
    assert panel.problems.isVisible()
    assert panel.problems.texts() == [session.problems[0].message]
    go = panel.problems.findChild(QAbstractButton, f"go to {session.problems[0].path}")
    go.click()
    assert panel.patch.is_open()
    assert not panel.problems.isVisible()
    assert panel._row_of(START).problem() == session.problems[0].message


def test_a_problem_of_a_patch_not_selected_selects_it(panel, session):
    panel.patch.add_patch()
    session.select_patch("P1")
    path = "candidates[A].patches[P2].x_start_m"
    session.apply("Move patch", replaced_at(session.project, path, 0.29))
    panel.problems.findChild(QAbstractButton, f"go to {path}").click()
    assert session.selected_patch == "P2"
    assert panel._row_of(path).problem() == session.problems[0].message


def test_an_elastic_root_shows_its_stiffnesses(panel, session, row_of, pick):
    _, k_t, k_r = panel.structure.root
    assert not k_t.isVisible() and not k_r.isVisible()
    pick(row_of("structure.root.kind").field, "elastic")
    assert session.project.structure.root.kind == "elastic"
    assert k_t.isVisible() and k_r.isVisible()
    root, ei = session.project.structure.root, 70e9 * 0.03 * 0.002**3 / 12
    assert root.k_r_nm_rad == pytest.approx(50 * ei / 0.3, rel=0.05)
    assert not session.stale
    session.undo_stack.undo()
    assert not k_t.isVisible()


def test_the_column_follows_a_drag_without_undo_steps(panel, session, row_of):
    session.preview(replaced_at(session.project, START, 0.1234))
    session._take_turn()
    assert row_of(START).field.text() == "123.4"
    session.cancel_preview()
    assert row_of(START).field.text() == "5"
    assert session.undo_stack.count() == 0


def test_arrow_keys_step_live_and_become_one_undo_step(qtbot, session, row_of):
    field = row_of(START).field
    for _ in range(4):
        QTest.keyClick(field, Qt.Key.Key_Up)
        session._take_turn()
    assert value_at(session.shown, START) == pytest.approx(0.009)
    assert session.undo_stack.count() == 0
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert value_at(session.project, START) == pytest.approx(0.009)
    assert session.undo_stack.count() == 1


def test_the_start_can_be_counted_from_another_datum(panel, session, type_into, pick):
    pick(panel.patch.datum.field, ("tip",))
    assert panel.patch.start.field.text() == "-295"
    assert session.undo_stack.count() == 0
    type_into(panel.patch.start.field, "-200")
    assert value_at(session.project, START) == pytest.approx(0.1, abs=1e-12)


def test_choosing_a_package_takes_its_size(panel, session, pick):
    chosen = session.project.candidate().patches[0].package
    other = next(p for p in session.project.packages if p.name != chosen)
    pick(panel.patch.package.field, other.name)
    patch = session.project.candidate().patches[0]
    assert (patch.package, patch.length_m, patch.width_m) == (other.name, other.length_m, other.width_m)


def test_patches_are_added_duplicated_removed(qtbot, panel, session):
    for text in ("Add", "Duplicate"):
        qtbot.mouseClick(panel.findChild(QWidget, f"button {text}"), Qt.MouseButton.LeftButton)
    assert [p.id for p in session.project.candidate().patches] == ["P1", "P2", "P3"]
    assert session.selected_patch == "P3"
    assert panel.patch.heading.text() == "Patch P3"
    qtbot.mouseClick(panel.findChild(QWidget, "button Delete"), Qt.MouseButton.LeftButton)
    assert [p.id for p in session.project.candidate().patches] == ["P1", "P2"]
    assert all(member.patch != "P3" for g in session.project.candidate().groups for member in g.members)


def test_without_a_patch_the_column_says_what_to_do(panel, session):
    panel.patch.remove()
    assert session.project.candidate().patches == ()
    assert panel.patch.empty.isVisible()
    assert panel.circuit.remark.text() == "no patch selected"


def test_an_origin_is_written_to_the_project(panel, session, row_of):
    from core.project.model import Origin

    mark = row_of("structure.stations_m").mark
    mark.set_origin(Origin("measured", "calliper"))
    assert session.project.origins["structure.stations_m"] == Origin("measured", "calliper")
    assert "measured" in mark.accessibleName() and "calliper" in mark.accessibleName()
    session.undo_stack.undo()
    assert "calliper" not in mark.accessibleName()


def test_the_origin_mark_asks_and_takes_the_answer(panel, session, row_of):
    mark = row_of("structure.damping.ratios").mark
    mark.click()
    dialog = mark.findChild(QWidget, "origin dialog")
    dialog.findChild(QAbstractButton, "origin measured").setChecked(True)
    dialog.source.setText("ring-down of 3 May")
    dialog.accept()
    assert session.project.origins["structure.damping.ratios"].source == "ring-down of 3 May"
    assert session.undo_stack.undoText() == "Change origin of damping ratios"


def test_weighed_mass_shows_the_difference(panel, session, row_of, type_into):
    type_into(row_of("structure.weighed_mass_kg").field, "50")
    assert session.project.structure.weighed_mass_kg == pytest.approx(0.05)
    assert "−2.8 %" in panel.structure.mass.told.text()


def test_damping_ratios_are_a_list(session, row_of, type_into):
    type_into(row_of("structure.damping.ratios").field, "0,3; 0.35; 0.5")
    assert session.project.structure.damping.ratios == pytest.approx((0.003, 0.0035, 0.005))


def test_every_input_has_a_name_for_assistive_tools(panel):
    from PySide6.QtWidgets import QComboBox, QLineEdit

    inputs = [*panel.findChildren(QLineEdit), *panel.findChildren(QComboBox)]
    assert len(inputs) > 40
    nameless = [w.objectName() for w in inputs if not w.accessibleName() and w.isVisibleTo(panel)]
    assert nameless == []


def test_no_two_labels_share_a_mnemonic(panel):
    from collections import Counter

    from PySide6.QtGui import QKeySequence
    from PySide6.QtWidgets import QLabel

    texts = [w.text() for kind in (QLabel, QAbstractButton) for w in panel.findChildren(kind)]
    keys = [QKeySequence.mnemonic(text).toString() for text in texts]
    counted = Counter(key for key in keys if key)
    assert counted and max(counted.values()) == 1
    menu_keys = {f"Alt+{letter}" for letter in "FEVCSH"}
    assert not menu_keys & set(counted)


def test_a_field_being_typed_in_is_taken_in_before_a_save(panel, session, row_of):
    from app.fields.pending import commit_typing

    panel.activateWindow()
    field = row_of(START).field
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "42")
    assert value_at(session.project, START) == 0.005
    commit_typing()
    assert value_at(session.project, START) == pytest.approx(0.042)


def test_a_margin_in_the_clamp_is_a_caution_beside_the_start(panel, session):
    """Predicted, and told: the margin lies past the support, the lead where it is still fits."""
    session.apply("Move patch", replaced_at(session.project, START, 0.0))
    assert session.problems == () and not session.stale
    assert "reaches 4.0 mm past the support" in panel._row_of(START).problem()
    session.undo_stack.undo()
    assert panel._row_of(START).problem() == ""


def test_fields_line_up_with_a_mark_beside_them_and_without(panel):
    """Rows without a mark stood three pixels further to the right."""
    rows = [row for row in panel.findChildren(FormRow) if row.isVisible() and isinstance(row.field, QLineEdit)]
    assert {row.mark is None for row in rows} == {True, False}
    edges = {(row.field.mapTo(panel, QPoint(0, 0)).x(), row.field.width()) for row in rows}
    assert len(edges) == 1


def test_a_field_stays_as_wide_while_something_is_wrong_with_it(panel, session, row_of, type_into):
    row = row_of(START)
    before = (row.field.x(), row.field.width())
    type_into(row.field, "1e9")
    QApplication.processEvents()
    assert row.problem() and (row.field.x(), row.field.width()) == before
    told = [one for one in panel.findChildren(ReadOut) if one.isVisible()]
    fields = {r.field.mapTo(panel, QPoint(0, 0)).x() for r in panel.findChildren(FormRow) if r.isVisible() and isinstance(r.field, QLineEdit)}
    assert told and {one.told.mapTo(panel, QPoint(0, 0)).x() for one in told} == fields
