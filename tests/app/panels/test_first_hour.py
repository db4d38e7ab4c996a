"""What a stranger does in the first hour, each in one or two actions."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from app.fields import ChoiceField, QuantityField, TextField
from app.panels.stations_dialog import StationsDialog
from app.results.results_panel import ResultsPanel
from core.predict.electrics.electrode import LEAST_USE
from core.project import edit, library
from core.project.service import Asked

LEFT = Qt.MouseButton.LeftButton


def texts(field):
    return [field.itemText(i) for i in range(field.count())]


def click(qtbot, root, name):
    qtbot.mouseClick(root.findChild(QPushButton, name), LEFT)


def test_a_pair_is_one_click(panel, session, qtbot):
    before = session.prediction.modes[0].k2
    click(qtbot, panel, "button Pair on the other face")
    patch = session.project.candidate().patches[0]
    assert patch.face == "both" and patch.pair_bending
    assert session.prediction.modes[0].k2 > 1.3 * before
    assert not panel.patch.pair.isVisible()
    session.undo_stack.undo()
    assert session.project.candidate().patches[0].face == "top"


def test_the_strips_material_comes_from_the_library_in_the_list(panel, session, pick):
    field = panel.structure.material.field
    wanted = next(m.name for m in library.materials() if m.name not in texts(field))
    assert f"{wanted} (library)" in texts(field)
    steps = session.undo_stack.count()
    pick(field, wanted)
    assert session.undo_stack.count() == steps + 1
    assert session.project.structure.layers[0].pieces[0].material == wanted
    assert session.project.material(wanted) in library.materials()
    assert wanted in texts(field)
    session.undo_stack.undo()
    assert all(m.name != wanted for m in session.project.materials)


def test_a_layers_material_comes_from_the_library_in_the_table(session, qtbot):
    dialog = StationsDialog(session)
    qtbot.addWidget(dialog)
    column = next(c for c in dialog.pieces.model.columns if c.key == "material")
    wanted = next(key for key, text in column.choices if text.endswith("(library)"))
    index = dialog.pieces.model.index(0, 0)
    assert dialog.pieces.model.setData(index, f"{wanted} (library)")
    dialog.accept()
    assert session.project.structure.layers[0].pieces[0].material == wanted
    assert session.project.material(wanted)


def test_a_package_comes_from_the_library_in_the_list(panel, session, pick):
    field = panel.patch.package.field
    known = {q.name for q in session.project.packages}
    fits = (p for p in library.packages() if p.width_m <= session.project.candidate().patches[0].width_m)
    wanted = next(p for p in fits if p.name not in known)
    assert f"{wanted.name} (library)" in texts(field)
    pick(field, wanted.name)
    patch = session.project.candidate().patches[0]
    assert (patch.package, patch.length_m) == (wanted.name, wanted.length_m)
    assert session.prediction is not None and not session.stale


def test_an_elastic_root_starts_as_a_good_clamp_and_says_what_it_is(panel, session, pick, qtbot, type_into):
    stiff = session.prediction.modes[0].f_short_hz
    pick(panel.findChild(ChoiceField, "field Root support"), "elastic")
    said = panel.structure.clampings["structure.root"].told
    assert said.text() == "50, a good clamp"
    # from memory: a hinged-spring cantilever with k_r L/EI = 50 lies 3.8 % under the clamped one
    assert session.prediction.modes[0].f_short_hz == pytest.approx(0.962 * stiff, rel=0.015)
    firm = panel.structure.firm["structure.root"]
    assert not firm.isVisible()
    type_into(panel.structure.thickness.field, "8")
    assert said.text().endswith("nearly a hinge")
    assert firm.isVisible()
    qtbot.mouseClick(firm, LEFT)
    assert said.text() == "50, a good clamp"


def test_the_words_of_the_column_say_what_they_hold(panel, session):
    names = [row.caption.text().replace("&", "") for s in panel.sections for row in s.form_rows()]
    assert "Packages" not in names and "Attached, cut" not in names
    assert panel.structure.zones.button.text().startswith("1 keep-out") or "datum" in panel.structure.zones.button.text()
    assert names.count("Package") == 1


@pytest.fixture
def across_a_node(session):
    """A patch laid over the place where mode 2 changes the sign of its strain, mode 2 asked for."""
    node = session.prediction.modes[1].strain_nodes_m[0]
    project = session.project
    patch = project.candidate().patches[0]
    moved = msgspec.structs.replace(patch, x_start_m=node - 0.5 * patch.length_m)
    project = edit.with_patch(project, project.active, moved)
    session.apply("Move", edit.with_service(project, asked=Asked(modes=(2,))))
    return session.prediction.modes[1].strain_nodes_m[0]


def test_a_cancelling_electrode_is_said_in_the_results_and_split_by_one_click(session, across_a_node, qtbot):
    results = ResultsPanel(session)
    qtbot.addWidget(results)
    results.show()
    before = session.prediction.modes[1]
    assert before.electrode_use < LEAST_USE
    assert "changes sign under P1" in results.split.words.text()
    qtbot.mouseClick(results.split.button, LEFT)
    first, second = session.project.candidate().patches
    assert first.x_end_m < across_a_node < second.x_start_m
    group = session.project.candidate().groups[0]
    assert [m.polarity for m in group.members] == [1, -1]
    after = session.prediction.modes[1]
    assert not session.stale
    assert after.k2 > 3.0 * before.k2
    assert not results.split.isVisible()


def test_a_clamp_called_good_is_not_offered_to_be_made_one(panel, session, pick, type_into):
    pick(panel.findChild(ChoiceField, "field Root support"), "elastic")
    said, firm = panel.structure.clampings["structure.root"].told, panel.structure.firm["structure.root"]
    for thickness in ("1.2", "1.6", "2", "2.2", "2.6", "3.2", "5"):
        type_into(panel.structure.thickness.field, thickness)
        assert firm.isVisible() != said.text().endswith("a good clamp"), said.text()


def test_a_name_longer_than_its_field_is_read_from_its_beginning(panel, session, qtbot):
    field = panel.findChild(TextField, "field Project name")
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "Forebody of a ski, torsion and bending at a stiff plate")
    assert field.cursorPosition() > 20
    qtbot.keyClick(field, Qt.Key.Key_Tab)
    assert session.project.name.startswith("Forebody of a ski, torsion")
    assert field.cursorPosition() == 0


def test_a_start_beyond_all_measure_is_refused_in_the_field(panel, session, qtbot):
    before = session.project
    field = panel.findChild(QuantityField, "field Starts at")
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "1e308")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert "is 1e308 mm; the most allowed is 100000 mm" in field.error()
    assert session.project is before
