"""The editor windows: draft, live preview, one undo step on OK, nothing on Cancel."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialogButtonBox

from app.panels import library_edits
from app.panels.bare import bare
from app.panels.input_panel import EDITORS
from core.project import library, provenance
from core.project.problems import find_problems
from tests.levels import beam_example, together


def paste(table, text, row, column):
    QGuiApplication.clipboard().setText(text)
    table.view.setCurrentIndex(table.model.index(row, column))
    QTest.keyClick(table.view, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


def press(dialog, which):
    dialog.buttons.button(which).click()


OK, CANCEL = QDialogButtonBox.StandardButton.Ok, QDialogButtonBox.StandardButton.Cancel
BLOCK = "0\t30\t2\n100\t28,5\t1,9\n200\t27\t1,75\n300\t20\t1,5"


@pytest.mark.parametrize("name", list(EDITORS))
def test_opening_and_closing_changes_nothing(panel, session, name):
    before = session.project
    dialog = panel.open_editor(name)
    assert dialog.trouble.problem() == ""
    press(dialog, OK)
    assert session.project == before and session.undo_stack.count() == 0


def test_pasted_stations_are_previewed_and_are_one_undo_step(panel, session):
    before = session.project
    dialog = panel.open_editor("stations")
    paste(dialog.stations, BLOCK, 0, 0)
    assert session.shown.structure.stations_m == pytest.approx((0.0, 0.1, 0.2, 0.3))
    assert session.project is before
    assert "g" in dialog.view.total.told.text()
    press(dialog, OK)
    structure = session.project.structure
    assert structure.width_m == pytest.approx((0.03, 0.0285, 0.027, 0.02))
    assert structure.layers[0].thickness_m == pytest.approx((0.002, 0.0019, 0.00175, 0.0015))
    assert session.undo_stack.count() == 1
    session.undo_stack.undo()
    assert session.project == before


def test_cancel_takes_everything_back(panel, session):
    before = session.project
    dialog = panel.open_editor("stations")
    paste(dialog.stations, BLOCK, 0, 0)
    press(dialog, CANCEL)
    assert session.project is before and session.shown is before
    assert session.undo_stack.count() == 0


def test_a_bad_station_is_told_by_its_row_and_keeps_the_window_open(panel, session):
    dialog = panel.open_editor("stations")
    paste(dialog.stations, "0\t30\n150\twide\n300\t30", 0, 0)
    press(dialog, OK)
    assert dialog.isVisible()
    assert "row 2" in dialog.trouble.problem() and "wide" in dialog.trouble.problem()
    assert session.undo_stack.count() == 0
    press(dialog, CANCEL)


def test_stations_out_of_order_are_told_in_their_cell(panel):
    dialog = panel.open_editor("stations")
    paste(dialog.stations, "0\t30\t2\n300\t30\t2\n150\t30\t2", 0, 0)
    told = [dialog.stations.model.error_at(row, 0) for row in range(3)]
    assert any(told), "the problem belongs to a cell of the first column"
    assert "before" in dialog.view.state.text()
    press(dialog, CANCEL)


def test_layers_are_added_named_moved_and_removed(panel, session, type_into):
    dialog = panel.open_editor("stations")
    dialog.add_layer()
    assert [layer.name for layer in dialog.structure.layers][1] == "layer 2"
    type_into(dialog.name, "skin")
    assert dialog.structure.layers[1].name == "skin"
    assert dialog.layers.item(0).text().startswith("2  skin")
    dialog.move_down()
    assert dialog.structure.layers[0].name == "skin" and dialog.current() == 0
    dialog.remove_layer()
    assert len(dialog.structure.layers) == 1
    dialog.remove_layer()
    assert dialog.structure.layers == ()
    assert "The lay-up is empty" in dialog.trouble.text(), "the patch does not cover the span"
    dialog.add_layer()
    assert len(dialog.structure.layers) == 1 and dialog.current() == 0
    assert dialog.trouble.isHidden()
    press(dialog, CANCEL)


def test_pieces_side_by_side(panel, session):
    dialog = panel.open_editor("stations")
    names = [material.name for material in session.project.materials]
    dialog.pieces.add_row()
    paste(dialog.pieces, f"{names[0]}\t4\t2", 1, 0)
    pieces = dialog.structure.layers[0].pieces
    assert (pieces[1].material, pieces[1].width_m, pieces[1].count) == (names[0], pytest.approx(0.004), 2)
    press(dialog, OK)
    assert session.project.structure.layers[0].pieces == pieces


def test_the_totals_follow_the_draft(panel, session, type_into):
    session.apply("Contract together", together(session.project))  # 3 EI/L^3 is a beam's
    dialog = panel.open_editor("stations")
    beam = bare(session.project)
    assert beam.mass_kg == pytest.approx(0.3 * 0.03 * 0.002 * 2700, rel=1e-9)
    assert beam.tip_stiffness_n_m == pytest.approx(3 * 70e9 * 0.03 * 0.002**3 / 12 / 0.3**3, rel=1e-9)
    assert np.allclose(beam.bending_stiffness_nm2, 70e9 * 0.03 * 0.002**3 / 12)
    assert dialog.view.total.told.text() == "48.6 g"
    type_into(dialog.view.weighed.field, "50")
    assert dialog.view.total.told.text() == "48.6 g (−2.8 %)"
    press(dialog, OK)
    assert session.project.structure.weighed_mass_kg == pytest.approx(0.05)


def test_a_renamed_material_keeps_its_users(panel, session, type_into):
    dialog = panel.open_editor("materials")
    old = session.project.structure.layers[0].pieces[0].material
    dialog.select(old)
    type_into(dialog.name_row.field, "sample 3")
    press(dialog, OK)
    assert session.project.structure.layers[0].pieces[0].material == "sample 3"
    assert session.problems == ()


def test_a_material_constant_with_tolerance_and_status(panel, session, type_into):
    dialog = panel.open_editor("materials")
    dialog.select(session.project.structure.layers[0].pieces[0].material)
    field = dialog.form.findChild(object, "constant Young's modulus")
    type_into(field.value_field, "71,5")
    type_into(field.tolerance, "3")
    type_into(field.source, "tensile test 12")
    press(dialog, OK)
    material = session.project.structure.layers[0].pieces[0].material
    modulus = session.project.material(material).youngs_modulus_pa
    assert (modulus.value, modulus.tolerance) == pytest.approx((71.5e9, 0.03))
    assert modulus.source == "tensile test 12"
    assert session.undo_stack.count() == 1


def test_a_used_material_cannot_be_removed(panel, session):
    dialog = panel.open_editor("materials")
    dialog.select(session.project.structure.layers[0].pieces[0].material)
    assert not dialog.remove_button.isEnabled()
    assert "layer" in dialog.remove_button.toolTip()
    press(dialog, CANCEL)


def test_one_s_own_package_from_a_copy(panel, session, type_into):
    dialog = panel.open_editor("packages")
    dialog.copy_button.click()
    type_into(dialog.name_row.field, "ours")
    field = dialog.form.findChild(object, "constant d31")
    type_into(field.value_field, "-185")
    press(dialog, OK)
    assert session.project.package("ours").ceramic.d31_c_n.value == pytest.approx(-185e-12)
    assert session.problems == ()


def test_a_library_package_brings_its_materials(session):
    for package in library.packages():
        project, name = library_edits.with_package_added(session.project, package)
        known = {material.name for material in project.materials}
        added = project.package(name)
        assert {added.bond.material, added.lower_skin.material, added.upper_skin.material} <= known


def test_patches_get_their_package_s_size_again(panel, session, type_into):
    dialog = panel.open_editor("packages")
    type_into(dialog.form.findChild(object, "field Ceramic length"), "40")
    assert session.shown.candidate().patches[0].length_m == pytest.approx(0.05)
    dialog.renew.click()
    press(dialog, OK)
    assert session.project.candidate().patches[0].length_m == pytest.approx(0.04)


def test_masses_and_cut_outs_are_typed_as_tables(panel, session):
    dialog = panel.open_editor("attachments")
    masses = dialog.findChild(object, "table Masses")
    paste(masses, "camera\t300\t62,5\t0\t0\t0\t-12,5", 0, 0)
    press(dialog, OK)
    (mass,) = session.project.structure.masses
    assert (mass.name, mass.x_m, mass.mass_kg) == ("camera", pytest.approx(0.3), pytest.approx(0.0625))
    assert mass.y_m == pytest.approx(-0.0125)


def test_a_mass_past_the_tip_is_told_in_its_cell(panel):
    dialog = panel.open_editor("attachments")
    masses = dialog.findChild(object, "table Masses")
    paste(masses, "camera\t400\t62,5\t0", 0, 0)
    assert "400" in masses.model.error_at(0, 1)
    press(dialog, CANCEL)


def test_keep_out_corners_and_datums(panel, session):
    dialog = panel.open_editor("zones")
    zones = dialog.findChild(object, "table Keep-outs")
    paste(zones, "logo\ttop\t200\t240\t200; -5; 240; -5; 220; 5", zones.model.rowCount(), 0)
    press(dialog, OK)
    zone = session.project.structure.keep_outs[-1]
    assert zone.polygon_m == (
        pytest.approx((0.2, -0.005)), pytest.approx((0.24, -0.005)), pytest.approx((0.22, 0.005)),
    )  # fmt: skip


def test_an_odd_number_of_corner_numbers_is_refused(panel, session):
    dialog = panel.open_editor("zones")
    zones = dialog.findChild(object, "table Keep-outs")
    paste(zones, "logo\ttop\t200\t240\t200; -5; 240", zones.model.rowCount(), 0)
    assert "3 numbers" in zones.errors()[-1]
    press(dialog, CANCEL)


def test_every_input_can_be_given_its_origin_in_one_table(panel, session):
    before = len(session.prediction.assumed_inputs)
    dialog = panel.open_editor("origins")
    rows = dialog.table.model.rowCount()
    paste(dialog.table, "mine\tmeasured\tscale\n" * (rows + 3), 0, 0)
    assert dialog.table.model.rowCount() == rows
    assert dialog.table.rows()[0]["label"] == "Span and stations", "the input's name is not for typing"
    press(dialog, OK)
    assert before > 0 and session.prediction.assumed_inputs == ()
    assert panel.notes.origins.button.text().startswith("0 assumed")
    session.undo_stack.undo()
    assert len(session.prediction.assumed_inputs) == before


def test_what_was_said_of_an_input_goes_along_with_a_new_name():
    project = beam_example("lab-beam")
    name = project.packages[0].name
    said = provenance.with_origin(project, f"packages[{name}]", "measured", "calliper")
    renamed = library_edits.with_package_renamed(said, name, "my package")
    assert renamed.origins["packages[my package]"].source == "calliper"
    assert f"packages[{name}]" not in renamed.origins


@pytest.mark.parametrize("key", ["lab-beam", "touring-ski", "gantry-bracket", "half-board"])
def test_what_is_new_starts_where_it_is_right(key):
    """A hole clear of packages and keep-outs, a mass at the tip: nothing to mend at once."""
    from app.panels.attachments_dialog import CUT_OUTS, MASSES
    from core.project.edit import with_structure
    from core.project.placement.free_place import free_hole
    from core.project.problems import find_cautions

    project = beam_example(key)
    assert MASSES.start(project)["x_m"] == project.structure.span_m
    assert CUT_OUTS.start(project)["x_m"] == free_hole(project).x_m
    before = find_cautions(project)
    for _ in range(3):
        holes = (*project.structure.cut_outs, free_hole(project))
        project = with_structure(project, cut_outs=holes)
        assert find_problems(project) == () and find_cautions(project) == before


def test_adding_rows_gives_free_names_and_places(panel):
    dialog = panel.open_editor("attachments")
    masses, _, cuts = (table for _, table in dialog._shown)
    masses.model.insert_rows(0)
    masses.model.insert_rows(1)
    cuts.model.insert_rows(0)
    structure = dialog.draft.shown.structure
    assert [(m.name, m.x_m) for m in structure.masses] == [("mass", 0.3), ("mass 2", 0.3)]
    assert len(structure.cut_outs) == 1 and find_problems(dialog.draft.shown) == ()
